// Nothing sticks out of the page, no word of a drawing is cut off or lies on another.
import {it} from "node:test";
import assert from "node:assert/strict";
import {open, pages, runs, sheets, topic} from "./browser.mjs";

/// Words of drawings that are cut off by their drawing's edge, or lie on another of it.
const clashes = (page, selector) => page.evaluate((drawings) => {
  const out = [];
  for (const svg of document.querySelectorAll(drawings)) {
    const edge = svg.getBoundingClientRect();
    if (!edge.width) continue;
    const texts = [...svg.querySelectorAll("text")].filter((e) => e.getClientRects().length && e.textContent.trim())
      .map((e) => ({e, box: e.getBoundingClientRect()}));
    const name = svg.getAttribute("class");
    for (const {e, box} of texts) {
      if (box.left < edge.left - 1 || box.right > edge.right + 1 || box.top < edge.top - 1 || box.bottom > edge.bottom + 1) {
        out.push(`${name}: "${e.textContent}" is cut off`);
      }
    }
    // A line of text has air above and below its letters; a turned one has it left and right.
    const ink = ({e, box}) => {
      const turned = /rotate/.test(e.getAttribute("transform") || "");
      const [x, y] = turned ? [box.width * 0.18, 0.5] : [0.5, box.height * 0.18];
      return {left: box.left + x, right: box.right - x, top: box.top + y, bottom: box.bottom - y};
    };
    texts.forEach((one, i) => texts.slice(i + 1).forEach((other) => {
      const a = ink(one), b = ink(other);
      if (a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom) {
        out.push(`${name}: "${one.e.textContent}" lies on "${other.e.textContent}"`);
      }
    }));
  }
  return [...new Set(out)];
}, selector);

topic("layout", () => {
  for (const name of [...pages, ...sheets]) {
    for (const width of [400, 800, 1280, 1600]) {
      it(`${name} at ${width} px: no wider than the window`, () => open(name, async (page) => {
        for (const system of name.startsWith("sheet") ? [null] : ["us", "si"]) {
          if (system) await page.locator(`#switches input[value=${system}]`).check({force: true});
          await page.evaluate(() => document.querySelectorAll("details").forEach((e) => { e.open = true; }));
          const {wide, room, beyond} = await page.evaluate(() => ({wide: document.documentElement.scrollWidth,
            room: document.documentElement.clientWidth,
            // What a box cuts off is not seen in the width of the page.
            beyond: [...document.querySelectorAll("body *")].filter((e) => {
              const box = e.getBoundingClientRect();
              return box.width && box.right > innerWidth + 1
                && !e.closest(".table, .scroll, .wide, pre, .skip, svg");
            }).map((e) => e.outerHTML.slice(0, 90))}));
          assert.ok(wide <= room, `${wide} px`);
          assert.deepEqual(beyond, []);
        }
      }, {width}));
    }
    for (const width of [400, 1280]) {
      it(`${name} at ${width} px: words of drawings stand free`, () => open(name, async (page) => {
        if (name.startsWith("sheet")) {
          assert.deepEqual(await clashes(page, "svg"), []);
          return;
        }
        const drawings = "svg.waterfall, svg.strip, svg.section, svg.tightening, svg.over";
        const found = [];
        for (const system of ["us", "si"]) {
          await page.locator(`#switches input[value=${system}]`).check({force: true});
          for (const at of runs.includes(name) ? [0, 3, null] : [null]) {
            const slider = page.locator(".slider input");
            if (runs.includes(name)) await slider.fill(String(at ?? await slider.getAttribute("max")));
            found.push(...await clashes(page, drawings));
          }
        }
        assert.deepEqual([...new Set(found)], []);
      }, {width}));
      it(`${name} at ${width} px, without script: words of drawings stand free`, () => open(name, async (page) => {
        assert.deepEqual(await clashes(page, "svg"), []);
      }, {width, script: false}));
    }
  }
  it("cards of half the width come in pairs, of a third in threes", async () => {
    for (const name of pages) {
      await open(name, async (page) => {
        const gaps = await page.evaluate(() => {
          const rows = new Map();
          const room = document.querySelector("main").clientWidth;
          for (const card of document.querySelectorAll("main > section")) {
            const box = card.getBoundingClientRect();
            rows.set(box.top, (rows.get(box.top) || 0) + box.width);
          }
          return [...rows.values()].filter((width) => width < 0.9 * room).length;
        });
        assert.equal(gaps, 0, name);
      });
    }
  });
});
