// The units switch: every number is converted exactly, and comes back as it was.
import {it} from "node:test";
import assert from "node:assert/strict";
import {agrees, open, pages, runs, topic, units} from "./browser.mjs";

const quantities = (page) => page.locator(".q").evaluateAll((all) => all.map((e) => ({...e.dataset, text: e.textContent})));
const names = (page) => page.locator(".u").evaluateAll((all) => all.map((e) => [e.dataset.kind, e.textContent]));
const switchTo = (page, system) => page.locator(`#switches input[value=${system}]`).check({force: true});
/// All that a reader sees, drawings included; without what stands as it is in the catalogue or the scenario where that is
/// left out.
const seen = (page, {leaveOut = false} = {}) => page.evaluate((leave) => {
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  const out = [];
  while (walker.nextNode()) {
    const e = walker.currentNode.parentElement;
    if (leave && e.closest("#inputs, pre")) continue;
    // Chromium's checkVisibility() takes SVG in a hidden group for visible.
    if (!e.closest("script, style, title, desc") && e.getClientRects().length) out.push(walker.currentNode.textContent);
  }
  return out;
}, leaveOut);

async function check(page, system) {
  const all = await quantities(page);
  assert.ok(all.length > 3);
  const kinds = new Set();
  for (const {si, kind, text, bare, fixed} of all) {
    kinds.add(kind);
    // A fixed one has its decimals, a removed nut no number.
    agrees(text, Number(si), kind, system, {bare: bare === "1", kept: fixed ? 6 : 17});
  }
  for (const [kind, text] of await names(page)) assert.equal(text, units[kind][system][0]);
  return kinds;
}

topic("units", () => {
  for (const name of pages) {
    it(`${name}: every quantity and axis turns, and comes back`, () => open(name, async (page) => {
      const before = await seen(page);
      const axes = await page.locator(".live-head .muted").allTextContents();
      const kinds = await check(page, "si");
      if (runs.includes(name)) {
        for (const kind of ["force", "temperature", "distance", "thickness", "torque", "length", "stress"]) {
          if (kind !== "thickness" || name !== "loose") assert.ok(kinds.has(kind), kind);
        }
      }
      await switchTo(page, "us");
      await check(page, "us");
      const title = await page.locator("h1").textContent();
      const left = (await seen(page, {leaveOut: true})).filter((text) => /\d (kN|°C|km|µm|mm|N·m|MPa)\b/.test(text.replace(title, "")));
      if (runs.includes(name)) assert.deepEqual(left, []);
      const turned = await page.locator(".live-head .muted").allTextContents();
      turned.forEach((text, i) => {
        if (/Slip margin|Share of wheels/.test(text)) assert.equal(text, axes[i]);
        else assert.match(text, /, (lbf|°F|thou), against/);
      });
      await switchTo(page, "si");
      assert.deepEqual(await seen(page), before);
    }));
  }
  it("a page that opens with US units says the same as one that was switched", () => open("us", async (page) => {
    assert.ok(await page.locator("#switches input[value=us]").isChecked());
    await check(page, "us");
    const opened = await seen(page);
    await open("retorque", async (other) => {
      await switchTo(other, "us");
      assert.deepEqual(await seen(other), opened);
    });
  }));
});
