// Every control is reached by Tab, shows that it is, and stands in sight; the choices answer to arrow keys.
import {it} from "node:test";
import assert from "node:assert/strict";
import {open, pages, topic} from "./browser.mjs";

/// Charts answer to keys and tables scroll by them, so these must be reached too, whatever they say of themselves.
const controls = "a[href], button, input, select, summary, [tabindex='0'], .live-chart, .table";

topic("keyboard", () => {
  for (const name of pages) {
    for (const dark of [false, true]) {
      it(`${name}: Tab reaches every control and shows it, ${dark ? "dark" : "light"}`, () => open(name, async (page) => {
        const wanted = await page.evaluate((selector) => {
          // Of a group of radio buttons Tab finds the chosen one.
          window.wanted = [...document.querySelectorAll(selector)].filter((e) => e.checkVisibility()
            && !(e.type === "radio" && !e.checked));
          return window.wanted.length;
        }, controls);
        assert.ok(wanted > 8);
        const reached = new Set();
        for (let i = 0; i < wanted + 3; ++i) {
          await page.keyboard.press("Tab");
          const one = await page.evaluate(() => {
            const e = document.activeElement;
            if (e === document.body) return null;
            const shown = e.type === "radio" ? e.parentElement : e;
            const style = getComputedStyle(shown);
            const box = shown.getBoundingClientRect();
            const bar = document.querySelector(".slider")?.getBoundingClientRect();
            const covered = bar && !e.closest(".slider") && box.top < bar.bottom && box.bottom > bar.top + 1
              && box.height < innerHeight / 2 && e.closest("[data-moments]");
            return {at: window.wanted.indexOf(e), html: e.outerHTML.slice(0, 90), outline: style.outlineStyle,
              wide: parseFloat(style.outlineWidth), covered: Boolean(covered),
              seen: box.width > 0 && box.bottom > 0 && box.top < innerHeight};
          });
          if (!one) continue;
          assert.ok(one.at >= 0, "not expected: " + one.html);
          assert.ok(one.outline !== "none" && one.wide >= 2, "focus not to be seen: " + one.html);
          assert.ok(one.seen && !one.covered, "out of sight: " + one.html);
          reached.add(one.at);
        }
        const missed = await page.evaluate((seen) => window.wanted.filter((_, i) => !seen.includes(i))
          .map((e) => e.outerHTML.slice(0, 90)), [...reached]);
        assert.deepEqual(missed, []);
      }, {dark}));
    }
    it(`${name}: every control has a name`, () => open(name, async (page) => {
      assert.deepEqual(await page.evaluate((selector) => [...document.querySelectorAll(selector)].filter((e) =>
        e.checkVisibility() && !(e.getAttribute("aria-label") || e.labels?.[0]?.textContent || e.textContent).trim())
        .map((e) => e.outerHTML.slice(0, 90)), controls), []);
    }));
  }
  it("arrow keys turn the choices", () => open("retorque", async (page) => {
    const pressed = async (selector, key) => {
      await page.locator(selector).first().focus();
      await page.keyboard.press(key);
    };
    await pressed("#switches input[value=si]", "ArrowRight");
    assert.match(await page.locator(".key .value").first().textContent(), / lbf$/);
    await pressed("#switches input[value=us]", "ArrowLeft");
    assert.match(await page.locator(".key .value").first().textContent(), / kN$/);
    await pressed("#switches input[value=time]", "ArrowRight");
    assert.match(await page.locator("[data-chart=clamp] .live-head .muted").textContent(), /distance driven/);
    await pressed(".choice input[value=weakest]", "ArrowRight");
    assert.match(await page.locator(".whose").textContent(), /^Mean of the studs/);
    await pressed("[data-chart=clamp] .live-keys input", "Space");
    assert.equal(await page.locator("[data-chart=clamp] .live-keys input").first().isChecked(), false);
    await pressed("summary", "Enter");
    assert.ok(await page.locator("details").first().evaluate((e) => e.open));
  }));
});
