// The slider moves budget, studs and section, and what they then say is what the history holds for that moment.
import {it} from "node:test";
import assert from "node:assert/strict";
import {agrees, open, runs, single, table, topic} from "./browser.mjs";

const grouped = new Map();
/// {row of the history: {name: value}} of a dataset with one more axis than the records.
function records(run, dataset, axis) {
  const key = run + dataset;
  if (!grouped.has(key)) {
    const rows = table(run, dataset);
    const wide = new Set(rows.map((row) => row[axis])).size;
    const out = [];
    rows.forEach((row, i) => {
      if (i % wide === 0) out.push({});
      out.at(-1)[row[axis]] = row[dataset];
    });
    grouped.set(key, out);
  }
  return grouped.get(key);
}

/// {stud: {mechanism: value}} for each record.
function byMechanism(run, dataset) {
  const key = run + dataset;
  if (!grouped.has(key)) {
    const rows = table(run, dataset);
    const wide = new Set(rows.map((row) => row.stud)).size * new Set(rows.map((row) => row.mechanism)).size;
    const out = [];
    rows.forEach((row, i) => {
      if (i % wide === 0) out.push({});
      (out.at(-1)[row.stud] ??= {})[row.mechanism] = row[dataset];
    });
    grouped.set(key, out);
  }
  return grouped.get(key);
}

/// The record that the slider's position stands for. Of two records at one instant (before and after a retorque) both
/// are in the page.
function recordAt(run, times, at) {
  const t = times[at];
  const rows = table(run, "time").map((row, i) => [row.time, i]).filter(([time]) => Math.abs(time - t) <= 1e-8 * t);
  const alike = times.map((time, i) => [time, i]).filter(([time]) => time === t);
  assert.equal(alike.length, rows.length, `records at ${t} s`);
  return rows[alike.findIndex(([, i]) => i === at)][1];
}

const weakestOf = (run) => Object.entries(records(run, "clamp_cold", "stud").at(-1)).sort((a, b) => a[1] - b[1])[0][0];

function readout(text, t, d, system) {
  const match = /^(?:right after tightening|([\d.]+) s after tightening|(?:(\d+) days? and )?(\d+):(\d\d) h after tightening), (.+)$/
    .exec(text);
  assert.ok(match, text);
  const said = match[1] !== undefined ? Number(match[1])
    : match[3] === undefined ? 0 : Number(match[2] || 0) * 86400 + Number(match[3]) * 3600 + Number(match[4]) * 60;
  assert.ok(Math.abs(said - t) <= (match[3] === undefined ? 1 : 30.001), `"${text}" at ${t} s`);
  agrees(match[5], d, "distance", system, {kept: 9});
}

/// What stands in the three views.
const views = (page) => page.evaluate(() => {
  const number = (e, name) => Number(e.getAttribute(name));
  return {
    at: Number(document.querySelector(".slider input").value),
    spoken: document.querySelector(".slider input").getAttribute("aria-valuetext"),
    readouts: [...document.querySelectorAll(".readout")].map((e) => e.textContent),
    whose: document.querySelector(".whose").textContent,
    bars: [...document.querySelectorAll("svg.waterfall [data-role]")].map((g) => ({role: g.dataset.role,
      name: g.dataset.mechanism, force: g.querySelector(".force").textContent,
      loss: g.querySelector(".thickness")?.textContent, wide: number(g.querySelector(".bar"), "width"),
      from: number(g.querySelector(".bar"), "x")})),
    studs: [...document.querySelectorAll("svg.strip [data-stud]")].map((g) => ({
      name: g.querySelector(".balloon-text").textContent, clamp: g.querySelector(".value").textContent,
      below: g.querySelector(".now").classList.contains("below"),
      tall: number(g.querySelector(".now"), "height") / number(g.querySelector(".start"), "height")})),
    temperatures: [...document.querySelectorAll("[data-node]:not(.heat)")].map((e) => [Number(e.dataset.node),
      e.querySelector(".q").textContent, "bare" in e.querySelector(".q").dataset]),
    heat: [...document.querySelectorAll(".heat")].map((e) => [Number(e.dataset.node), Number(e.style.opacity)]),
    layers: [...document.querySelectorAll("span[data-layer]")].map((e) => [Number(e.dataset.layer), e.textContent]),
    films: [...document.querySelectorAll("svg .coating")].map((e) => [Number(e.dataset.layer),
      number(e.querySelector("rect"), "width") / Number(e.dataset.scale)])
  };
});

function near(value, expected, relative, what) {
  assert.ok(Math.abs(value - expected) <= relative * Math.abs(expected) + 1e-6, `${what}: ${value} for ${expected}`);
}

function check(run, times, shown, system, whose) {
  const row = recordAt(run, times, shown.at);
  const {time, distance} = {...table(run, "time")[row], ...table(run, "distance")[row]};
  assert.equal(shown.readouts.length, 2);
  [...shown.readouts, shown.spoken].forEach((text) => readout(text, time, distance, system));

  const cold = records(run, "clamp_cold", "stud");
  const required = single(run, "joint/required_clamp");
  assert.equal(shown.studs.length, Object.keys(cold[0]).length);
  for (const stud of shown.studs) {
    const clamp = cold[row][stud.name];
    agrees(stud.clamp, clamp, "force", system, {bare: true, kept: 7});
    near(stud.tall, clamp / cold[0][stud.name], 1e-3, "height of stud " + stud.name);
    assert.equal(stud.below, clamp < required, "stud " + stud.name);
  }

  const members = whose === "mean" ? Object.keys(cold[0]) : [weakestOf(run)];
  const mean = (of) => members.reduce((sum, stud) => sum + of(stud), 0) / members.length;
  const forces = byMechanism(run, "loss_clamp")[row];
  const losses = byMechanism(run, "loss")[row];
  const named = shown.bars.filter((bar) => bar.role === "loss").map((bar) => bar.name);
  const of = (bar, all) => bar.name !== "all others" ? mean((stud) => all[stud][bar.name])
    : mean((stud) => Object.entries(all[stud]).reduce((sum, [m, v]) => sum + (named.includes(m) ? 0 : v), 0));
  const first = mean((stud) => cold[0][stud]);
  for (const bar of shown.bars) {
    const force = bar.role === "first" ? first : bar.role === "left" ? mean((stud) => cold[row][stud])
      : bar.role === "gain" ? mean((stud) => records(run, "retorque_gain", "stud")[row][stud]) : -of(bar, forces);
    agrees(bar.force, force, "force", system, {kept: 6});
    if (bar.role === "loss") agrees(bar.loss, of(bar, losses), "thickness", system, {kept: 4});
    // Half a unit is the thinnest that is drawn.
    const scale = shown.bars[0].wide / first;
    if (Math.abs(force) * scale > 0.5) near(bar.wide, Math.abs(force) * scale, 2e-3, "bar of " + bar.name);
  }
  assert.match(shown.whose, whose === "mean" ? /^Mean of the studs/ : RegExp(`^Stud ${weakestOf(run)}, the weakest`));

  const heat = records(run, "temperature", "node");
  const nodes = Object.keys(heat[0]);
  const all = heat.flatMap((record) => Object.values(record));
  const [low, high] = [Math.min(...all), all.reduce((a, b) => Math.max(a, b))];
  assert.ok(shown.temperatures.length >= 4 && shown.heat.length >= 2);
  for (const [node, text, bare] of shown.temperatures) {
    agrees(text, heat[row][nodes[node]], "temperature", system, {bare, kept: 5});
  }
  for (const [node, opacity] of shown.heat) {
    assert.ok(Math.abs(opacity - (heat[row][nodes[node]] - low) / (high - low)) < 1e-3, `tint of ${nodes[node]}`);
  }
  const films = run === "loose" ? [] // bare steel
    : table(run, "layer_thickness").filter((film) => film.stud === weakestOf(run));
  const layers = [...new Set(films.map((film) => film.layer))];
  assert.equal(shown.layers.length, layers.length);
  for (const [layer, text] of shown.layers) {
    agrees(text, films[row * layers.length + layer].layer_thickness, "thickness", system, {bare: true, kept: 5});
  }
  for (const [layer, thick] of shown.films) {
    near(thick, films[row * layers.length + layer].layer_thickness, 1e-3, "film " + layers[layer]);
  }
}

const timesOf = (page) => page.evaluate(() => JSON.parse(document.getElementById("data").textContent).moments.moment.t);

topic("moments", () => {
  for (const run of runs) {
    it(`${run}: every view follows the slider`, () => open(run, async (page) => {
      const times = await timesOf(page);
      const last = times.length - 1;
      assert.equal(times[0], 0);
      near(times[last], table(run, "time").at(-1).time, 1e-8, "last moment");
      const slider = page.locator(".slider input");
      assert.equal(await slider.getAttribute("max"), String(last));
      for (const system of ["si", "us"]) {
        await page.locator(`#switches input[value=${system}]`).check({force: true});
        for (const whose of ["weakest", "mean"]) {
          await page.locator(`.choice input[value=${whose}]`).check({force: true});
          for (const at of [0, 1, Math.floor(last / 4), Math.floor(last / 2), Math.floor(0.8 * last), last]) {
            await slider.fill(String(at));
            const shown = await views(page);
            assert.equal(shown.at, at);
            check(run, times, shown, system, whose);
          }
        }
      }
    }));
    it(`${run}: the slider answers to keys`, () => open(run, async (page) => {
      const times = await timesOf(page);
      const last = times.length - 1;
      await page.locator(".slider input").focus();
      let before = "";
      for (const [key, at] of [["Home", 0], ["ArrowRight", 1], ["ArrowUp", 2], ["ArrowLeft", 1], ["End", last],
        ["ArrowLeft", last - 1], ["ArrowDown", last - 2]]) {
        await page.keyboard.press(key);
        const shown = await views(page);
        assert.equal(shown.at, at, key);
        assert.notEqual(JSON.stringify([shown.bars, shown.studs]), before, "nothing moved");
        before = JSON.stringify([shown.bars, shown.studs]);
        check(run, times, shown, "si", "weakest");
      }
    }));
    it(`${run}: the charts mark the moment`, () => open(run, async (page) => {
      const times = await timesOf(page);
      const last = times.length - 1;
      const marks = async (at) => {
        await page.locator(".slider input").fill(String(at));
        return page.evaluate(() => [...document.querySelectorAll("[data-chart]")].map((f) => {
          const line = f.querySelector(".moment-line");
          return line && Number(line.getAttribute("x1"));
        }));
      };
      const [from, to, at] = [await marks(0), await marks(last), Math.floor(last / 3)];
      (await marks(at)).forEach((x, i) => {
        if (x !== null) near(x, from[i] + (to[i] - from[i]) * times[at] / times[last], 0.01, "chart " + i);
      });
      assert.ok(to.filter((x, i) => x - from[i] > 300).length >= 2, "no chart has the mark");
    }));
  }
});
