"use strict";
// Charts against time, as SVG text by hand. A chart is given a width in px and keeps it, so that its words stay readable.

const kPad = {left: 52, right: 12, top: 12, bottom: 40};

/// Round steps of an axis.
function ticks(low, high, count) {
  const rough = (high - low) / count || 1, power = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].map((m) => m * power).find((s) => s >= rough);
  const all = [];
  for (let v = Math.ceil(low / step) * step; v <= high + 1e-9 * step; v += step) all.push(v);
  return all;
}

/// Time axis: hours up to three days, then days, then weeks. [unit in s, name]
function timeUnit(end) {
  return end <= 3 * 86400 ? [3600, "hours"] : end <= 35 * 86400 ? [86400, "days"] : [604800, "weeks"];
}

/// Axes with grid; top in shown units. Returns text and the two scales.
function frame(width, height, end, top, yName) {
  const [unit, name] = timeUnit(end);
  const x = (t) => kPad.left + (width - kPad.left - kPad.right) * t / end;
  const y = (v) => height - kPad.bottom - (height - kPad.top - kPad.bottom) * v / top;
  let out = "";
  for (const v of ticks(0, top, 5)) out += `<line class="grid-line" x1="${kPad.left}" x2="${width - kPad.right}" y1="${r1(y(v))}" y2="${r1(y(v))}"/><text x="${kPad.left - 6}" y="${r1(y(v) + 4)}" text-anchor="end" class="small">${v.toLocaleString("en", {maximumFractionDigits: 3, useGrouping: false})}</text>`;
  for (const v of ticks(0, end / unit, width < 420 ? 4 : 7)) out += `<line class="axis" x1="${r1(x(v * unit))}" x2="${r1(x(v * unit))}" y1="${height - kPad.bottom}" y2="${height - kPad.bottom + 5}"/><text x="${r1(x(v * unit))}" y="${height - kPad.bottom + 17}" text-anchor="middle" class="small">${Number(v.toFixed(6))}</text>`;
  out += `<line class="axis" x1="${kPad.left}" x2="${width - kPad.right}" y1="${height - kPad.bottom}" y2="${height - kPad.bottom}"/>`
    + `<text x="${width - kPad.right}" y="${height - 7}" text-anchor="end" class="small muted">${name} since tightening</text><text x="4" y="${height - 7}" class="small muted">${yName}</text>`;
  return {out, x, y};
}

function marks(f, events, moment, height, label) {
  let out = "";
  events.forEach((e, i) => {
    const x = r1(f.x(e.time));
    out += `<line class="event-line" x1="${x}" x2="${x}" y1="${kPad.top}" y2="${height - kPad.bottom}"/>`;
    if (label) out += `<text x="${x}" y="${kPad.top + 1}" text-anchor="middle" class="small halo" font-weight="700">${letter(i)}</text>`;
  });
  const m = r1(f.x(moment));
  return out + `<line class="moment-line" x1="${m}" x2="${m}" y1="${kPad.top}" y2="${height - kPad.bottom}"/>`;
}

/// Lines of values[record][line] against time. required: a level at each record; zero at the first for none.
function lineChart(o) {
  const height = 340, f = frame(o.width, height, o.end, o.top, o.unit);
  let out = `<svg viewBox="0 0 ${o.width} ${height}" width="${o.width}" height="${height}" aria-hidden="true">${f.out}`;
  for (let k = o.lines - 1; k >= 0; --k) {
    const points = o.time.map((t, i) => `${r1(f.x(t))},${r1(f.y(Math.max(0, o.values[i][k])))}`).join(" ");
    out += `<polyline points="${points}" fill="none" stroke="var(--series-${k % 10 + 1})" stroke-width="${k === o.chosen ? 3.4 : 1.5}" stroke-linejoin="round"/>`;
  }
  // A step up where a nut is missing: the others need more.
  if (o.required[0] > 0) {
    const y = r1(f.y(o.required[0])), ends = (t, v) => `${r1(f.x(t))},${r1(f.y(Math.min(v, o.top)))}`;
    const points = o.time.flatMap((t, i) => i > 0 && o.required[i] !== o.required[i - 1] ? [ends(t, o.required[i - 1]), ends(t, o.required[i])] : []);
    out += `<polyline class="need-line" fill="none" points="${[ends(0, o.required[0]), ...points, ends(o.end, o.required.at(-1))].join(" ")}"/><text x="${kPad.left + 6}" y="${r1(y + 14)}" class="small halo">required clamp ${esc(o.requiredText)}</text>`;
  }
  out += marks(f, o.events, o.time[o.at], height, true);
  const x = r1(f.x(o.time[o.at])), y = r1(f.y(Math.max(0, o.values[o.at][o.chosen])));
  return out + `<circle cx="${x}" cy="${y}" r="5" fill="var(--series-${o.chosen % 10 + 1})" stroke="var(--paper)" stroke-width="2"/></svg>`;
}

/// Areas stacked from below: layers[layer][record].
function stackChart(o) {
  const height = 230, f = frame(o.width, height, o.end, o.top, o.unit);
  let out = `<svg viewBox="0 0 ${o.width} ${height}" width="${o.width}" height="${height}" aria-hidden="true">${f.out}`;
  const base = o.time.map(() => 0);
  o.layers.forEach((layer) => {
    const below = o.time.map((t, i) => `${r1(f.x(t))},${r1(f.y(base[i]))}`);
    layer.values.forEach((v, i) => { base[i] += Math.max(0, v); });
    const above = o.time.map((t, i) => `${r1(f.x(t))},${r1(f.y(base[i]))}`);
    out += `<polygon points="${above.join(" ")} ${below.reverse().join(" ")}" fill="${layer.colour}" fill-opacity="0.85" stroke="${layer.colour}"/>`;
  });
  return out + marks(f, o.events, o.time[o.at], height, false) + "</svg>";
}
