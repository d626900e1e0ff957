// On paper: A4 pages in ink on white with all their tables; the sheet is one page.
import {it} from "node:test";
import assert from "node:assert/strict";
import {open, pages, runs, sheets, topic} from "./browser.mjs";

/// Sizes of a PDF's pages [pt].
const sizes = (pdf) => [...pdf.toString("latin1").matchAll(/\/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)\s*\]/g)]
  .map((m) => [Number(m[1]), Number(m[2])]);
const paper = {A4: [595.28, 841.89], Letter: [612, 792]};
function assertSize(all, format) {
  for (const size of all) {
    size.forEach((v, i) => assert.ok(Math.abs(v - paper[format][i]) < 1.5, `${size} for ${format}`));
  }
}

topic("print", () => {
  for (const name of pages) {
    it(`${name}: prints on A4, with details open`, () => open(name, async (page) => {
      await page.evaluate(() => {
        const states = () => [...document.querySelectorAll("details.print")].map((e) => e.open);
        addEventListener("beforeprint", () => { window.printed = states(); });
        window.states = states;
      });
      const pdf = await page.pdf({format: "A4", printBackground: false});
      const all = sizes(pdf);
      assert.ok(all.length >= 2 && all.length <= 12, `${all.length} pages`);
      assertSize(all, "A4");
      assert.ok(pdf.length > 20000);
      const printed = await page.evaluate(() => window.printed);
      assert.ok(printed.every((open) => open) && (!runs.includes(name) || printed.length >= 3), JSON.stringify(printed));
      assert.ok((await page.evaluate(() => window.states())).every((open) => !open), "left open");
    }));
    it(`${name}: on paper the drawings stand for the live charts, in ink on white`, () => open(name, async (page) => {
      await page.emulateMedia({media: "print"});
      const look = await page.evaluate(() => ({
        ground: getComputedStyle(document.documentElement).backgroundColor,
        card: getComputedStyle(document.querySelector(".card")).backgroundColor,
        ink: getComputedStyle(document.body).color.match(/\d+/g).map(Number),
        live: [...document.querySelectorAll(".live, #switches, nav, .slider, .choice")].filter((e) => e.getClientRects().length).length,
        drawn: [...document.querySelectorAll(".static svg, .sized svg")].map((e) => e.getBoundingClientRect().height),
        wide: document.documentElement.scrollWidth, room: document.documentElement.clientWidth
      }));
      assert.equal(look.ground, "rgb(255, 255, 255)");
      assert.equal(look.card, "rgb(255, 255, 255)");
      assert.ok(Math.max(...look.ink) < 110, `ink ${look.ink}`);
      assert.equal(look.live, 0);
      assert.ok(look.drawn.length && look.drawn.every((high) => high > 150));
      assert.ok(look.wide <= look.room + 1, `${look.wide} px on a page of ${look.room} px`);
    }, {dark: true, width: 718})); // 190 mm, what the margins leave of A4
  }
  for (const name of sheets) {
    for (const format of ["A4", "Letter"]) {
      it(`${name}: one page of ${format}`, () => open(name, async (page) => {
        const pdf = await page.pdf({format, preferCSSPageSize: true, printBackground: true});
        assert.equal(sizes(pdf).length, 1);
        assertSize(sizes(pdf), format);
      }, {dark: true}));
    }
  }
});
