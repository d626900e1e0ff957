"use strict";
// Controls, questions to the engine, and what is shown of its answers.

const $ = (id) => document.getElementById(id);
const kDay = 86400;
const kStart = {torque: 644, thread_friction: 0.12, bearing_friction: 0.12, paint: "thermoplastic", paint_thickness: 80e-6, wheel: "steel",
  disc_thickness: 0.012, spacer: 0, spring_washers: false, sleeve: false, pilot_clearance: 0.6e-3, route: "round", stops: 770,
  full_mass: 26000, working_days: 5, start_day: 100};

// ---- numbers in units ----

const kUnits = { // [name, shown in one SI unit, offset, digits]
  force: {si: ["kN", 1e-3, 0, 1], us: ["lbf", 1 / 4.4482216152605, 0, 0]},
  torque: {si: ["N·m", 1, 0, 0], us: ["lbf·ft", 1 / 1.3558179483314004, 0, 0]},
  film: {si: ["µm", 1e6, 0, 0], us: ["thou", 1 / 25.4e-6, 0, 2]},
  length: {si: ["mm", 1e3, 0, 1], us: ["in", 1 / 0.0254, 0, 2]},
  gap: {si: ["mm", 1e3, 0, 2], us: ["thou", 1 / 25.4e-6, 0, 0]},
  temperature: {si: ["°C", 1, -273.15, 0], us: ["°F", 1.8, -459.67, 0]},
  distance: {si: ["km", 1e-3, 0, 0], us: ["mi", 1 / 1609.344, 0, 0]},
  mass: {si: ["t", 1e-3, 0, 1], us: ["lb", 1 / 0.45359237, 0, 0]}
};
let system = "si";
const unit = (kind) => kUnits[kind][system];
const shown = (v, kind) => v * unit(kind)[1] + unit(kind)[2];
const bare = (v, kind, digits = unit(kind)[3]) => { const t = shown(v, kind).toFixed(digits); return Number(t) === 0 ? t.replace("-", "") : t; };
const text = (v, kind) => `${bare(v, kind)} ${unit(kind)[0]}`;
const percent = (v) => `${(100 * v).toFixed(1).replace(/^-(0\.0)$/, "$1")} %`;
const plural = (n, word) => `${n} ${word}${n === 1 ? "" : "s"}`;

/// What a lesson says, its quantities in the units chosen: {kind:SI value}, or {~kind:value} in two figures.
const told = (words) => words.replace(/\{(~?)(\w+):([-\d.e]+)\}/g, (_, about, kind, v) =>
  about ? `${Number(shown(Number(v), kind).toPrecision(2))} ${unit(kind)[0]}` : text(Number(v), kind));

function timeText(t) {
  if (t < 90) return `${t.toFixed(0)} s`;
  if (t < 5400) return `${(t / 60).toFixed(0)} min`;
  if (t < 2 * kDay) return `${Number((t / 3600).toFixed(1))} h`;
  if (t < 28 * kDay) return `${Number((t / kDay).toFixed(1))} days`;
  return `${Number((t / kDay / 7).toFixed(1))} weeks`;
}

// ---- controls ----

const months = ["January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December"];
const kControls = [
  ["Tightening", [
    {key: "torque", name: "torque", min: 50, max: 1000, step: 1, kind: "torque"},
    {key: "thread_friction", name: "friction in the thread", min: 0.05, max: 0.3, step: 0.01, digits: 2},
    {key: "bearing_friction", name: "friction under the nut", min: 0.05, max: 0.3, step: 0.01, digits: 2}]],
  ["Paint on the disc faces", [
    {key: "paint", name: "kind", options: {bare: "bare metal", primer: "baked primer", "cross-linked": "cross-linked topcoat", thermoplastic: "topcoat that never cross-links"}},
    {key: "paint_thickness", name: "thickness on each face", min: 0, max: 200e-6, step: 5e-6, kind: "film", off: (s) => s.paint === "bare"}]],
  ["Wheel and studs", [
    {key: "wheel", name: "discs of", options: {steel: "steel", aluminium: "forged aluminium"}},
    {key: "disc_thickness", name: "thickness of each disc", min: 0.008, max: 0.03, step: 0.001, kind: "length"},
    {key: "spacer", name: "steel ring under the nut", min: 0, max: 0.06, step: 0.005, kind: "length"},
    {key: "spring_washers", name: "spring washers under the nut", flag: true},
    {key: "sleeve", name: "sleeves in the stud holes", flag: true},
    {key: "pilot_clearance", name: "play of the wheel on its hub", min: 0.1e-3, max: 2e-3, step: 0.1e-3, kind: "length"}]],
  ["Road", [
    {key: "route", name: "working day", options: {round: "kerbside round", highway: "highway, one long hill", parked: "parked"}},
    {key: "stops", name: "stops of the round", min: 0, max: 1200, step: 10, digits: 0, off: (s) => s.route !== "round"},
    {key: "full_mass", name: "full mass of the vehicle", min: 17000, max: 32000, step: 500, kind: "mass", off: (s) => s.route === "parked"},
    {key: "working_days", name: "working days in a week", min: 1, max: 7, step: 1, digits: 0, off: (s) => s.route === "parked"},
    {key: "start_day", name: "tightened in", min: 15, max: 350, step: 30.4, month: true}]]
];
const controls = kControls.flatMap(([, list]) => list);

function controlText(c, v) {
  if (c.month) return months[Math.min(11, Math.floor((v - 1) / 30.5))];
  if (c.key === "spacer" && v === 0) return "none";
  return c.kind ? text(v, c.kind) : v.toFixed(c.digits);
}

function buildControls() {
  const form = document.querySelector(".controls");
  form.innerHTML = kControls.map(([group, list]) => `<details${innerWidth > 700 ? ' open="open"' : ""}><summary>${group}</summary>` + list.map((c) => {
    const id = "set-" + c.key;
    if (c.options) return `<label class="control" for="${id}"><span class="name">${c.name}</span><select id="${id}">${Object.entries(c.options).map(([v, t]) => `<option value="${v}">${t}</option>`).join("")}</select></label>`;
    if (c.flag) return `<label class="control check" for="${id}"><input type="checkbox" id="${id}"/><span>${c.name}</span></label>`;
    return `<label class="control" for="${id}"><span class="name"><span>${c.name}</span><output id="out-${c.key}" for="${id}"></output></span><input type="range" id="${id}" min="0" max="${Math.round((c.max - c.min) / c.step)}" step="1"/></label>`;
  }).join("") + "</details>").join("");
  form.addEventListener("submit", (e) => e.preventDefault());
  for (const c of controls) {
    $("set-" + c.key).addEventListener("input", (e) => {
      const before = state.settings[c.key];
      let v = c.flag ? e.target.checked : c.options ? e.target.value : c.min + c.step * Number(e.target.value);
      if (c.month || c.key === "stops" || c.key === "working_days") v = Math.round(v);
      if (!c.flag && !c.options) v = Number(v.toPrecision(12));
      if (v === before) return;
      state.settings[c.key] = v;
      // A disc of aluminium is a thicker one.
      if (c.key === "wheel") state.settings.disc_thickness = v === "steel" ? 0.012 : 0.022;
      if (c.key === "paint" && v !== "bare" && state.settings.paint_thickness === 0) state.settings.paint_thickness = 80e-6;
      showControls();
      ask(`${c.name}: ${c.flag ? (v ? "yes" : "no") : c.options ? c.options[v] : controlText(c, v)}`, "before the change");
    });
  }
}

function showControls() {
  for (const c of controls) {
    const element = $("set-" + c.key), v = state.settings[c.key];
    if (c.flag) element.checked = v;
    else if (c.options) element.value = v;
    else {
      element.value = Math.round((v - c.min) / c.step);
      $("out-" + c.key).textContent = controlText(c, v);
      element.setAttribute("aria-valuetext", controlText(c, v));
    }
    const off = Boolean(c.off && c.off(state.settings));
    element.disabled = off;
    element.closest(".control").classList.toggle("off", off);
  }
}

// ---- questions and answers ----

const state = {settings: {...kStart}, end: kDay, acts: [], answer: null, full: false, at: 0, stud: 0, which: "cold", following: true};
const timing = {first: null, full: null}; // of the last change [ms]
window.classroom = {state, timing, ready: false};

let worker = null, asked = 0, sent = 0, heard = 0, waitingFor = 0, changed = "", before = null, running = 0, answered = false, since = "";

function startWorker() {
  const code = $("engine").textContent + "\n" + $("worker").textContent;
  const url = URL.createObjectURL(new Blob([code], {type: "text/javascript"}));
  worker = new Worker(url);
  heard = performance.now() + 2000; // it has to start first
  worker.onerror = (e) => fault("The engine did not start: " + (e.message || "this browser may lack WebAssembly exceptions; use a current one"));
  worker.onmessage = ({data}) => {
    heard = performance.now();
    if (data.ready) { window.classroom.ready = true; return; }
    if (data.id !== asked || data.alive) return;
    if (data.kind === "fault") { waitingFor = 0; fault(data.text); return; }
    $("fault").hidden = true;
    take(JSON.parse(data.text), data.kind);
  };
}

function fault(words) {
  $("fault").textContent = words;
  $("fault").hidden = false;
}

/// Asks for the answer to the settings as they are. what: of the change, in words. than: what the answer is compared with,
/// in words; nothing for none.
function ask(what, than = "") {
  changed = what;
  if (waitingFor === 0 || before === null) before = state.answer && weakest(state.answer, state.answer.time.length - 1).clamp;
  since = than;
  const now = performance.now();
  // An engine in the midst of a long piece hears nothing: a new one takes its place.
  if (waitingFor === 0) heard = Math.max(heard, now);
  else if (now - heard > 300) { worker.terminate(); startWorker(); }
  sent = now;
  waitingFor = ++asked;
  answered = false;
  timing.first = timing.full = null;
  worker.postMessage({id: asked, settings: {...state.settings, end: state.end, acts: state.acts}});
  // What stands there is of the wheel before until the answer comes.
  document.body.dataset.stale = "";
  $("said").setAttribute("aria-busy", "true");
  $("speed").textContent = `Calculating${what ? ": " + what : ""}.${state.answer ? " What is shown dimmed is the wheel before." : ""}`;
}

/// kind: "part" of the quick answer, where the whole takes longer; "quick": all studs alike; "full".
function take(answer, kind) {
  const full = kind === "full";
  const past = state.answer ? state.answer.time.at(-1) : 0;
  const from = state.answer ? state.answer.time[state.at] : 0;
  state.answer = answer;
  state.full = full;
  if (full) waitingFor = 0;
  // An act may have had to wait: the clock then stands where it was done.
  if (kind !== "part") state.end = Math.max(state.end, answer.time.at(-1));
  const last = answer.time.length - 1;
  const goOn = state.following && answer.time.at(-1) > past * 1.0001 && past > 0 && kind === "quick" && !answered;
  if (state.following) state.at = last;
  else state.at = indexAt(from);
  delete document.body.dataset.stale;
  if (goOn && !matchMedia("(prefers-reduced-motion: reduce)").matches) play(indexAt(past), last);
  else if (!running) render();
  if (kind !== "part") {
    say(full);
    lessonAnswer(full);
  }
  // Told when it is drawn. The class is not bothered with it.
  const of = asked, first = !answered;
  answered = true;
  requestAnimationFrame(() => setTimeout(() => {
    if (of !== asked) return;
    if (first) timing.first = performance.now() - sent;
    if (full) timing.full = performance.now() - sent;
  }));
}

const indexAt = (time) => {
  let i = state.answer.time.findIndex((t) => t > time + 1e-3);
  return i < 0 ? state.answer.time.length - 1 : Math.max(0, i - 1);
};

/// Lets the clamp leave before one's eyes.
function play(from, to) {
  const start = performance.now(), id = ++running, t0 = state.answer.time[from], t1 = state.answer.time[to], duration = 1100;
  const step = (now) => {
    if (id !== running || !state.answer) return;
    const share = Math.min(1, (now - start) / duration);
    state.at = share < 1 ? indexAt(t0 + (t1 - t0) * share) : state.answer.time.length - 1;
    if (share >= 1) running = 0;
    render();
    if (share < 1) requestAnimationFrame(step);
  };
  state.at = from;
  render();
  requestAnimationFrame(step);
}

// ---- what an answer says ----

function nutsOff(a, i) {
  const off = new Array(a.studs).fill(false);
  for (const e of a.events) if (e.kind === "nut removed" && (e.time < a.time[i] || (e.time === a.time[i] && a.cold[i][e.stud - 1] === 0))) off[e.stud - 1] = true;
  return off;
}

/// The stud with the least cold clamp of those that have a nut.
function weakest(a, i) {
  const off = nutsOff(a, i);
  let stud = -1;
  a.cold[i].forEach((v, k) => { if (!off[k] && (stud < 0 || v < a.cold[i][stud])) stud = k; });
  return {stud, clamp: stud < 0 ? 0 : a.cold[i][stud], first: stud < 0 ? 0 : a.cold[0][stud]};
}

/// The clamp that each stud needs whose nut is on: the missing ones leave their share to the others.
function requiredAt(a, i) {
  const on = a.studs - nutsOff(a, i).filter(Boolean).length;
  return on > 0 ? a.required_with[on - 1] : a.required_with[0];
}

const kCount = ["no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"];

/// What must be said before anything else: nuts that are missing, and nuts that have run off.
function alarms(a, i) {
  const all = [], gone = nutsOff(a, i).filter(Boolean).length, on = a.studs - gone;
  if (gone === a.studs) all.push("No nut is on: nothing holds this wheel.");
  else if (gone > 0) all.push(`${gone === 1 ? "A nut is" : `${gone} nuts are`} missing: ${kCount[on]} stud${on === 1 ? "" : "s"} must carry what ten should, and each needs ${text(requiredAt(a, i), "force")} instead of ${text(a.required_clamp, "force")}. `
    + "Never drive like that. What this page leaves out makes it worse: the disc bends over the gap, so that the studs beside it carry more than their part and tire first. "
    + "That these two read more clamp is no gain: the disc under their nuts is no longer pulled down from beside them.");
  const free = new Set(a.events.filter((e) => e.kind === "nut free" && e.time <= a.time[i] + 1e-3).map((e) => e.stud)).size;
  const run = a.cold[i].filter((v, k) => v < 0.01 * a.cold[0][k] && !nutsOff(a, i)[k]).length;
  if (free > 0 && run > 0) all.push(`${run === a.studs ? "All nuts have" : run === 1 ? "A nut has" : `${run} nuts have`} run off: the wheel slid on the hub and turned them back until nothing held. A wheel like that comes off.`);
  return all;
}

/// The stud's record right after the last turn of the wrench, tightening included: [record].
function lastWrench(a) {
  const e = a.events.filter((x) => x.kind === "retorque").at(-1);
  if (!e) return 0;
  // The record before the act and the one after it stand at the same instant.
  return Math.max(0, a.time.findLastIndex((t) => t <= e.time + 1e-3));
}

function say(full) {
  const a = state.answer, end = a.time.length - 1, w = weakest(a, end), need = requiredAt(a, end), off = nutsOff(a, end);
  const below = w.clamp < need;
  let words = `${changed ? changed + ". " : ""}${alarms(a, end).length ? alarms(a, end).map((x) => x.split(/[.:]/)[0] + ". ").join("") : ""}`;
  words += `After ${timeText(a.time[end])} the weakest ${off.some(Boolean) ? "of the studs with a nut" : "stud"}, ${w.stud + 1}, has ${text(w.clamp, "force")} left of ${text(w.first, "force")} (${percent(w.clamp / w.first)})`;
  words += below ? `: below the required ${text(need, "force")}.` : `; ${text(need, "force")} are required.`;
  if (since && before !== null && before > 0 && Math.abs(w.clamp - before) > 50) words += ` That is ${text(Math.abs(w.clamp - before), "force")} ${w.clamp < before ? "less" : "more"} than ${since}.`;
  const wrench = a.events.filter((e) => e.kind === "retorque").at(-1), at = lastWrench(a);
  if (wrench && a.cold[at][w.stud] > 1.005 * a.cold[0][w.stud] && a.temperature[at][a.nodes.indexOf("hub")] > 308) {
    words += ` The wrench came to a warm wheel (hub ${text(a.temperature[at][a.nodes.indexOf("hub")], "temperature")}) and left stud ${w.stud + 1} with ${text(a.clamp[at][w.stud], "force")}; cold that is ${text(a.cold[at][w.stud], "force")}, more than at first.`;
  }
  const gone = a.events.filter((e) => e.kind === "nut removed");
  if (gone.length && state.acts.at(-1)?.kind === "remove_nut") {
    const e = gone.at(-1), i = a.time.findIndex((t) => t >= e.time - 1e-3), k = e.stud - 1, n = a.studs;
    const rise = [(k + n - 1) % n, (k + 1) % n].map((s) => a.cold[Math.min(i + 1, a.time.length - 1)][s] - a.cold[Math.max(0, i - (a.cold[i][k] === 0 ? 1 : 0))][s]);
    if (full) words += ` Its neighbours ${(k + n - 1) % n + 1} and ${(k + 1) % n + 1} read ${text(rise[0], "force")} and ${text(rise[1], "force")} more, since the disc is no longer pulled down between them; but each stud now needs ${text(need - a.required_clamp, "force")} more.`;
  }
  if (wrench && state.acts.at(-1)?.kind === "retorque" && wrench.time >= state.acts.at(-1).time - 1) {
    words += ` The wrench: ${wrench.text}${/^0 of/.test(wrench.text) ? ": friction of rest held them against the same torque, too little was lost" : ""}.`;
  }
  $("said").textContent = words + (full ? "" : " (First answer, all studs alike.)");
  if (full) $("said").removeAttribute("aria-busy");
  $("speed").textContent = full ? "" : a.events.some((e) => e.kind === "nut free") ? "Nuts turn: ten studs with their neighbours take a little longer." : "Calculating the ten studs with their neighbours.";
}

const kMechanisms = {
  embedding: ["embedding", "rough faces settle into each other", 5], unseated: ["unseated part", "a part was not pulled home", 10],
  coating_creep: ["coating creep", "warm paint gives way under pressure", 1], coating_flow: ["coating flow", "hot paint runs out of the joint", 2],
  coating_breakdown: ["coating breakdown", "paint burns or flakes off", 4], metal_creep: ["metal creep", "hot aluminium gives way", 6],
  washer_set: ["washer set", "spring washers lose height", 7], washer_friction: ["washer friction", "between nested washers", 9],
  stud_yield: ["stud yield", "the stud is stretched for good", 8], nut_rotation: ["nut rotation", "the nut turns back", 3], wear: ["wear", "sliding faces wear", 10]
};

function sectionModel(a, i) {
  const s = state.settings, k = state.stud, layers = a.layers.length;
  const hot = Object.fromEntries(a.nodes.map((n, m) => [n, a.temperature[i][m]]));
  const part = (name, thickness, hole, pad, node) => ({name, thickness, hole, pad, celsius: hot[node] - 273.15, heat: text(hot[node], "temperature")});
  const parts = [part("hub", 20, 24, 75, "hub"), part("drum", 12, 24, 75, "hub"), part("inner disc", s.disc_thickness * 1e3, 26, 75, "inner disc"), part("outer disc", s.disc_thickness * 1e3, 26, 75, "outer disc")];
  if (s.spacer > 0) parts.push(part("ring", s.spacer * 1e3, 25, 50, "outer disc"));
  const films = a.layers.map((name, l) => ({part: /outer disc (head|nut)_side/.test(name) ? "outer disc" : "inner disc", side: /head_side$/.test(name) ? "head_side" : "nut_side",
    first: s.paint_thickness * 1e6, now: a.films[i] ? a.films[i][k * layers + l] * 1e6 : 0}));
  const force = a.clamp[i][k], first = a.clamp[0][k], hidden = predicting();
  const lost = a.mechanisms.reduce((sum, m, j) => sum + (m === "nut_rotation" ? 0 : a.loss[j][i][k]), 0);
  return {parts, films, washers: s.spring_washers, sleeve: s.sleeve, sleeveLength: Math.min(2 * s.disc_thickness * 1e3, 24) + (s.spacer > 0 ? s.spacer * 1e3 : 0), off: nutsOff(a, i)[k], share: first > 0 ? force / first : 0,
    stretch: hidden ? 0 : force * a.stud_resilience * 1e6, firstStretch: hidden ? 0 : first * a.stud_resilience * 1e6, stretchText: hidden ? "predict it first" : text(force * a.stud_resilience, "film"),
    lost: lost * 1e6, lostText: text(lost, "film"), gripText: `grip length ${text(a.grip_length, "length")}`,
    label: `Stud ${k + 1} in section: ${hidden ? "" : `stretched by ${text(force * a.stud_resilience, "film")}, `}${text(lost, "film")} of thickness lost`};
}

/// What the charts mark: acts of people each time, of everything else the first.
const shownEvents = (a) => a.events.filter((e, i) => ["retorque", "nut removed"].includes(e.kind) || a.events.findIndex((o) => o.kind === e.kind) === i).slice(0, 12);
const kEvents = {
  "below required clamp": "below the required clamp", gap: "gap: the joint opens a little in each turn of the wheel", open: "open: no clamp is left",
  "nut free": "run off: the nut has turned until nothing holds it", "stud fatigue": "stud fatigue: bent in each turn by more than it bears for good",
  "stud yield": "stud yield: stretched for good", "nut removed": "nut taken off", retorque: "retorque", "hot day": "a hot day", "outside calibration": "hotter than the values are known for"
};
const letter = (n) => String.fromCharCode(65 + n);

/// What an event is, and which studs it befell.
const eventName = (a, e) => {
  const name = kEvents[e.kind] || e.kind;
  if (e.stud < 1) return name;
  const alike = e.kind === "below required clamp" ? a.cold[Math.max(indexAt(e.time), a.time.findIndex((t) => t >= e.time))].filter((v) => v < a.required_clamp).length
    : new Set(a.events.filter((o) => o.kind === e.kind && Math.abs(o.time - e.time) < 60).map((o) => o.stud)).size;
  return `${name} (${alike >= a.studs ? `all ${kCount[a.studs]} studs` : alike > 1 ? `${kCount[alike]} studs` : `stud ${e.stud}`})`;
};

/// Pictures are drawn for the usual text, and as much larger as the text is.
const zoom = () => document.documentElement.dataset.size === "large" ? 22 / 16 : 1;
function chartWidth(id) { return Math.max(240, Math.floor($(id).clientWidth / zoom())); }
const zoomed = (svg) => svg.replace(/ width="([\d.]+)" height="([\d.]+)"/, (_, w, h) => ` width="${Math.round(w * zoom())}" height="${Math.round(h * zoom())}"`);

function render() {
  const a = state.answer;
  if (!a) return;
  state.at = Math.min(state.at, a.time.length - 1);
  const i = state.at, k = state.stud, off = nutsOff(a, i), need = requiredAt(a, i), full = Math.max(...a.cold[0]);
  const focused = document.activeElement?.closest?.(".stud")?.dataset.stud;
  const describe = (s) => off[s] ? "its nut is off" : `${text(a.cold[i][s], "force")} cold clamp, ${percent(a.cold[i][s] / a.cold[0][s])} of the first${a.cold[i][s] < need ? ", below the required clamp" : ""}`;
  $("wheel").innerHTML = drawWheel(a.cold[i], full, need, off, k, (v) => bare(v, "force"), describe);
  if (focused !== undefined) $("wheel").querySelector(`[data-stud="${focused}"]`).focus();
  $("section").innerHTML = zoomed(drawSection(sectionModel(a, i), chartWidth("section")));
  $("section-note").textContent = `Paint is drawn 40 times as thick as it is, its dashed outline is what was put on. Marks on the stud stand further apart where it is stretched. The warmer a part, the redder. ${state.settings.sleeve ? "Green: the sleeve that fills the hole. " : ""}Not to scale.`;
  for (const e of document.querySelectorAll(".which")) e.textContent = k + 1;
  for (const e of document.querySelectorAll(".force-unit")) e.textContent = unit("force")[0];
  $("remove-stud").textContent = k + 1;
  $("remove").disabled = nutsOff(a, a.time.length - 1)[k];

  const events = shownEvents(a), scale = unit("force")[1], needs = a.time.map((_, n) => requiredAt(a, n));
  const highest = Math.max(full, ...(state.which === "clamp" ? a.clamp.map((row) => Math.max(...row)) : a.cold.map((row) => Math.max(...row))), 1.05 * Math.max(...needs));
  $("clamp-chart").innerHTML = zoomed(lineChart({width: chartWidth("clamp-chart"), time: a.time, values: a[state.which].map((row) => row.map((v) => v * scale)), lines: a.studs,
    end: Math.max(state.end, a.time.at(-1)), top: highest * 1.08 * scale, unit: unit("force")[0], required: needs.map((v) => v * scale), requiredText: text(a.required_clamp, "force"), events, at: i, chosen: k}));
  $("clamp-read").textContent = `At ${timeText(a.time[i])}: ` + a[state.which][i].map((v, s) => `${s + 1}: ${bare(v, "force")}`).join(", ") + ` ${unit("force")[0]}`;
  $("clamp-legend").innerHTML = a.cold[0].map((_, s) => `<li><span class="swatch" style="background:var(--series-${s + 1})"></span>${s + 1}</li>`).join("")
    + events.map((e, n) => `<li><strong>${letter(n)}</strong> ${esc(eventName(a, e))}, ${state.full ? "" : "about "}${timeText(e.time)}</li>`).join("");

  const layers = a.mechanisms.map((m, j) => ({name: m, colour: `var(--series-${(kMechanisms[m] || [m, "", 10])[2]})`, values: a.cost[j].map((row) => row[k] * scale), j}))
    .filter((l) => Math.max(...l.values) > 0.002 * full * scale);
  const taken = a.time.map((_, n) => layers.reduce((sum, l) => sum + Math.max(0, l.values[n]), 0));
  $("budget-chart").innerHTML = zoomed(stackChart({width: chartWidth("budget-chart"), time: a.time, layers, end: Math.max(state.end, a.time.at(-1)), top: Math.max(0.02 * full * scale, ...taken) * 1.1, unit: `${unit("force")[0]} taken`, events, at: i}));
  const first = a.cold[0][k];
  const row = (name, um, force, extra = "") => `<tr${extra}><td>${name}</td><td>${um === null ? "" : bare(um, "film", system === "si" ? 1 : 2)}</td><td>${bare(force, "force")}</td><td>${percent(first > 0 ? force / first : 0)}</td></tr>`;
  let others = 0;
  a.mechanisms.forEach((m, j) => { if (!layers.some((l) => l.j === j)) others += a.cost[j][i][k]; });
  $("budget").innerHTML = `<thead><tr><th scope="col">mechanism</th><th scope="col">${unit("film")[0]} lost</th><th scope="col">${unit("force")[0]}</th><th scope="col">of first</th></tr></thead><tbody>` + row("first cold clamp", null, first)
    + layers.map((l) => row(`<span class="swatch" style="background:${l.colour}"></span><span title="${esc((kMechanisms[l.name] || ["", ""])[1])}">${esc((kMechanisms[l.name] || [l.name])[0])}</span>: ${esc((kMechanisms[l.name] || ["", ""])[1])}`, a.loss[l.j][i][k], -a.cost[l.j][i][k])).join("")
    + (Math.abs(others) > 1 ? row("other mechanisms", null, -others) : "")
    + (Math.abs(a.gain[i][k]) > 1 ? row("by wrench and hand since", null, a.gain[i][k]) : "") + row("cold clamp now", null, a.cold[i][k], ' class="sum"') + "</tbody>";

  const w = weakest(a, i), margins = a.slip_margin.slice(0, i + 1).filter((m) => m !== null), margin = margins.length ? Math.min(...margins) : null;
  const key = (name, value, bad) => `<div><dt>${name}</dt><dd${bad ? ' class="bad"' : ""}>${value}</dd></div>`;
  $("state").innerHTML = key("since tightening", timeText(a.time[i])) + key("driven", text(a.distance[i], "distance")) + key(`weakest stud (${w.stud + 1}), cold`, text(w.clamp, "force"), w.clamp < need)
    + key(off.some(Boolean) ? `required clamp, ${kCount[a.studs - off.filter(Boolean).length]} nuts on` : "required clamp", text(need, "force"), off.some(Boolean)) + key("worst slip margin so far (above 1 it holds)", margin === null ? "–" : margin.toFixed(2), margin !== null && margin < 1)
    + a.nodes.map((n, m) => key(`${n} now`, text(a.temperature[i][m], "temperature"))).join("")
    + ["drum", "outer disc"].map((n) => key(`hottest ${n} in what is recorded`, text(Math.max(...a.temperature.slice(0, i + 1).map((row) => row[a.nodes.indexOf(n)])), "temperature"))).join("")
    + (a.softening > 0 ? key("the paint softens about", text(a.softening, "temperature")) : "");
  const urgent = alarms(a, i);
  $("alarms").innerHTML = urgent.map((x) => `<p class="alarm">${esc(x)}</p>`).join("");
  $("warnings").innerHTML = [...urgent, ...a.warnings].map((x) => `<li>${esc(x)}</li>`).join("");
  for (const e of document.querySelectorAll("[data-why]")) e.textContent = why(a);
  $("moment").max = a.time.length - 1;
  $("moment").value = i;
  $("moment").setAttribute("aria-valuetext", timeText(a.time[i]));
  $("moment-text").textContent = `${timeText(a.time[i])}${i === a.time.length - 1 ? " (now)" : ""}`;
  $("now").textContent = `Now: ${timeText(a.time.at(-1))}, ${text(a.distance.at(-1), "distance")}`;
  $("did").innerHTML = state.acts.map((act) => `<li>${act.kind === "retorque" ? "All nuts retorqued" : `Nut of stud ${act.stud} taken off`}, asked for at ${timeText(act.time)}</li>`).join("");
  $("undo").disabled = state.acts.length === 0;
}

/// Why the required clamp is what it is.
function why(a) {
  const hardest = a.cases.reduce((x, y) => Math.max(y.for_slip, y.for_gap) > Math.max(x.for_slip, x.for_gap) ? y : x);
  return `it is the clamp for a ${hardest.name} of the full vehicle, dynamic factor included, with ${percent(a.required_margin - 1).replace(".0", "")} in hand, and a common day is milder. `
    + "Nobody knows the friction of the faces; one torque scatters the clamp by often ±25 % (common practice, no source), so that some stud has much less than the wrench promised; "
    + "and with little clamp a joint gapes in each turn and its studs tire.";
}

// ---- acts ----

const kLongest = 52 * 7 * kDay;
for (const button of document.querySelectorAll("[data-on]")) {
  button.addEventListener("click", () => {
    if (state.end >= kLongest) { $("said").textContent = "A year is as far as the classroom goes. Tighten anew."; return; }
    state.end = Math.min(kLongest, state.end + Number(button.dataset.on));
    state.following = true;
    ask(`Driven on by ${button.textContent.slice(2)}`);
  });
}
$("restart").addEventListener("click", () => { state.end = kDay; state.acts = []; state.following = true; ask("Tightened anew, first day"); });
$("retorque").addEventListener("click", () => { state.acts.push({kind: "retorque", time: state.end}); state.following = true; ask("Retorqued at the next halt", "before the wrench came"); });
$("remove").addEventListener("click", () => { state.acts.push({kind: "remove_nut", time: state.end, stud: state.stud + 1}); state.following = true; ask(`Nut of stud ${state.stud + 1} taken off`); });
$("undo").addEventListener("click", () => { state.acts.pop(); ask("Undone"); });

function choose(stud) { state.stud = stud; render(); $("said").textContent = `Stud ${stud + 1} chosen.`; }
$("wheel").addEventListener("click", (e) => { const s = e.target.closest(".stud"); if (s) choose(Number(s.dataset.stud)); });
$("wheel").addEventListener("keydown", (e) => {
  const s = e.target.closest(".stud");
  if (!s || !["Enter", " ", "ArrowRight", "ArrowLeft"].includes(e.key)) return;
  e.preventDefault();
  const n = state.answer.studs, stud = (Number(s.dataset.stud) + (e.key === "ArrowRight" ? 1 : e.key === "ArrowLeft" ? n - 1 : 0)) % n;
  choose(stud);
  $("wheel").querySelector(`[data-stud="${stud}"]`).focus();
});

function look(i) {
  if (!state.answer) return;
  running = 0;
  state.at = Math.max(0, Math.min(state.answer.time.length - 1, i));
  state.following = state.at === state.answer.time.length - 1;
  render();
}
$("moment").addEventListener("input", (e) => look(Number(e.target.value)));
for (const id of ["clamp-chart", "budget-chart"]) {
  const point = (e) => {
    if (!state.answer) return;
    const box = $(id).getBoundingClientRect(), width = chartWidth(id);
    const t = ((e.clientX - box.left) / zoom() - kPad.left) / (width - kPad.left - kPad.right) * Math.max(state.end, state.answer.time.at(-1));
    const all = state.answer.time;
    let best = 0;
    all.forEach((v, i) => { if (Math.abs(v - t) < Math.abs(all[best] - t)) best = i; });
    look(best);
  };
  $(id).addEventListener("pointermove", point);
  $(id).addEventListener("pointerdown", point);
  $(id).addEventListener("pointerleave", () => { if (state.answer) look(state.answer.time.length - 1); });
  $(id).addEventListener("keydown", (e) => {
    const move = {ArrowRight: 1, ArrowLeft: -1, PageUp: 10, PageDown: -10, Home: -1e6, End: 1e6}[e.key];
    if (move === undefined) return;
    e.preventDefault();
    look(state.at + move);
    $("said").textContent = $("clamp-read").textContent;
  });
}
for (const input of document.querySelectorAll("input[name=units], input[name=size], input[name=clamp]")) {
  input.addEventListener("change", () => {
    if (input.name === "units") system = input.value;
    if (input.name === "size") document.documentElement.dataset.size = input.value;
    if (input.name === "clamp") state.which = input.value;
    showControls();
    render();
    if (input.name === "units") showLesson();
  });
}
let resizing = 0;
addEventListener("resize", () => { cancelAnimationFrame(resizing); resizing = requestAnimationFrame(render); });

// ---- lessons ----

/// What became of each lesson; a lesson left is found again as it was.
const fresh = () => ({chosen: null, committed: false, shown: false, tries: [], trying: null, asked: 0});
const lessons = kLessons.map(fresh);
let at = 0, lesson = lessons[0]; // free play: at is kLessons.length, lesson null

/// A prediction is to be made of what the section would give away.
const predicting = () => Boolean(lesson && kLessons[at].hides && !lesson.committed);

function openLesson(n) {
  at = n;
  lesson = lessons[n] || null;
  document.querySelector(".lesson-tabs").innerHTML = kLessons.map((l, i) => `<button type="button" data-lesson="${i}" aria-pressed="${i === n}" aria-label="Lesson ${i + 1}: ${l.name}" title="${l.name}">${i + 1}${i === n ? ` ${l.name}` : ""}</button>`).join("")
    + `<button type="button" data-lesson="${kLessons.length}" aria-pressed="${n === kLessons.length}">Free play</button>`;
  showLesson();
  document.querySelector(".side").scrollTop = 0;
  // Its own wheel, just tightened: what another lesson left would answer the wrong question.
  if (lesson) { lesson.trying = null; setWheel({...kLessons[n].tries[0], end: 60 / kDay, acts: []}); ask(`Lesson ${n + 1}: its wheel, just tightened`); }
  else { setWheel({set: {}, end: 1}); ask("Free play: the usual wheel, first day"); }
}

/// Puts in place what a lesson's button says.
function setWheel(t) {
  state.settings = {...kStart, ...t.set};
  state.end = t.end * kDay;
  state.acts = (t.acts || []).map((act) => ({...act, time: act.time * kDay}));
  state.following = true;
  running = 0;
  showControls();
}

function showLesson() {
  const l = kLessons[at];
  if (!l) {
    $("lesson").innerHTML = `<p class="question" id="lesson-title">Free play: set up any wheel and drive it.</p><p class="note">Things to ask it: how thin must paint be before it does not matter? What does a nut that is left off do to its neighbours? How late may the retorque be?</p>`;
    return;
  }
  const option = (o, i) => `<label class="${lesson.shown ? (i === l.right ? "right" : i === lesson.chosen ? "wrong" : "") : ""}"><input type="radio" name="guess" value="${i}"${i === lesson.chosen ? ' checked="checked"' : ""}${lesson.committed ? ' disabled="disabled"' : ""}/><span>${told(o)}</span></label>`;
  let html = `<p class="question" id="lesson-title">${at + 1}. ${told(l.question)}</p>`;
  if (!lesson.committed || lesson.shown) html += `<fieldset class="options"><legend class="note">Your prediction</legend>${l.options.map(option).join("")}</fieldset>`;
  else html += `<p class="note">Your prediction: <strong>${told(l.options[lesson.chosen])}</strong></p>`;
  if (!lesson.committed) html += `<button type="button" class="main" id="commit"${lesson.chosen === null ? ' disabled="disabled"' : ""}>That is my prediction</button> <span class="note">Choose first; then the wheel answers.</span>`;
  else {
    html += `<p class="note">Now try. Each button sets the whole wheel.</p><div class="buttons">${l.tries.map((t, i) => `<button type="button" data-try="${i}" aria-pressed="${lesson.trying === i}">${told(t.label)}</button>`).join("")}</div>`
      + `<div id="outcome"></div><div id="tries"></div>`;
    if (!lesson.shown) html += `<button type="button" class="main" id="reveal"${lesson.tries.some(Boolean) ? "" : ' disabled="disabled"'}>What does it show?</button>`;
    else html += `<div class="shows" id="shows" tabindex="-1"><p class="verdict">${lesson.chosen === l.right ? "Your prediction holds." : `Not quite. It is: ${told(l.options[l.right])}.`}</p>${told(l.shows)}${at + 1 < kLessons.length ? "" : "<p>That was the last lesson. Free play is next.</p>"}<p><button type="button" data-lesson="${at + 1}">${at + 1 < kLessons.length ? "Next lesson" : "Free play"}</button> <button type="button" id="anew">This lesson anew</button></p></div>`;
  }
  $("lesson").innerHTML = html;
  if (state.answer) for (const e of document.querySelectorAll("[data-why]")) e.textContent = why(state.answer);
  showTries();
}

/// Columns of the table of tries: [name, kind of quantity, value].
const kColumns = {
  lost: ["thickness lost", "film", (t) => t.lost], stretch: ["stretch at first", "film", (t) => t.stretch], margin: ["worst slip margin", "", (t) => t.margin === null ? "–" : t.margin.toFixed(2)],
  share: ["share left", "", (t) => percent(t.left / t.first)], first: ["first clamp", "force", (t) => t.first], left: ["clamp left", "force", (t) => t.left],
  after: ["after the wrench", "force", (t) => t.after], since: ["lost since the wrench", "force", (t) => t.after - t.left], disc: ["hottest outer disc", "temperature", (t) => t.disc]
};

function showTries() {
  const box = $("tries");
  if (!box) return;
  const rows = lesson.tries.map((t, i) => ({t, i})).filter(({t}) => t), used = kLessons[at].columns.map((c) => kColumns[c]);
  // The name of a try has a line of its own: beside three numbers there is no room for it on a phone or for the back row.
  box.innerHTML = rows.length ? `<table><caption class="note">The weakest stud; its cold clamp.</caption><thead><tr>${used.map(([n, kind]) => `<th scope="col">${n}${kind ? `, ${unit(kind)[0]}` : ""}</th>`).join("")}</tr></thead>`
    + rows.map(({t, i}) => `<tbody${i === lesson.trying ? ' class="trying"' : ""}><tr class="tried"><th scope="rowgroup" colspan="${used.length}">${told(kLessons[at].tries[i].label)}${t.full ? "" : i === lesson.trying ? " (calculating)" : " (first answer, all studs alike)"}</th></tr><tr class="found">${used.map(([, kind, f]) => `<td>${kind ? bare(f(t), kind) : f(t)}</td>`).join("")}</tr></tbody>`).join("") + "</table>" : "";
  const t = lesson.trying === null ? null : lesson.tries[lesson.trying];
  $("outcome").innerHTML = t ? `<div class="mini" aria-hidden="true">${t.wheel()}</div><div>${t.alarm ? `<p class="bad">${esc(t.alarm)}</p>` : ""}<p>${timeText(t.time)}: <strong>${text(t.left, "force")}</strong> of ${text(t.first, "force")} left</p><div class="bar" aria-hidden="true"><span class="${t.left < t.need ? "low" : ""}" style="width:${(100 * Math.max(0, Math.min(1, t.left / Math.max(t.first, t.need)))).toFixed(1)}%"></span><i style="left:${(100 * t.need / Math.max(t.first, t.need)).toFixed(1)}%"></i></div><p class="note">line: required ${text(t.need, "force")}</p></div>` : "";
}

/// Scrolls an element of the lesson into sight, and nothing else: beside the wheel the lesson is a scroller of its own.
function bringIn(element) {
  const side = document.querySelector(".side"), box = element.getBoundingClientRect();
  if (getComputedStyle(side).overflowY !== "auto") { element.scrollIntoView({block: "nearest"}); return; }
  const top = side.getBoundingClientRect().top, bottom = Math.min(side.getBoundingClientRect().bottom, document.querySelector(".caution").getBoundingClientRect().top - 8);
  if (box.bottom > bottom) side.scrollTop += box.bottom - bottom;
  else if (box.top < top) side.scrollTop -= top - box.top;
}

/// The answer to what a lesson's button asked becomes a row of its table.
function lessonAnswer(full) {
  if (!lesson || lesson.trying === null || lesson.asked !== asked) return;
  const a = state.answer, last = a.time.length - 1, w = weakest(a, last), off = nutsOff(a, last), need = requiredAt(a, last);
  const margins = a.slip_margin.filter((m) => m !== null), top = Math.max(...a.cold[0]);
  lesson.tries[lesson.trying] = {full, first: w.first, left: w.clamp, need, time: a.time[last], stretch: a.clamp[0][w.stud] * a.stud_resilience, margin: margins.length ? Math.min(...margins) : null,
    lost: a.mechanisms.reduce((sum, m, j) => sum + (m === "nut_rotation" ? 0 : a.loss[j][last][w.stud]), 0), after: a.cold[lastWrench(a)][w.stud],
    disc: Math.max(...a.temperature.map((row) => row[a.nodes.indexOf("outer disc")])), alarm: alarms(a, last).map((x) => x.split(/[.:]/)[0] + ".").join(" "),
    wheel: () => drawMini(a.cold[last], top, need, off)};
  showTries();
  // On a phone and for the back row the wheel itself is out of sight.
  bringIn($("outcome"));
  if ($("reveal")) $("reveal").disabled = false;
}

document.querySelector(".lesson").addEventListener("change", (e) => {
  if (e.target.name !== "guess") return;
  lesson.chosen = Number(e.target.value);
  $("commit").disabled = false;
});
document.querySelector(".lesson").addEventListener("click", (e) => {
  const button = e.target.closest("button");
  if (!button) return;
  if (button.dataset.lesson !== undefined) {
    openLesson(Number(button.dataset.lesson));
    document.querySelector(`.lesson-tabs [data-lesson="${at}"]`).focus();
  } else if (button.id === "anew") {
    lessons[at] = fresh();
    openLesson(at);
    document.querySelector(`.lesson-tabs [data-lesson="${at}"]`).focus();
  } else if (button.id === "commit") {
    lesson.committed = true;
    showLesson();
    if (state.answer) render();
    document.querySelector("[data-try]").focus();
  } else if (button.id === "reveal") {
    lesson.shown = true;
    showLesson();
    $("shows").focus({preventScroll: true});
    bringIn($("shows").querySelector(".verdict"));
  } else if (button.dataset.try !== undefined) {
    const t = kLessons[at].tries[Number(button.dataset.try)], again = lesson.trying !== null;
    lesson.trying = Number(button.dataset.try);
    setWheel(t);
    for (const b of document.querySelectorAll("[data-try]")) b.setAttribute("aria-pressed", String(b === button));
    showTries();
    ask(told(t.label), again ? "in the try before" : "");
    lesson.asked = asked;
  }
});

buildControls();
showControls();
startWorker();
openLesson(0);
