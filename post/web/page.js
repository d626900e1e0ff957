// Adds to a page what needs script: read-outs and zoom on charts, the slider, switches of units and of time or distance.
// Everything it moves is there without it. All data are SI; units come with factors in the data.
(() => {
  "use strict";

  const root = document.documentElement;
  const data = JSON.parse(document.getElementById("data").textContent);
  const state = {units: data.opensWith, along: "time"};
  const charts = [];
  const regions = [];

  // ---- numbers, as the report writes them ----

  const shown = (si, kind) => si * data.units[kind][state.units].scale + data.units[kind][state.units].offset;
  const unitOf = (kind) => data.units[kind][state.units].unit;

  // toFixed, but with halves to the even digit as the report's own numbers have them.
  function rounded(value, decimals) {
    const more = 25; // decimals that a half of the last digit cannot have
    const exact = value.toFixed(decimals + more);
    const cut = exact.slice(0, -more).replace(/\.$/, "");
    return /^50*$/.test(exact.slice(-more)) && /[02468]$/.test(cut) ? cut : value.toFixed(decimals);
  }

  function number(value, digits) {
    if (value === null || Number.isNaN(value)) return "-";
    if (value === 0) return "0";
    const scientific = value.toExponential(digits - 1);
    const magnitude = parseInt(scientific.slice(scientific.indexOf("e") + 1), 10);
    if (magnitude < -4 || magnitude > 6) return scientific.replace(/e([+-])(\d)$/, "e$10$2");
    return rounded(value, Math.max(0, digits - 1 - magnitude));
  }

  function plain(si, kind, digits) {
    const value = shown(si, kind);
    return number(kind !== "number" && Math.abs(value) < 1e-5 ? 0 : value, digits);
  }

  function show(si, kind, digits) {
    const unit = unitOf(kind);
    return plain(si, kind, digits) + (unit ? " " + unit : "");
  }

  // So many decimals as the unit has, for numbers that add up.
  function fixed(si, kind, bare) {
    const {unit, decimals} = data.units[kind][state.units];
    const text = rounded(shown(si, kind), decimals);
    return (Number(text) === 0 ? text.replace("-", "") : text) + (bare ? "" : " " + unit);
  }

  function write(element) {
    const {si, kind, digits, bare} = element.dataset;
    element.textContent = element.dataset.fixed ? fixed(Number(si), kind, bare)
      : (bare ? plain : show)(Number(si), kind, Number(digits));
  }

  function set(element, si) {
    if (!element) return;
    if (si === null) {
      element.textContent = "-";
      return;
    }
    element.dataset.si = si;
    write(element);
  }

  function momentText(t, d) {
    const far = show(d, "distance", 4);
    if (t <= 0) return "right after tightening, " + far;
    if (t < 120) return number(t, 3) + " s after tightening, " + far;
    const minutes = Math.round(t / 60);
    const days = Math.floor(minutes / 1440);
    const clock = Math.floor(minutes / 60) % 24 + ":" + String(minutes % 60).padStart(2, "0") + " h";
    return (days ? days + (days === 1 ? " day and " : " days and ") : "") + clock + " after tightening, " + far;
  }

  // ---- axes and labels, as the drawn charts have them ----

  function multiples(low, high, step) {
    const out = [];
    for (let i = Math.ceil(low / step - 1e-9); i * step <= high + 1e-9 * step; ++i) out.push(i * step);
    return out;
  }

  function ticks(low, high, most) {
    if (!(high > low)) return [];
    let decade = Math.pow(10, Math.floor(Math.log10((high - low) / most)) - 1);
    for (let fewer = []; ; decade *= 10) {
      for (const digit of [1, 2, 5]) {
        const found = multiples(low, high, digit * decade);
        if (found.length <= most) return found.length >= 2 || !fewer.length ? found : fewer;
        fewer = found;
      }
    }
  }

  function hourTicks(low, high, most) {
    for (const step of [1, 2, 3, 6, 12, 24]) {
      const found = multiples(low, high, step);
      if (found.length <= most && found.length >= 2) return found;
    }
    return ticks(low, high, most);
  }

  function timeUnit(span) {
    if (span >= 3 * 86400) return {name: "days", seconds: 86400};
    if (span >= 3 * 3600) return {name: "h", seconds: 3600};
    return span >= 180 ? {name: "min", seconds: 60} : {name: "s", seconds: 1};
  }

  const tickText = (v) => String(Math.round(v * 1e9) / 1e9);

  // Places at least `gap` apart, as near to the wanted ones as that allows.
  function spread(wanted, gap, low, high) {
    const order = wanted.map((_, i) => i).sort((a, b) => wanted[a] - wanted[b]);
    const blocks = [];
    const settle = (b) => { b.first = Math.max(low, Math.min(b.sum / b.count, high - gap * (b.count - 1))); };
    for (const i of order) {
      blocks.push({count: 1, sum: wanted[i]});
      settle(blocks[blocks.length - 1]);
      while (blocks.length > 1) {
        const after = blocks[blocks.length - 1];
        const before = blocks[blocks.length - 2];
        if (after.first >= before.first + gap * before.count) break;
        blocks.pop();
        before.sum += after.sum - after.count * gap * before.count;
        before.count += after.count;
        settle(before);
      }
    }
    const placed = [];
    let next = 0;
    for (const b of blocks) for (let i = 0; i < b.count; ++i) placed[order[next++]] = b.first + gap * i;
    return placed;
  }

  // Marks in lanes where their texts do not touch; alike and near ones together; the first of the list find room first.
  function placeMarks(marks, left, right, lanes) {
    const groups = [];
    const order = marks.map((mark, rank) => ({...mark, rank})).sort((a, b) => a.x - b.x);
    for (const mark of order) {
      const same = groups.find((g) => g.text === mark.text && mark.x - g.last < 24);
      if (same) {
        same.last = mark.x;
        ++same.count;
        same.rank = Math.min(same.rank, mark.rank);
      } else {
        groups.push({x: mark.x, last: mark.x, count: 1, text: mark.text, rank: mark.rank});
      }
    }
    const taken = Array.from({length: lanes}, () => []);
    const placed = [];
    let more = 0;
    for (const group of groups.sort((a, b) => a.rank - b.rank)) {
      const text = group.count > 1 ? `${group.text} (${group.count} times)` : group.text;
      const wide = textWidth(text);
      const from = Math.max(left, Math.min(group.x + 4, right - wide));
      const lane = taken.findIndex((others) => others.every(([a, b]) => from >= b + 10 || from + wide + 10 <= a));
      if (lane < 0) {
        more += group.count;
        placed.push({x: group.x});
      } else {
        taken[lane].push([from, from + wide]);
        placed.push({x: group.x, from, lane, text});
      }
    }
    if (more) {
      const text = `${more} more, see the table of events`;
      placed.push({x: null, from: right - textWidth(text), lane: lanes, text});
    }
    return placed;
  }

  // ---- small builders ----

  function make(tag, attributes, ...children) {
    const element = document.createElement(tag);
    for (const [name, value] of Object.entries(attributes)) {
      if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
      else if (value !== false) element.setAttribute(name, value === true ? "" : value);
    }
    element.append(...children);
    return element;
  }

  function svg(tag, attributes, ...children) {
    const element = document.createElementNS("http://www.w3.org/2000/svg", tag);
    for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
    element.append(...children);
    return element;
  }

  const ruler = document.createElement("canvas").getContext("2d");
  function textWidth(text) {
    ruler.font = "12px " + getComputedStyle(document.body).fontFamily;
    return ruler.measureText(text).width;
  }

  let choices = 0;
  // A row of radio buttons; options are [value, text].
  function choice(legend, options, value, act) {
    const name = "choice-" + ++choices;
    return make("fieldset", {class: "switch"}, make("legend", {}, legend),
      ...options.map(([v, text]) => make("label", {},
        make("input", {type: "radio", name, value: v, checked: v === value, onchange: () => act(v)}), text)));
  }

  const colour = (name) => getComputedStyle(root).getPropertyValue("--" + name).trim();
  const kLanes = 3;
  const kDashes = [null, [7, 3], [2, 3], [9, 3, 2, 3]];

  // ---- charts ----

  class LiveChart {
    constructor(figure, id) {
      this.id = id;
      this.spec = data.charts[id];
      this.variant = 0;
      this.hidden = new Set();
      this.figure = figure;
      this.box = make("div", {class: "live"});
      this.head = make("div", {class: "live-head"});
      this.name = make("span", {class: "muted"});
      this.read = make("p", {class: "live-read"});
      this.holder = make("div", {class: "live-chart", tabindex: "0", role: "group",
        "aria-label": this.spec.title + ". Left and right read values, plus and minus zoom, 0 shows all.",
        onkeydown: (event) => this.key(event)});
      this.keys = make("ul", {class: "live-keys", "aria-label": "Lines"});
      this.tools = make("div", {class: "live-tools"},
        make("button", {type: "button", "aria-label": "Zoom in", onclick: () => this.zoom(0.5)}, "+"),
        make("button", {type: "button", "aria-label": "Zoom out", onclick: () => this.zoom(2)}, "\u2212"),
        make("button", {type: "button", onclick: () => this.reset()}, "All"));
      this.head.append(this.name);
      if (this.spec.variants.length > 3) {
        this.head.append(make("label", {}, this.spec.choose + " ", make("select",
          {onchange: (event) => this.choose(Number(event.target.value))},
          ...this.spec.variants.map((v, i) => make("option", {value: i}, v.name)))));
      } else if (this.spec.variants.length > 1) {
        this.head.append(choice(this.spec.choose, this.spec.variants.map((v, i) => [String(i), v.name]), "0",
          (v) => this.choose(Number(v))));
      }
      this.head.append(this.tools);
      this.over = svg("svg", {class: "chart over", "aria-hidden": "true"});
      this.box.append(this.head, make("div", {class: "live-frame"}, this.holder, this.over), this.read, this.keys);
      figure.prepend(this.box);
      figure.classList.add("on");
      this.build();
    }

    get lines() { return this.spec.variants[this.variant].lines; }
    get byTime() { return this.spec.ofADay || state.along === "time"; }

    choose(variant) {
      this.variant = variant;
      this.build();
    }

    // [x, y of each line] with null where a line has nothing.
    table() {
      const variant = this.spec.variants[this.variant];
      const distance = data.units.distance[state.units];
      const xs = variant.axes.map((axis) => this.byTime ? axis.t.map((t) => t / this.clock.seconds)
        : axis.d.map((d) => d * distance.scale));
      const ys = this.lines.map((line) => line.y.map((y) => y === null ? null : shown(y, this.spec.y.kind)));
      if (xs.length === 1) return xs[0].map((x, i) => [x, ...ys.map((y) => y[i])]);
      // Lines that have a value at the same place share a row, so that one read-out tells of all of them; the second of
      // two values at one place, as at a retorque, goes into a second row.
      const rows = new Map();
      variant.axes.forEach((_, axis) => {
        const used = new Map();
        xs[axis].forEach((x, i) => {
          const at = used.get(x) || 0;
          used.set(x, at + 1);
          const alike = rows.get(x) || rows.set(x, []).get(x);
          if (at === alike.length) alike.push([x, ...this.lines.map(() => null)]);
          this.lines.forEach((line, l) => {
            if (line.axis === axis) alike[at][l + 1] = ys[l][i];
          });
        });
      });
      return [...rows.values()].sort((a, b) => a[0][0] - b[0][0]).flat();
    }

    build() {
      const variant = this.spec.variants[this.variant];
      const ends = variant.axes.map((axis) => [axis.t[0], axis.t[axis.t.length - 1]]);
      const span = Math.max(...ends.map((e) => e[1])) - Math.min(...ends.map((e) => e[0]));
      this.clock = this.spec.ofADay ? {name: "h", seconds: 3600} : timeUnit(span);
      this.rows = this.table();
      const all = this.rows.map((row) => row[0]);
      this.window = this.spec.ofADay ? [0, 24] : [all[0], all[all.length - 1]];
      if (!(this.window[1] > this.window[0])) this.window = [this.window[0], this.window[0] + 1];
      this.range = this.spec.range.map((v) => shown(v, this.spec.y.kind));
      const unit = unitOf(this.spec.y.kind);
      const along = this.spec.ofADay ? "hour of the day"
        : this.byTime ? "time since tightening, " + this.clock.name : "distance driven, " + unitOf("distance");
      this.name.textContent = `${this.spec.y.name}${unit ? ", " + unit : ""}, against ${along}`;
      // Room above the curves for what happened.
      const lanes = this.spec.marks.length > kLanes ? kLanes + 1 : this.spec.marks.length;
      const labelled = Math.max(0, ...this.lines.map((line) => line.label.length));
      const grid = colour("rule");
      if (this.graph) this.graph.destroy();
      this.holder.replaceChildren();
      this.graph = new Dygraph(this.holder, this.rows, {
        labels: ["x", ...this.lines.map((line, i) => `${i}`)],
        colors: this.lines.map((line) => colour("series-" + line.colour) + (line.faint ? "80" : "")),
        series: Object.fromEntries(this.lines.map((line, i) => [`${i}`,
          {strokePattern: kDashes[line.dash], strokeWidth: line.faint ? 1 : 1.8,
           // Few records show as what they are, as in the drawing of the page without script.
           drawPoints: !line.faint && !this.spec.stairs && line.y.filter((v) => Number.isFinite(v)).length <= 10, pointSize: 3.5}])),
        visibility: this.lines.map((line) => !this.hidden.has(line.name)),
        connectSeparatedPoints: true, legend: "never", animatedZooms: false, labelsUTC: true,
        highlightCircleSize: 3, dateWindow: this.window.slice(), valueRange: this.range.slice(),
        title: lanes ? "\u00a0" : undefined, titleHeight: lanes * 16 + 4,
        rightGap: labelled ? 24 + 7 * labelled : 14, axisLineColor: colour("edge"), gridLineColor: grid,
        axes: {
          x: {ticker: (a, b, pixels) => this.axis(this.byTime && this.clock.name === "h" ? hourTicks : ticks, a, b, pixels / 70)},
          y: {ticker: (a, b, pixels) => this.axis(ticks, a, b, pixels / 42), axisLabelWidth: 52}},
        drawCallback: (graph) => {
          this.graph = graph;
          this.overlay();
        },
        highlightCallback: (event, x, points, row) => this.say(row),
        unhighlightCallback: () => { this.read.textContent = ""; }
      });
      this.legend();
    }

    axis(how, a, b, most) {
      // The chart library leaves out what stands at the very end.
      return how(a, b, Math.max(3, Math.floor(most))).map((v) => ({v: Math.min(v, b - 1e-9 * (b - a)), label: tickText(v)}));
    }

    legend() {
      this.keys.replaceChildren(...this.lines.map((line, i) => {
        const sample = svg("svg", {"aria-hidden": "true"},
          svg("line", {class: `line s${line.colour} d${line.dash}`, x1: 0, y1: 4, x2: 28, y2: 4}));
        const box = make("input", {type: "checkbox", checked: !this.hidden.has(line.name),
          onchange: (event) => {
            if (event.target.checked) this.hidden.delete(line.name);
            else this.hidden.add(line.name);
            this.graph.setVisibility(i, event.target.checked);
          }});
        return make("li", {}, make("label", {}, box, sample, line.name));
      }));
    }

    // Levels, marks and labels at the lines' ends, over the curves: the chart library clips what it lets others draw.
    overlay() {
      const graph = this.graph;
      if (!graph) return;
      const area = graph.getArea();
      const right = area.x + area.w;
      const out = [];
      const line = (style, x1, y1, x2, y2) => out.push(svg("line", {class: style, x1, y1, x2, y2}));
      const text = (style, x, y, words, anchor = "start") =>
        out.push(svg("text", {class: style, x, y, "text-anchor": anchor}, words));
      const region = regions.find((r) => this.id.startsWith(r.prefix) && !this.spec.ofADay);
      if (region) {
        const at = graph.toDomXCoord(this.place(region.t, region.d));
        if (at >= area.x - 0.5 && at <= right + 0.5) line("moment-line", at, area.y, at, area.y + area.h);
      }
      const marks = this.spec.marks.map((m) => ({x: graph.toDomXCoord(this.place(m.t, m.d)), text: m.text}))
        .filter((m) => m.x >= area.x - 0.5 && m.x <= right + 0.5);
      for (const mark of placeMarks(marks, area.x, this.holder.clientWidth - 4, kLanes)) {
        if (mark.x !== null) line("mark", mark.x, area.y - (mark.text ? 3 + mark.lane * 16 : 0), mark.x, area.y + area.h);
        if (mark.text) text("mark-text", mark.from, area.y - 6 - mark.lane * 16, mark.text);
      }
      for (const level of this.spec.levels) {
        const at = graph.toDomYCoord(shown(level.y, this.spec.y.kind));
        if (at < area.y || at > area.y + area.h) continue;
        line("level", area.x, at, right, at);
        const above = at - 16 > area.y && this.crowd(right - 190, right, at - 20, at) <= this.crowd(right - 190, right, at, at + 20);
        text("level-text halo", right - 6, above ? at - 6 : at + 15,
          `${level.name} ${show(level.y, this.spec.y.kind, level.digits)}`, "end");
      }
      const [, last] = graph.xAxisRange();
      const ends = [];
      this.lines.forEach((one, i) => {
        if (!one.label || this.hidden.has(one.name)) return;
        for (let row = this.rows.length - 1; row >= 0; --row) {
          if (this.rows[row][0] <= last && this.rows[row][i + 1] !== null) {
            const y = graph.toDomYCoord(this.rows[row][i + 1]);
            if (y >= area.y && y <= area.y + area.h) ends.push({one, y, x: graph.toDomXCoord(this.rows[row][0])});
            return;
          }
        }
      });
      const placed = spread(ends.map((e) => e.y), 13, area.y, area.y + area.h);
      ends.forEach((end, i) => {
        line("leader s" + end.one.colour, Math.max(area.x, Math.min(end.x, right)), end.y, right + 14, placed[i]);
        text("label end s" + end.one.colour, right + 17, placed[i] + 4, end.one.label);
      });
      this.over.setAttribute("viewBox", `0 0 ${this.holder.clientWidth} ${this.holder.clientHeight}`);
      this.over.replaceChildren(...out);
    }

    // How many points of curves lie in a box of the picture.
    crowd(left, right, top, bottom) {
      let n = 0;
      for (const row of this.rows) {
        const x = this.graph.toDomXCoord(row[0]);
        if (x < left || x > right) continue;
        this.lines.forEach((line, i) => {
          const y = row[i + 1] === null || this.hidden.has(line.name) ? NaN : this.graph.toDomYCoord(row[i + 1]);
          if (y >= top && y <= bottom) ++n;
        });
      }
      return n;
    }

    place(t, d) { return this.byTime ? t / this.clock.seconds : d * data.units.distance[state.units].scale; }

    say(row) {
      const values = this.rows[row];
      if (!values) return;
      const at = this.spec.ofADay
        ? `${Math.floor(values[0] + 1e-6)}:${String(Math.round(values[0] * 60) % 60).padStart(2, "0")} h`
        : `${number(values[0], 4)} ${this.byTime ? this.clock.name : unitOf("distance")}`;
      const unit = unitOf(this.spec.y.kind);
      this.read.replaceChildren(make("b", {}, at + ": "), this.lines.map((line, i) =>
        values[i + 1] === null || this.hidden.has(line.name) ? null
          : `${line.faint ? line.name : line.label && line.name.startsWith(line.label + ":") ? line.label : line.name} ${number(values[i + 1], 4)}`)
        .filter((text) => text !== null).join(", ") + (unit ? " " + unit : ""));
      this.row = row;
    }

    key(event) {
      if (event.target !== this.holder) return;
      const step = event.shiftKey ? 20 : 1;
      const last = this.rows.length - 1;
      const go = (row) => {
        this.read.setAttribute("aria-live", "polite");
        this.row = Math.max(0, Math.min(last, row));
        this.graph.setSelection(this.row);
        this.say(this.row);
      };
      const acts = {
        ArrowLeft: () => go((this.row === undefined ? last + 1 : this.row) - step),
        ArrowRight: () => go((this.row === undefined ? -1 : this.row) + step),
        Home: () => go(0), End: () => go(last),
        "+": () => this.zoom(0.5), "=": () => this.zoom(0.5), "-": () => this.zoom(2),
        0: () => this.reset(), Escape: () => this.reset()
      };
      if (acts[event.key]) {
        event.preventDefault();
        acts[event.key]();
      }
    }

    // About what was read last, or the middle.
    zoom(factor) {
      const [a, b] = this.graph.xAxisRange();
      const read = this.row === undefined ? NaN : this.rows[this.row][0];
      const middle = read >= a && read <= b ? read : (a + b) / 2;
      const low = Math.max(this.window[0], middle - (middle - a) * factor);
      const high = Math.min(this.window[1], middle + (b - middle) * factor);
      this.graph.updateOptions({dateWindow: [low, high]});
    }

    reset() { this.graph.updateOptions({dateWindow: this.window.slice(), valueRange: this.range.slice()}); }
  }

  // ---- the slider and what it moves ----

  class Region {
    constructor(element, id) {
      this.element = element;
      this.prefix = id.slice(0, -"moment".length);
      this.moments = data.moments[id];
      this.whose = "weakest";
      this.at = this.moments.t.length - 1;
      this.readouts = [...element.querySelectorAll(".readout")];
      const input = make("input", {type: "range", min: 0, max: this.at, value: this.at, step: 1, id: id + "-range",
        oninput: () => this.move(Number(input.value))});
      const text = make("output", {class: "readout", for: id + "-range"});
      this.readouts.push(text);
      this.input = input;
      const slider = element.querySelector(".slider");
      slider.append(make("label", {for: id + "-range"}, make("span", {}, "Moment shown"), text), input);
      slider.hidden = false;
      const budget = element.querySelector("[data-choice=budget]");
      budget.append(choice("Budget of", [["weakest", "weakest stud"], ["mean", "mean of studs"]], "weakest",
        (whose) => {
          this.whose = whose;
          this.move(this.at);
        }));
      budget.hidden = false;
      this.whoseText = element.querySelector(".whose");
      this.weakestText = this.whoseText.textContent;
      element.querySelectorAll(".only-static").forEach((e) => e.remove());
      this.move(this.at);
    }

    get t() { return this.moments.t[this.at]; }
    get d() { return this.moments.d[this.at]; }

    move(at) {
      this.at = at;
      const text = momentText(this.t, this.d);
      this.readouts.forEach((e) => { e.textContent = text; });
      this.input.setAttribute("aria-valuetext", text);
      this.strip();
      this.waterfall();
      this.section();
      for (const chart of charts) {
        if (!chart.spec.ofADay && chart.id.startsWith(this.prefix)) chart.overlay();
      }
    }

    strip() {
      const svg = this.element.querySelector("svg.strip");
      if (!svg) return;
      const zero = Number(svg.dataset.y0);
      const scale = Number(svg.dataset.scale);
      const required = svg.dataset.required === "" ? -Infinity : Number(svg.dataset.required);
      svg.querySelectorAll("[data-stud]").forEach((group) => {
        const stud = Number(group.dataset.stud);
        const clamp = this.moments.clamp[stud][this.at];
        const bar = group.querySelector(".now");
        const height = Math.max(0, clamp) * scale;
        bar.setAttribute("y", zero - height);
        bar.setAttribute("height", height);
        bar.classList.toggle("below", clamp < required);
        const label = group.querySelector("text.value");
        label.setAttribute("y", Math.min(zero - height, Number(group.querySelector(".start").getAttribute("y"))) - 6);
        const off = this.moments.off[stud];
        if (off !== null && this.t >= off && clamp === 0) {
          label.textContent = "off";
          return;
        }
        if (!label.querySelector(".q")) {
          label.textContent = "";
          const span = svg("tspan", {class: "q"});
          Object.assign(span.dataset, {kind: "force", fixed: "1", bare: "1"});
          label.append(span);
        }
        set(label.querySelector(".q"), clamp);
      });
    }

    waterfall() {
      const svg = this.element.querySelector("svg.waterfall");
      if (!svg) return;
      const budget = this.moments[this.whose];
      const origin = Number(svg.dataset.x0);
      const scale = Number(svg.dataset.scale);
      const highest = Number(svg.dataset.highest);
      const x = (force) => origin + Math.max(0, Math.min(force, highest)) * scale;
      let level = budget.first;
      let loss = 0;
      svg.querySelectorAll("[data-role]").forEach((group) => {
        const role = group.dataset.role;
        let from = 0;
        let to = role === "first" ? budget.first : budget.left[this.at];
        if (role === "loss") {
          from = level;
          to = level - budget.force[loss][this.at];
          set(group.querySelector(".thickness .q"), budget.loss[loss][this.at]);
          ++loss;
        } else if (role === "gain") {
          from = level;
          to = level + budget.gain[this.at];
        }
        level = to;
        const bar = group.querySelector(".bar");
        bar.setAttribute("x", x(Math.min(from, to)));
        bar.setAttribute("width", Math.max(x(Math.max(from, to)) - x(Math.min(from, to)), 0.5));
        const connector = group.querySelector(".connector");
        if (connector) {
          connector.setAttribute("x1", x(to));
          connector.setAttribute("x2", x(to));
        }
        set(group.querySelector(".force .q"), to - from);
      });
      this.whoseText.textContent = this.whose === "mean" ? "Mean of the studs that keep their nuts." : this.weakestText;
    }

    section() {
      const svg = this.element.querySelector("svg.section");
      const cold = svg ? Number(svg.dataset.cold) : 0;
      const hot = svg ? Number(svg.dataset.hot) : 0;
      this.element.querySelectorAll("[data-node]").forEach((e) => {
        const temperature = this.moments.temperature[Number(e.dataset.node)][this.at];
        if (e.classList.contains("heat")) {
          e.style.opacity = hot > cold ? (temperature - cold) / (hot - cold) : 0;
        } else {
          set(e.querySelector(".q"), temperature);
        }
      });
      this.element.querySelectorAll("[data-layer]").forEach((e) => {
        const all = this.moments.layer[Number(e.dataset.layer)];
        if (!all) return;
        const thickness = all[this.at];
        if (!e.classList.contains("coating")) {
          set(e.querySelector(".q"), thickness);
        } else if (thickness !== null) {
          const wide = thickness * Number(e.dataset.scale);
          const face = Number(e.dataset.face);
          e.querySelectorAll("rect").forEach((rect) => {
            rect.setAttribute("x", e.dataset.side === "head" ? face : face - wide);
            rect.setAttribute("width", wide);
          });
        }
      });
    }
  }

  // ---- switches ----

  function rewrite() {
    root.dataset.units = state.units;
    document.querySelectorAll(".q").forEach(write);
    document.querySelectorAll(".u").forEach((e) => { e.textContent = unitOf(e.dataset.kind); });
    for (const region of regions) region.move(region.at);
    for (const chart of charts) chart.build();
  }

  const switches = document.getElementById("switches");
  switches.append(
    choice("Units", [["si", "kN, \u00b0C, km"], ["us", "lbf, \u00b0F, mi"]], state.units, (units) => {
      state.units = units;
      rewrite();
    }));
  if (Object.values(data.charts).some((spec) => spec.variants.length && !spec.ofADay)) {
    switches.append(choice("Charts against", [["time", "time"], ["distance", "distance"]], "time", (along) => {
      state.along = along;
      for (const chart of charts) chart.build();
    }));
  }
  switches.hidden = false;

  document.querySelectorAll("[data-moments]").forEach((e) => regions.push(new Region(e, e.dataset.moments)));
  document.querySelectorAll("[data-chart]").forEach((figure) => {
    if (data.charts[figure.dataset.chart].variants.length) charts.push(new LiveChart(figure, figure.dataset.chart));
  });
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => charts.forEach((c) => c.build()));
  addEventListener("beforeprint", () => document.querySelectorAll("details.print").forEach((e) => {
    e.dataset.was = e.open ? "open" : "";
    e.open = true;
  }));
  addEventListener("afterprint", () => document.querySelectorAll("details.print").forEach((e) => {
    e.open = e.dataset.was === "open";
  }));
})();
