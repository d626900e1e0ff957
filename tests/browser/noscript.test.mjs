// A page reads without script; with it nothing is said that is no value.
import {it} from "node:test";
import assert from "node:assert/strict";
import {agrees, open, pages, plan, runs, sheets, single, studies, study, table, topic} from "./browser.mjs";

/// Texts that people or their readers of the screen meet, and that no program should show.
const nonsense = (page) => page.evaluate(() => {
  const bad = /\b(NaN|undefined|null|Infinity|inf|nan)\b|\[object/;
  const out = [];
  for (const e of document.body.querySelectorAll("*:not(script):not(style)")) {
    for (const node of e.childNodes) if (node.nodeType === 3 && bad.test(node.data)) out.push(node.data);
    for (const {name, value} of e.attributes) if (bad.test(value)) out.push(`${name}="${value}"`);
  }
  return out;
});
const visible = (page, selector) => page.locator(selector).evaluateAll((all) =>
  all.filter((e) => e.checkVisibility()).map((e) => e.outerHTML.slice(0, 120)));

topic("noscript", () => {
  for (const name of [...pages, ...sheets]) {
    it(`${name}: no word of the program's`, () => open(name, async (page) => {
      assert.deepEqual(await nonsense(page), []);
      if (sheets.includes(name)) return;
      await page.locator("#switches input[value=us]").check({force: true});
      if (runs.includes(name)) await page.locator(".slider input").fill("0");
      if (await page.locator(".live-chart").count()) await page.locator(".live-chart").first().press("Home");
      assert.deepEqual(await nonsense(page), []);
    }));
  }
  for (const name of pages) {
    it(`${name}: reads without script`, () => open(name, async (page) => {
      assert.deepEqual(await visible(page, "input, button, select, fieldset, output, .slider, .choice, .switches"), []);
      assert.deepEqual(await nonsense(page), []);
      // Cautions twice: with the finding and at the end.
      for (const box of ["#finding .cautions", "footer"]) {
        const text = await page.locator(box).innerText();
        for (const caution of ["not a release to service", "Follow the instructions of the vehicle maker", "Never skip a re-check"]) {
          assert.ok(text.includes(caution), `${box}: ${caution}`);
        }
      }
      const finding = page.locator("#finding");
      if (runs.includes(name)) {
        const lowest = Math.min(...table(name, "clamp_cold").map((row) => row.clamp_cold));
        const values = await finding.locator(".key .value").allTextContents();
        agrees(values[0], lowest, "force", "si");
        agrees(values[1], single(name, "joint/required_clamp"), "force", "si");
        assert.equal(values[2] === "never", lowest >= single(name, "joint/required_clamp"));
        assert.equal((await visible(page, "svg.waterfall, svg.strip, svg.section, svg.tightening")).length, 4);
        assert.match(await page.locator(".shown").innerText(), /\(the last record\)/);
      } else if (name === "compare") {
        assert.equal(await finding.locator("li strong").count(), runs.length);
      } else if (name === "plan") {
        assert.ok((await finding.innerText()).includes(plan().advice.sentences[0]));
      } else if (studies.includes(name)) {
        assert.ok((await finding.innerText()).includes(study(name).sentences[0]));
        assert.ok((await visible(page, "svg.chart")).length >= 2);
      } else {
        assert.match(await finding.innerText(), /never retorqued, retorqued once, and retorqued late/);
      }
      for (const link of await page.locator("nav a").evaluateAll((all) => all.map((e) => e.getAttribute("href")))) {
        assert.equal(await page.locator(link).count(), 1, link);
      }
    }, {script: false}));
  }
});
