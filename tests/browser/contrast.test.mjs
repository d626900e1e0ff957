// Every word stands out from what lies behind it: at least 4.5:1 (WCAG 2.1, success criterion 1.4.3, its formula).
import {it} from "node:test";
import assert from "node:assert/strict";
import {open, pages, sheets, topic} from "./browser.mjs";

const faint = (page) => page.evaluate(() => {
  const parse = (text) => {
    const v = (text.match(/[\d.]+/g) || []).map(Number);
    return v.length < 3 ? null : {rgb: v.slice(0, 3), a: v[3] ?? 1};
  };
  const over = (top, under) => top.rgb.map((v, i) => v * top.a + under[i] * (1 - top.a));
  const luminance = (rgb) => {
    const [r, g, b] = rgb.map((v) => v / 255).map((v) => v <= 0.03928 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4);
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const opacity = (e) => e ? Number(getComputedStyle(e).opacity) * opacity(e.parentElement) : 1;
  /// Colour of an HTML element's ground, through what is transparent.
  const ground = (e) => {
    if (!e) return [255, 255, 255];
    const own = parse(getComputedStyle(e).backgroundColor);
    return own && own.a > 0 ? over(own, own.a < 1 ? ground(e.parentElement) : [0, 0, 0]) : ground(e.parentElement);
  };
  /// Behind a word of a drawing: its halo, else the shapes under its middle.
  const behind = (e) => {
    const svg = e.closest("svg");
    const style = getComputedStyle(e);
    if (style.paintOrder.startsWith("stroke") && style.stroke !== "none") return parse(style.stroke).rgb;
    e.scrollIntoView({block: "center"});
    const box = e.getBoundingClientRect();
    let rgb = ground(svg.parentElement);
    const under = document.elementsFromPoint((box.left + box.right) / 2, (box.top + box.bottom) / 2)
      .filter((o) => svg.contains(o) && o !== svg && !e.contains(o) && !/^t/.test(o.tagName)).reverse();
    for (const shape of under) {
      const fill = parse(getComputedStyle(shape).fill);
      if (fill) rgb = over({rgb: fill.rgb, a: fill.a * Number(getComputedStyle(shape).fillOpacity) * opacity(shape)}, rgb);
    }
    return rgb;
  };
  const out = new Map();
  let seen = 0;
  for (const e of document.body.querySelectorAll("*")) {
    if (![...e.childNodes].some((n) => n.nodeType === 3 && n.data.trim()) || !e.getClientRects().length
      || e.closest("script, style, title, desc, .skip, option")) continue;
    const drawn = Boolean(e.ownerSVGElement);
    const back = drawn ? behind(e.closest("text")) : ground(e);
    const own = parse(drawn ? getComputedStyle(e).fill : getComputedStyle(e).color);
    const front = over({rgb: own.rgb, a: own.a * opacity(e)}, back);
    const [low, high] = [luminance(front), luminance(back)].sort((a, b) => a - b);
    const ratio = (high + 0.05) / (low + 0.05);
    ++seen;
    if (ratio < 4.5) {
      out.set(`${e.tagName}.${e.getAttribute("class") || ""} in ${e.parentElement.getAttribute("class")}`,
        `"${e.textContent.slice(0, 30)}" ${ratio.toFixed(2)}:1`);
    }
  }
  return {seen, words: [...out].map((pair) => pair.join(": "))};
});

topic("contrast", () => {
  for (const name of [...pages, ...sheets]) {
    for (const dark of [false, true]) {
      for (const script of [true, false]) {
        it(`${name}, ${dark ? "dark" : "light"}, ${script ? "with" : "without"} script`, () => open(name, async (page) => {
          if (script) await page.locator("[data-chart] .live-chart").first().press("Home").catch(() => {});
          const {seen, words} = await faint(page);
          assert.ok(seen > 60, `only ${seen} words seen`);
          assert.deepEqual(words, []);
        }, {dark, script}));
      }
    }
  }
});
