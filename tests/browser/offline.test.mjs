// A page is one file: nothing in it fails, and nothing is fetched.
import {it} from "node:test";
import assert from "node:assert/strict";
import {readFileSync} from "node:fs";
import {fileOf, open, pages, sheets, topic} from "./browser.mjs";

topic("offline", () => {
  for (const name of [...pages, ...sheets]) {
    it(`${name} names no other file`, () => {
      // What a script says in its comments loads nothing; what it does is seen below.
      const html = readFileSync(fileOf(name), "utf8").replace(/<script>[^]*?<\/script>/g, "");
      const links = [...html.matchAll(/\s(?:src|href|srcset|poster|data|action|xlink:href)\s*=\s*["']?([^"'\s>]+)/gi),
        ...html.matchAll(/url\(\s*["']?([^"')]+)/gi), ...html.matchAll(/@import\s+["']?([^"';]+)/gi)].map((m) => m[1]);
      assert.deepEqual(links.filter((link) => !/^(#|data:)/.test(link)), []);
    });
    for (const script of [true, false]) {
      // open() asserts that console, errors and requests stay empty.
      it(`${name} opens without a fault ${script ? "with" : "without"} script`, () => open(name, async (page) => {
        assert.ok((await page.title()).length > 3);
        await page.evaluate(() => scrollTo(0, document.body.scrollHeight));
        for (const radio of script ? await page.locator("input[type=radio]:not(:checked)").all() : []) {
          await radio.check({force: true});
        }
      }, {script}));
    }
  }
  it("a page's own policy forbids the network", () => open("retorque", async (page, faults) => {
    const refused = await page.evaluate(async () => {
      const event = new Promise((done) => addEventListener("securitypolicyviolation", (e) => done(e.effectiveDirective)));
      await fetch("https://example.invalid/").catch(() => {});
      return event;
    });
    assert.equal(refused, "connect-src");
    assert.ok(faults.splice(0).every((fault) => fault.startsWith("console: ")), "it reached the network");
  }));
});
