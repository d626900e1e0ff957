// What the tests share: the browser, the pages, and the numbers that the histories hold.
import assert from "node:assert/strict";
import {execFileSync} from "node:child_process";
import {createRequire} from "node:module";
import {after, before, describe} from "node:test";
import path from "node:path";
import {pathToFileURL} from "node:url";

const need = (name) => process.env[name] || assert.fail(`${name} is not set: run these tests through ctest (README.md)`);
export const folder = need("BROWSER_DIR");
const {chromium} = createRequire(path.join(folder, "package.json"))("playwright-core");

/// Pages of one run, and one of every kind.
export const runs = ["brake", "retorque", "loose"];
export const studies = ["sweep", "maps", "sample"];
export const pages = [...runs, "compare", "plan", "lesson", ...studies];
export const sheets = ["sheet-brake", "sheet-retorque", "sheet-loose", "sheet-us"];

let browser;

/// A group of tests with a browser of its own.
export function topic(name, tests) {
  describe(name, () => {
    before(async () => {
      browser = await chromium.launch({executablePath: need("CHROMIUM"), args: ["--headless", "--no-sandbox",
        "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
        "--disable-component-update", "--disable-sync"]});
    });
    after(() => browser.close());
    tests();
  });
}

export const fileOf = (name) => path.join(folder, name + ".html");

/// Opens a page and hands it to `look`. Nothing may fail in it meanwhile, and nothing but its file be asked for; `look` is
/// given the list of such faults, to take out what it provokes.
export async function open(name, look, {width = 1280, height = 900, dark = false, script = true} = {}) {
  const context = await browser.newContext({viewport: {width, height}, colorScheme: dark ? "dark" : "light",
    javaScriptEnabled: script, reducedMotion: "reduce"});
  try {
    const page = await context.newPage();
    page.setDefaultTimeout(10000);
    const faults = [];
    page.on("console", (message) => { if (message.type() !== "log") faults.push("console: " + message.text()); });
    page.on("pageerror", (error) => faults.push("error: " + error.message));
    const url = pathToFileURL(fileOf(name)).href;
    page.on("request", (request) => { if (request.url() !== url) faults.push("request: " + request.url()); });
    await page.goto(url);
    await look(page, faults);
    assert.deepEqual(faults, []);
  } finally {
    await context.close();
  }
}

// ---- numbers ----

const tables = new Map();
/// Rows of a dataset of a history, each an object by column name; read by the report's own `table`, SI.
export function table(name, dataset) {
  const key = name + " " + dataset;
  if (!tables.has(key)) {
    const text = execFileSync(need("REPORT"), ["table", path.join(folder, name + ".h5"), "--dataset", dataset, "--json"],
      {encoding: "utf8", maxBuffer: 1 << 28});
    const {columns, rows} = JSON.parse(text);
    tables.set(key, rows.map((row) => Object.fromEntries(columns.map((c, i) => [c.name, row[i]]))));
  }
  return tables.get(key);
}

/// The only value of a dataset without axes.
export function single(name, dataset) {
  const value = table(name, dataset)[0][dataset.split("/").at(-1)];
  assert.equal(typeof value, "number", dataset);
  return value;
}

/// What `clampfade-report plan --json` says of the plan.
export const plan = () => JSON.parse(execFileSync(need("REPORT"), ["plan", path.join(folder, "plan.h5"), "--json"],
  {encoding: "utf8", maxBuffer: 1 << 28}));

/// What `clampfade-report summary --json` says of a study.
export const study = (name) => JSON.parse(execFileSync(need("REPORT"), ["summary", path.join(folder, name + ".h5"), "--json"],
  {encoding: "utf8", maxBuffer: 1 << 28}));

const lbf = 4.4482216152605, inch = 0.0254, mile = 1609.344; // exact by definition: pound and standard gravity; inch; mile
/// [name, units of it in one SI unit, offset], SI and US.
export const units = {
  force: {si: ["kN", 1e-3, 0], us: ["lbf", 1 / lbf, 0]},
  torque: {si: ["N·m", 1, 0], us: ["lbf·ft", 1 / (lbf * 12 * inch), 0]},
  temperature: {si: ["°C", 1, -273.15], us: ["°F", 1.8, -273.15 * 1.8 + 32]},
  distance: {si: ["km", 1e-3, 0], us: ["mi", 1 / mile, 0]},
  thickness: {si: ["µm", 1e6, 0], us: ["thou", 1e3 / inch, 0]},
  length: {si: ["mm", 1e3, 0], us: ["in", 1 / inch, 0]},
  stress: {si: ["MPa", 1e-6, 0], us: ["ksi", inch * inch / lbf / 1e3, 0]},
  resilience: {si: ["µm/kN", 1e9, 0], us: ["thou/klbf", 1e6 * lbf / inch, 0]},
  power: {si: ["W", 1, 0], us: ["hp", 1 / (550 * lbf * 12 * inch), 0]},
  duration: {si: ["days", 1 / 86400, 0], us: ["days", 1 / 86400, 0]},
  number: {si: ["", 1, 0], us: ["", 1, 0]}
};

/// Whether `text` is the SI value in the unit, as exactly as its last digit says. `kept`: digits of the value that the
/// page was given, where it is not the whole of it.
export function agrees(text, si, kind, system, {bare = false, kept = 17} = {}) {
  const [name, scale, offset] = units[kind][system];
  const match = /^(-?\d+(?:\.(\d+))?(?:e([+-]\d+))?)(?: (.*))?$/.exec(text);
  assert.ok(match, `"${text}" is no number`);
  assert.equal(match[4] || "", bare ? "" : name, `unit of "${text}"`);
  const digit = 10 ** (Number(match[3] || 0) - (match[2] || "").length);
  const rounding = si === 0 ? 0 : 10 ** (Math.floor(Math.log10(Math.abs(si))) + 1 - kept) / 2 * scale;
  const expected = si * scale + offset;
  // Less than 1e-5 of a unit is shown as nothing.
  const slack = digit / 2 + rounding + 1e-9 * Math.abs(expected) + 1e-5 * (Number(match[1]) === 0);
  assert.ok(Math.abs(Number(match[1]) - expected) <= slack, `"${text}" stands for ${expected} ${name}`);
}
