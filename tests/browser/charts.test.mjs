// The charts: that they are drawn, read out what the history holds, zoom, turn to distance and hide lines.
import {it} from "node:test";
import assert from "node:assert/strict";
import {agrees, open, pages, plan, runs, single, studies, table, topic, units} from "./browser.mjs";

const chartsOf = (name) => name === "lesson" ? ["never-clamp", "once-clamp", "late-clamp"]
  : name === "sweep" ? ["curves"] : name === "maps" ? [] : name === "sample" ? ["fan", "chance"]
  : name === "loose" ? ["clamp", "temperature", "slip-margin"]
    : runs.includes(name) ? ["clamp", "temperature", "coating", "slip-margin"] : ["clamp"];
const boxOf = (page, id) => page.locator(`[data-chart="${id}"]`);
const texts = (locator) => locator.evaluateAll((all) => all.map((e) => e.textContent));
const xTicks = async (box) => (await texts(box.locator(".dygraph-axis-label-x"))).map(Number).sort((a, b) => a - b);
const specOf = (page, id) => page.evaluate((key) => JSON.parse(document.getElementById("data").textContent).charts[key], id);

/// Pixels of the chart that have the colour of each line's sample in the legend.
const inked = (box) => box.evaluate((figure) => {
  const canvases = [...figure.querySelectorAll("canvas")].map((canvas) => {
    const {width, height} = canvas;
    const copy = Object.assign(document.createElement("canvas"), {width, height}).getContext("2d", {willReadFrequently: true});
    copy.drawImage(canvas, 0, 0);
    return copy.getImageData(0, 0, width, height).data;
  });
  return [...figure.querySelectorAll(".live-keys line")].map((line) => {
    const rgb = getComputedStyle(line).stroke.match(/\d+/g).map(Number);
    let n = 0;
    for (const data of canvases) {
      for (let i = 0; i < data.length; i += 4) {
        if (data[i + 3] > 40 && rgb.every((v, k) => Math.abs(v - data[i + k]) < 8)) ++n;
      }
    }
    return n;
  });
});

const toggle = async (box, i, on) => box.locator(".live-keys input").nth(i).setChecked(on);

const found = new Map();
/// [{t, d, y}] of the line that a name stands for, SI, from the history or the plan.
function truth(name, chart, line, variant) {
  const key = [name, chart, line.name, variant.name].join();
  return found.get(key) || found.set(key, lookUp(name, chart, line, variant)).get(key);
}

function lookUp(name, chart, line, variant) {
  if (name === "plan" || name === "lesson") {
    const all = plan();
    const one = all.cases.find((c) => c.name === line.name.replace(/^.*: /, ""));
    assert.ok(one, line.name);
    // A retorque stands twice, before and after it; between the instants of the plan's axis.
    return [...all.time.map((t, i) => ({t, d: all.distance[i], y: one.clamp[i]})),
      ...one.retorques.flatMap((r) => [r.clamp_before, r.clamp_after].map((y) => ({t: r.time, d: r.distance, y})))];
  }
  const weakest = (run) => {
    const cold = table(run, "clamp_cold");
    return cold.filter((row) => row.time === cold.at(-1).time).sort((a, b) => a.clamp_cold - b.clamp_cold)[0].stud;
  };
  const pick = (run, dataset, keep = () => true) => table(run, dataset).filter(keep)
    .map((row) => ({t: row["time"], d: row.distance, y: row[dataset]}));
  if (name === "compare") {
    const lowest = new Map();
    table(runs["ABC".indexOf(line.label)], "clamp_cold").forEach((row, i) => {
      const key = row.time + " " + row.distance;
      lowest.set(key, [...(lowest.get(key) || []), {t: row.time, d: row.distance, y: row.clamp_cold}]);
    });
    // Ten studs a record; two records at a retorque.
    return [...lowest.values()].flatMap((rows) => Array.from({length: rows.length / 10}, (_, k) =>
      rows.slice(10 * k, 10 * k + 10).reduce((a, b) => a.y <= b.y ? a : b)));
  }
  if (chart === "clamp") {
    const stud = /stud (\d+)/.exec(line.name)[1];
    return pick(name, variant.name === "cold" && !/as it is/.test(line.name) ? "clamp_cold" : "clamp",
      (row) => row.stud === stud);
  }
  if (chart === "temperature") {
    const midnight = (Number(/day (\d+)/.exec(variant.name)[1]) - 1) * 86400;
    return pick(name, "temperature", (row) => row.node === line.name && row.time >= midnight - 1e-3
      && row.time <= midnight + 86400 + 1e-3).map((row) => ({...row, t: row.t - midnight}));
  }
  if (chart === "coating") {
    const layers = [...new Set(table(name, "layer_thickness").map((row) => row.layer))];
    return pick(name, "layer_thickness", (row) => row.layer === layers["abcdefgh".indexOf(line.label)]
      && row.stud === weakest(name));
  }
  return pick(name, "slip_margin"); // the lowest of a day, too, is one of the records
}

const seconds = {days: 86400, h: 3600, min: 60, s: 1};

/// Where a read-out is of: seconds, or metres.
function placeOf(text) {
  const [, at, along] = /^([^:]+(?::\d\d)?) (\S+): /.exec(text) || assert.fail(`read-out "${text}"`);
  const [hours, minutes] = at.split(":").map(Number);
  if (minutes !== undefined) return {along, place: hours * 3600 + minutes * 60, slack: 31};
  const unit = seconds[along] || {km: 1000, mi: 1609.344}[along];
  const decimals = (at.split(".")[1] || "").length;
  return {along, place: Number(at) * unit, slack: 10 ** -decimals / 2 * unit * 1.001};
}

/// What a read-out says is in the history at the instant or place that it names. Gives the number of values checked.
function checkRead(text, name, id, spec, v, system) {
  const variant = spec.variants[v];
  const {along, place, slack} = placeOf(text);
  let checked = 0;
  for (const line of variant.lines) {
    const said = line.label && !line.faint && line.name.startsWith(line.label + ":") ? line.label : line.name;
    const escaped = said.replace(/[.*+?^${}()|[\]\\]/g, "\\$&");
    const match = RegExp(`(?:: |, )${escaped} (-?[\\d.]+(?:e[+-]\\d+)?)(?=,| |$)`).exec(text);
    if (!match) continue;
    const rows = truth(name, id, line, variant).filter((row) =>
      Math.abs((along === "km" || along === "mi" ? row.d : row.t) - place) <= slack && row.y !== null);
    assert.ok(rows.length, `nothing at "${text}"`);
    let reason;
    assert.ok(rows.some((row) => {
      try {
        agrees(match[1], row.y, spec.y.kind, system, {bare: true, kept: 5});
        return true;
      } catch (error) {
        reason = error.message;
        return false;
      }
    }), `${line.name}: ${reason}`);
    ++checked;
  }
  const unit = units[spec.y.kind][system][0];
  assert.ok(text.endsWith(unit ? " " + unit : ""), `unit of "${text}"`);
  return checked;
}

topic("charts", () => {
  for (const name of pages) {
    it(`${name}: its charts are drawn`, () => open(name, async (page) => {
      const ids = await page.locator("[data-chart]").evaluateAll((all) => all.map((e) => e.dataset.chart));
      assert.deepEqual(ids, chartsOf(name));
      for (const id of ids) {
        const box = boxOf(page, id);
        const n = await box.locator(".live-keys input").count();
        for (let i = 0; i < n; ++i) await toggle(box, i, false);
        assert.deepEqual(await inked(box), Array(n).fill(0), id + ": hidden lines");
        // One after the other, since lines may lie on each other.
        for (let i = 0; i < n; ++i) {
          await toggle(box, i, true);
          const ink = await inked(box);
          assert.ok(ink[i] > 30, `${id}: line ${i} has ${ink[i]} pixels`);
          await toggle(box, i, false);
        }
      }
    }));
    it(`${name}: without script each chart is a drawing with curves`, () => open(name, async (page) => {
      const drawn = await page.locator("[data-chart] .static svg").evaluateAll((all) => all.map((svg) => ({
        high: svg.getBoundingClientRect().height,
        points: [...svg.querySelectorAll("polyline.line")].filter((l) => getComputedStyle(l).display !== "none"
          && getComputedStyle(l).stroke !== "none").map((l) => l.points.length),
        ticks: svg.querySelectorAll("text.tick").length})));
      assert.equal(drawn.length, chartsOf(name).length);
      for (const {high, points, ticks} of drawn) {
        assert.ok(high > 150 && ticks >= 6 && points.length && points.every((n) => n >= 2), JSON.stringify({high, points}));
      }
    }, {script: false}));
    // What the lines of a study stand for is held against its cases in tests/unit/post.
    if (!studies.includes(name)) it(`${name}: read-out by keyboard and by pointer`, () => open(name, async (page) => {
      for (const id of chartsOf(name)) {
        const box = boxOf(page, id);
        const spec = await specOf(page, id);
        const read = box.locator(".live-read");
        for (const system of ["si", "us"]) {
          const seen = new Set();
          let checked = 0;
          await page.locator(`#switches input[value=${system}]`).check({force: true});
          await box.locator(".live-chart").focus();
          for (const key of ["Home", "ArrowRight", "Shift+ArrowRight", "ArrowRight", "End", "ArrowLeft", "Shift+ArrowLeft"]) {
            await page.keyboard.press(key);
            seen.add(await read.textContent());
            const n = checkRead(await read.textContent(), name, id, spec, 0, system);
            if (key === "Home" && id !== "slip-margin") assert.equal(n, spec.variants[0].lines.length, "lines at the start");
            checked += n;
            // Not only true of some record, but of the one that was asked for.
            if (key === "Home" || (key === "End" && spec.variants[0].axes.length === 1)) {
              const rows = truth(name, id, spec.variants[0].lines[0], spec.variants[0]);
              const t = key === "Home" ? 0 : Math.max(...rows.map((row) => row.t));
              const {place, slack} = placeOf(await read.textContent());
              assert.ok(Math.abs(place - t) <= slack, `${key}: "${await read.textContent()}" for ${t} s`);
            }
          }
          const area = await box.locator(".live-chart").boundingBox();
          for (const share of [0.3, 0.6]) {
            await page.mouse.move(area.x + 60 + share * (area.width - 160), area.y + area.height / 2);
            seen.add(await read.textContent());
            checked += checkRead(await read.textContent(), name, id, spec, 0, system);
          }
          await page.mouse.move(2, 2);
          assert.ok(seen.size >= 6 && checked >= 9, `${id}: ${seen.size} read-outs, ${checked} values`);
        }
      }
    }));
    it(`${name}: zoom by buttons and keys`, () => open(name, async (page) => {
      for (const id of chartsOf(name)) {
        const box = boxOf(page, id);
        const all = await xTicks(box);
        const span = (ticks) => ticks.at(-1) - ticks[0];
        const act = async (how) => {
          if (how.length > 1) await box.getByRole("button", {name: how, exact: true}).click();
          else {
            await box.locator(".live-chart").focus();
            await page.keyboard.press(how);
          }
          return xTicks(box);
        };
        for (const [closer, wider, whole] of [["Zoom in", "Zoom out", "All"], ["+", "-", "0"]]) {
          await act(closer);
          const near = await act(closer);
          assert.ok(span(near) <= 0.45 * span(all), `${id}: ${near} after ${all}`);
          assert.ok(span(await act(wider)) > span(near), id);
          assert.deepEqual(await act(whole), all);
        }
      }
    }));
    if (!studies.includes(name)) it(`${name}: against distance`, () => open(name, async (page) => {
      const ends = [];
      for (const along of ["time", "distance"]) {
        await page.locator(`#switches input[value=${along}]`).check({force: true});
        for (const id of chartsOf(name)) {
          const box = boxOf(page, id);
          const spec = await specOf(page, id);
          const axis = await box.locator(".live-head .muted").textContent();
          assert.match(axis, spec.ofADay ? /against hour of the day$/
            : along === "time" ? /against time since tightening, days$/ : /against distance driven, km$/);
          await box.locator(".live-chart").focus();
          await page.keyboard.press("End");
          const text = await box.locator(".live-read").textContent();
          checkRead(text, name, id, spec, 0, "si");
          if (spec.variants[0].axes.length === 1) ends.push(text.replace(/^.*?: (?=\D)/, ""));
          assert.ok((await inked(box)).some((n) => n > 100), id + " is empty");
        }
      }
      assert.deepEqual(ends.slice(0, ends.length / 2), ends.slice(ends.length / 2), "curves end elsewhere");
    }));
  }
  for (const run of runs) {
    it(`${run}: the axes end with their last number`, () => open(run, async (page) => {
      assert.equal((await xTicks(boxOf(page, "temperature"))).at(-1), 24);
      const days = Math.round(table(run, "time").at(-1).time / 86400);
      const ticks = await xTicks(boxOf(page, "clamp"));
      assert.ok(days % (ticks[1] - ticks[0]) || ticks.at(-1) === days, `${ticks} for ${days} days`);
    }));
    it(`${run}: other days and the clamp as it is`, () => open(run, async (page) => {
      for (const id of ["clamp", "temperature"]) {
        const box = boxOf(page, id);
        const spec = await specOf(page, id);
        const said = [];
        for (let v = 0; v < spec.variants.length; ++v) {
          const select = box.locator(".live-head select");
          if (await select.count()) await select.selectOption(String(v));
          else await box.locator(`.live-head input[value="${v}"]`).check({force: true});
          await box.locator(".live-chart").focus();
          await page.keyboard.press("Home");
          await page.keyboard.press("Shift+ArrowRight");
          said.push(await box.locator(".live-read").textContent());
          assert.ok(checkRead(said.at(-1), run, id, spec, v, "si") >= 5);
        }
        assert.equal(new Set(said).size, said.length, id);
      }
    }));
  }
  for (const name of pages) {
    it(`${name}: a level stands where its number is on the axis, in both systems`, () => open(name, async (page) => {
      const required = name === "plan" || name === "lesson" ? plan().required_clamp
        : single(runs.includes(name) ? name : "loose", "joint/required_clamp");
      for (const system of ["si", "us"]) {
        await page.locator(`#switches input[value=${system}]`).check({force: true});
        for (const id of chartsOf(name).filter((one) => one.endsWith("clamp"))) {
          const {text, line, ticks} = await boxOf(page, id).evaluate((figure) => {
            const middle = (e) => {
              const r = e.getBoundingClientRect();
              return (r.top + r.bottom) / 2;
            };
            return {text: figure.querySelector(".level-text").textContent, line: middle(figure.querySelector(".level")),
              ticks: [...figure.querySelectorAll(".dygraph-axis-label-y")].map((e) => [Number(e.textContent), middle(e)])
                .sort((a, b) => a[0] - b[0])};
          });
          agrees(text.replace(/^required clamp(?: of [A-Z, ]+)? (?=\d)/, ""), required, "force", system);
          const [[v0, y0], [v1, y1]] = [ticks[0], ticks.at(-1)];
          const value = v0 + (line - y0) * (v1 - v0) / (y1 - y0);
          const expected = required * units.force[system][1];
          // The browser's labels stand within two pixels of their lines.
          assert.ok(Math.abs(value - expected) < 2 * Math.abs((v1 - v0) / (y1 - y0)), `${id}: ${value} for ${expected}`);
        }
      }
    }));
  }
});
