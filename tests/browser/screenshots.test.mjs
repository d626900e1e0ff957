// Pictures of every page for people to look at; kept in the build folder.
import {it} from "node:test";
import assert from "node:assert/strict";
import {mkdirSync, statSync} from "node:fs";
import path from "node:path";
import {folder, open, pages, sheets, topic} from "./browser.mjs";

const out = path.join(folder, "screenshots");

topic("screenshots", () => {
  mkdirSync(out, {recursive: true});
  for (const name of [...pages, ...sheets]) {
    for (const width of [400, 800, 1280]) {
      for (const dark of [false, true]) {
        it(`${name} at ${width} px, ${dark ? "dark" : "light"}`, () => open(name, async (page) => {
          // In a picture of the whole page what sticks to the window's edge would lie in the middle.
          await page.addStyleTag({content: ".slider { position: static !important }"});
          const file = path.join(out, `${name}-${width}-${dark ? "dark" : "light"}.png`);
          await page.screenshot({path: file, fullPage: true});
          assert.ok(statSync(file).size > 10000, "an empty picture");
        }, {width, dark}));
      }
    }
  }
});
