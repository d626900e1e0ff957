"use strict";
// The wheel and one stud in section, as SVG text.

const esc = (s) => String(s).replace(/[&<>"]/g, (c) => ({"&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;"}[c]));
const r1 = (v) => Math.round(v * 10) / 10;

/// The wheel from outside. cold: clamps [N]; first: what counts as full [N].
function drawWheel(cold, first, required, off, chosen, show, words) {
  const c = 180, ring = 108, most = 29;
  let out = `<svg viewBox="0 0 360 360" role="group" aria-label="The wheel with its studs"><circle cx="180" cy="180" r="174" fill="var(--steel)" stroke="var(--edge)"/>`
    + `<circle cx="180" cy="180" r="152" fill="var(--metal)" stroke="var(--edge)"/><circle cx="180" cy="180" r="58" fill="var(--soft)" stroke="var(--edge)"/>`;
  cold.forEach((clamp, k) => {
    const angle = 2 * Math.PI * k / cold.length - Math.PI / 2;
    const x = r1(c + ring * Math.cos(angle)), y = r1(c + ring * Math.sin(angle));
    const xn = r1(c + (ring + 54) * Math.cos(angle)), yn = r1(c + (ring + 54) * Math.sin(angle));
    const low = clamp < required, share = Math.max(0, clamp / first);
    const text = off[k] ? "off" : show(clamp);
    out += `<g class="stud${low ? " low" : ""}${k === chosen ? " chosen" : ""}" role="button" tabindex="0" data-stud="${k}" aria-pressed="${k === chosen}" aria-label="Stud ${k + 1}: ${esc(words(k))}">`
      + `<circle class="ring" cx="${x}" cy="${y}" r="${most + 2}"/><circle class="left" cx="${x}" cy="${y}" r="${r1(most * Math.sqrt(Math.min(1.1, share)))}"/>`
      + `<text x="${x}" y="${y + 5}" text-anchor="middle" font-size="${text.length > 5 ? 15 : 17}" font-weight="700">${esc(text)}</text>`
      + `<text x="${xn}" y="${yn + 7}" text-anchor="middle" font-size="19" font-weight="700">${k + 1}</text></g>`;
  });
  const held = cold.filter((v, k) => !off[k]), gone = cold.length - held.length;
  const low = held.length ? Math.min(...held) : 0;
  return out + `<text x="180" y="168" text-anchor="middle" font-size="17" class="muted">weakest</text><text x="180" y="194" text-anchor="middle" font-size="25" font-weight="700">${esc(show(low))}</text>`
    + (gone > 0 ? `<text x="180" y="216" text-anchor="middle" font-size="16" font-weight="700" class="bad">${gone === 1 ? "nut missing" : `${gone} missing`}</text>` : "") + "</svg>";
}

/// The wheel in small, without words: what is left of each stud's clamp.
function drawMini(cold, first, required, off) {
  let out = `<svg viewBox="0 0 360 360"><circle cx="180" cy="180" r="174" fill="var(--metal)" stroke="var(--edge)" stroke-width="3"/>`;
  cold.forEach((clamp, k) => {
    const angle = 2 * Math.PI * k / cold.length - Math.PI / 2, x = r1(180 + 122 * Math.cos(angle)), y = r1(180 + 122 * Math.sin(angle));
    out += `<g class="stud${clamp < required ? " low" : ""}"><circle class="ring" cx="${x}" cy="${y}" r="36" stroke-width="5"/>${off[k] ? "" : `<circle class="left" cx="${x}" cy="${y}" r="${r1(33 * Math.sqrt(Math.min(1.1, Math.max(0, clamp / first))))}"/>`}</g>`;
  });
  return out + "</svg>";
}

/// One stud in section. s: what to draw, see page.js; lengths in mm, films in um, forces as shares.
function drawSection(s, width) {
  const left = 44, right = width < 420 ? 76 : 96, axis = 128, sy = 2.75, filmScale = 0.04; // films 40 times as thick: um to mm
  const films = s.films.reduce((sum, f) => sum + f.first * filmScale, 0);
  const length = s.parts.reduce((sum, p) => sum + p.thickness, 0) + films + (s.washers ? 24.6 : 0);
  const sx = (width - left - right) / length;
  let x = left, out = `<svg viewBox="0 0 ${width} 346" width="${width}" height="346" role="img" aria-label="${esc(s.label)}">`;
  const slab = (w, inner, outer, fill, extra = "") => {
    const a = inner * sy / 2, b = outer * sy / 2;
    out += `<rect x="${r1(x)}" y="${r1(axis - b)}" width="${r1(w)}" height="${r1(b - a)}" fill="${fill}" ${extra}/><rect x="${r1(x)}" y="${r1(axis + a)}" width="${r1(w)}" height="${r1(b - a)}" fill="${fill}" ${extra}/>`;
  };
  const film = (f) => {
    const whole = f.first * filmScale * sx, now = Math.max(0, f.now) * filmScale * sx;
    slab(whole, 26, 75, "none", 'stroke="var(--series-7)" stroke-dasharray="2 2"');
    if (f.side === "nut_side") { slab(now, 26, 75, "var(--series-7)"); x += whole; return; }
    x += whole - now; slab(now, 26, 75, "var(--series-7)"); x += now;
  };
  s.parts.forEach((p, i) => {
    for (const f of s.films) if (f.part === p.name && f.side === "head_side") film(f);
    const w = p.thickness * sx;
    const heat = Math.max(0, Math.min(75, (p.celsius - 20) * 75 / 180));
    slab(w, p.hole, p.pad, `color-mix(in srgb, var(--metal), var(--hot) ${r1(heat)}%)`, 'stroke="var(--edge)"');
    const mid = r1(x + w / 2), row = 240 + 15 * (i % 3);
    out += `<line class="axis" x1="${mid}" x2="${mid}" y1="${r1(axis + p.pad * sy / 2)}" y2="${row}"/><text x="${Math.max(46, mid)}" y="${row + 11}" text-anchor="middle" class="small halo">${esc(p.name)} ${esc(p.heat)}</text>`;
    x += w;
    for (const f of s.films) if (f.part === p.name && f.side === "nut_side") film(f);
  });
  if (s.sleeve) {
    const w = s.sleeveLength * sx;
    const a = 22 * sy / 2, b = 25.94 * sy / 2;
    out += `<rect x="${r1(x - w)}" y="${r1(axis - b)}" width="${r1(w)}" height="${r1(b - a)}" fill="var(--series-3)"/><rect x="${r1(x - w)}" y="${r1(axis + a)}" width="${r1(w)}" height="${r1(b - a)}" fill="var(--series-3)"/>`;
  }
  const end = x;
  if (s.washers) {
    const w = 24.6 * sx, a = 25 * sy / 2, b = 50 * sy / 2, lean = Math.max(1, 7 - 5 * s.share);
    for (let i = 0; i < 4; ++i) {
      const at = x + i * w / 4, t = w / 4;
      for (const side of [-1, 1]) out += `<polygon points="${r1(at)},${r1(axis + side * b)} ${r1(at + t - lean)},${r1(axis + side * b)} ${r1(at + t)},${r1(axis + side * a)} ${r1(at + lean)},${r1(axis + side * a)}" fill="var(--steel)" stroke="var(--edge)"/>`;
    }
    x += w;
  }
  const loose = s.off ? 34 : s.share <= 0 ? 12 : 0, d = 22 * sy;
  // Stud, head, nut.
  out += `<rect x="${left - 34}" y="${axis - 19 * sy}" width="34" height="${38 * sy}" rx="3" fill="var(--steel)" stroke="var(--edge)"/>`
    + `<rect x="${left - 34}" y="${r1(axis - d / 2)}" width="${r1(x - left + 34 + 72)}" height="${r1(d)}" fill="var(--steel)" stroke="var(--edge)"/>`;
  // Marks on the stud: further apart where it is stretched.
  const marks = 14, pull = s.stretch * 0.04 * sx; // 40 times, as the films
  for (let i = 1; i < marks; ++i) {
    const at = left + (x - left - 40) * i / marks + pull * i / marks;
    out += `<line x1="${r1(at)}" x2="${r1(at)}" y1="${r1(axis - d / 2 + 4)}" y2="${r1(axis + d / 2 - 4)}" stroke="var(--edge)"/>`;
  }
  if (!s.off) {
    const at = x + loose;
    if (!s.washers) out += `<rect x="${r1(at)}" y="${r1(axis - 23 * sy)}" width="9" height="${r1(46 * sy)}" fill="var(--fill)" stroke="var(--edge)"/>`;
    out += `<rect x="${r1(at + (s.washers ? 0 : 9))}" y="${r1(axis - 17 * sy)}" width="40" height="${r1(34 * sy)}" fill="${s.share <= 0 ? "var(--fill-bad)" : "var(--fill)"}" stroke="var(--edge)"/><text x="${r1(at + (s.washers ? 20 : 29))}" y="${axis + 4}" text-anchor="middle" font-size="13" font-weight="700">nut</text>`;
  } else out += `<text x="${r1(x + 40)}" y="${axis - 40}" text-anchor="middle" font-size="13" font-weight="700" class="halo">no nut</text>`;
  out += `<text x="${left - 17}" y="${axis + 4}" text-anchor="middle" font-size="12">head</text>`;
  // Grip length.
  out += `<line class="axis" x1="${left}" x2="${r1(x)}" y1="14" y2="14"/><line class="axis" x1="${left}" x2="${left}" y1="8" y2="20"/><line class="axis" x1="${r1(x)}" x2="${r1(x)}" y1="8" y2="20"/>`
    + `<text x="${r1((left + x) / 2)}" y="18" text-anchor="middle" class="small halo">${esc(s.gripText)}</text>`;
  // Stretch and loss on one scale.
  const bx = 132, scale = (width - bx - 70) / Math.max(s.firstStretch, s.lost, s.stretch, 1);
  const bar = (y, now, first, fill, name, text) => {
    out += `<text x="${bx - 8}" y="${y + 13}" text-anchor="end" class="small">${esc(name)}</text>`
      + (first > 0 ? `<rect x="${bx}" y="${y}" width="${r1(first * scale)}" height="17" fill="none" stroke="var(--edge)" stroke-dasharray="3 2"/>` : "")
      + `<rect x="${bx}" y="${y}" width="${r1(Math.max(0, now) * scale)}" height="17" fill="${fill}"/><text x="${r1(bx + Math.max(now, first, 0) * scale + 7)}" y="${y + 13}" class="small" font-weight="700">${esc(text)}</text>`;
  };
  bar(297, s.stretch, s.firstStretch, "var(--fill)", "stud is stretched by", s.stretchText);
  bar(323, s.lost, 0, "var(--series-7)", "thickness is lost", s.lostText);
  return out + "</svg>";
}
