(() => {
"use strict";
const data = JSON.parse(document.getElementById("data").textContent);
const form = document.getElementById("shown");
const bytes = text => Uint8Array.from(atob(text), c => c.charCodeAt(0)).buffer;
const decoded = new Map();
const numbers = text => {
  if (!decoded.has(text)) decoded.set(text, new Float32Array(bytes(text)));
  return decoded.get(text);
};
const hz = new Float64Array(bytes(data.hz));
const WANTED = -1, BEFORE = -2; // and down: what was accepted in the place of a realisation
const state = { choices: data.settings.map(() => 0), made: 0, paper: "" };
const store = "shown " + location.pathname;
const least = -300, slack = 1e-4;

// A series in the present settings: what it is in the default ones, and what choices add.
let cache = new Map();
const series = (quantity, way, made) => {
  const key = quantity + " " + way + " " + made;
  if (cache.has(key)) return cache.get(key);
  const was = data.before[BEFORE - made];
  const packed = (was ? was.moved : made === WANTED ? data.ideal : data.made[made].ways)[way][quantity];
  const out = Float64Array.from(numbers(packed.base));
  for (const share of packed.by || []) {
    let i = 0;
    for (const s of share.settings) i = i * data.settings[s].choices.length + state.choices[s];
    if (share.alt[i]) numbers(share.alt[i]).forEach((x, k) => { out[k] += x; });
  }
  if (was) series(quantity, way, was.of).forEach((x, k) => { out[k] = x - out[k]; });
  cache.set(key, out);
  return out;
};

const gain = db => 10 ** (db / 20);
const level = x => Math.max(least, 20 * Math.log10(x));
const wrap = deg => deg - 360 * Math.round(deg / 360);
const highOf = made => made === WANTED ? data.high_hz : data.made[made].high_hz;
const downOf = made => made === WANTED ? data.down_to_db : data.made[made].down_to_db;
const ways = data.ways.length;

// The greatest level of a way in the band, or of all ways' magnitudes together.
const peak = way => {
  const key = "peak " + way;
  if (!cache.has(key)) {
    let most = -Infinity;
    hz.forEach((f, i) => {
      if (f < data.low_hz || f > data.high_hz) return;
      let v = 0;
      if (way < ways) v = series("magnitude", way, WANTED)[i];
      else {
        for (let k = 0; k < ways; k++) v += gain(series("magnitude", k, WANTED)[i]);
        v = level(v);
      }
      most = Math.max(most, v);
    });
    cache.set(key, most);
  }
  return cache.get(key);
};
const below = (way, i) => series("magnitude", way, WANTED)[i] - peak(way);
const near = (way, i) => [way - 1, way + 1].some(n => n >= 0 && n < ways &&
  Math.abs(series("magnitude", n, WANTED)[i] - series("magnitude", way, WANTED)[i]) <= data.near_db + slack);

const added = (made, i) => {
  let re = 0, im = 0, size = 0;
  for (let way = 0; way < ways; way++) {
    let db = series("magnitude", way, WANTED)[i], deg = series("phase", way, WANTED)[i];
    size += gain(db);
    if (made !== WANTED) { db += series("magnitude", way, made)[i]; deg += series("phase", way, made)[i]; }
    re += gain(db) * Math.cos(deg * Math.PI / 180);
    im += gain(db) * Math.sin(deg * Math.PI / 180);
  }
  return { db: level(Math.hypot(re, im)), size: level(size) };
};

const total = (quantity, way, made, i) =>
  series(quantity, way, WANTED)[i] + (made === WANTED ? 0 : series(quantity, way, made)[i]);
const within = (quantity, way, made, i, inside) =>
  inside && hz[i] >= data.low_hz && hz[i] <= highOf(made) ? series(quantity, way, made)[i] : NaN;
const was = made => BEFORE - data.before.findIndex(b => b.of === made);
const kinds = {
  "level": (way, made, i) => total("magnitude", way, made, i),
  "error": (way, made, i) => within("magnitude", way, made, i, below(way, i) >= downOf(made) - slack),
  "between": (way, made, i) => kinds.error(way, made, i) - kinds.error(way, state.made, i),
  "phase": (way, made, i) => below(way, i) < -50 - slack ? NaN : wrap(total("phase", way, made, i) + 360 * (hz[i] * data.delay_s[way] % 1)),
  "phase-error": (way, made, i) => within("phase", way, made, i, below(way, i) >= downOf(made) - slack && near(way, i)),
  "delay": (way, made, i) => below(way, i) < -40 - slack ? NaN : total("delay", way, made, i),
  "delay-error": (way, made, i) => within("delay", way, made, i, below(way, i) >= -20 - slack),
  "sum": (way, made, i) => added(made, i).db,
  "sum-error": (way, made, i) => {
    const want = added(WANTED, i);
    if (hz[i] < data.low_hz || hz[i] > highOf(made) || want.db - want.size < -20 - slack || want.size - peak(ways) < downOf(made) - slack) return NaN;
    return added(made, i).db - want.db;
  },
  "moved": (way, made, i) => kinds.error(way, made, i) - series("magnitude", way, was(made))[i],
  "turned": (way, made, i) => wrap(kinds["phase-error"](way, made, i) - series("phase", way, was(made))[i]),
  "sum-moved": (way, made, i) => Number.isNaN(kinds["sum-error"](way, made, i)) ? NaN : added(made, i).db - added(was(made), i).db,
};

const first = hz[0], last = hz[hz.length - 1];
const axisOf = e => {
  const plot = e.closest(".plot");
  return plot.dataset.unit ? { low: +plot.dataset.low, high: +plot.dataset.high, unit: plot.dataset.unit } : { low: first, high: last, unit: "Hz" };
};
const xOf = (f, axis) => data.left + (data.right - data.left) * Math.log2(f / axis.low) / Math.log2(axis.high / axis.low);

// A line at places of its own, in the present settings: its values at x; none where these settings are not known of it.
const counts = data.settings.map(s => s.choices.length);
const ownOf = path => {
  const list = path.dataset.own.split(" ");
  return +list[Math.min(state.made, list.length - 1)];
};
const changedOf = o => o.settings.filter(s => state.choices[s] > 0);
const known = n => n < 0 || !data.own[n].one || changedOf(data.own[n]).length < 2;
const own = n => {
  const key = "own " + n;
  if (cache.has(key)) return cache.get(key);
  let out = { x: [], y: [] };
  if (n >= 0 && known(n)) {
    const o = data.own[n];
    if (o.run) {
      const at = "moments " + o.run.made + " " + o.run.way;
      if (!cache.has(at)) cache.set(at, runs.moments(data.time, o.run.made, o.run.way, state.choices, counts));
      const m = cache.get(at)[o.run.pulse ? "pulse" : "step"];
      out = { x: m.ms, y: m[o.run.of] };
    } else {
      const changed = changedOf(o);
      let i = 0;
      if (!o.one) for (const s of o.settings) i = i * counts[s] + state.choices[s];
      else if (changed.length) {
        i = state.choices[changed[0]];
        for (const s of o.settings) if (s < changed[0]) i += counts[s] - 1;
      }
      out = { x: numbers(data.lists[o.x[i]]), y: numbers(data.lists[o.y[i]]) };
      if (o.add || o.from !== undefined) {
        const base = numbers(data.lists[o.y[0]]), from = o.from === undefined ? null : numbers(data.lists[o.from]), add = o.add ? series("magnitude", o.add[0], o.add[1]) : null;
        out.y = Array.from(out.x, (f, k) => {
          const v = out.y[k] + (add ? between(hz, add, f) : 0);
          return from ? from[k] * gain(v - base[k]) : v;
        });
      }
    }
  }
  cache.set(key, out);
  return out;
};
// The value of a line between its places, as it is drawn; NaN beyond them.
const between = (x, y, at) => {
  let lo = 0, hi = x.length - 1;
  if (hi < 0 || at < x[0] * (1 - 1e-6) || at > x[hi] * (1 + 1e-6)) return NaN;
  while (hi - lo > 1) { const mid = (lo + hi) >> 1; if (x[mid] <= at) lo = mid; else hi = mid; }
  if (hi === lo || Math.abs(at / x[lo] - 1) < 1e-6) return y[lo];
  const t = Math.log(at / x[lo]) / Math.log(x[hi] / x[lo]);
  return t > 1 - 1e-6 ? y[hi] : y[lo] + t * (y[hi] - y[lo]);
};

const shownMade = made => made === WANTED || data.made[made].board || made === state.made;
const shownLine = path => path.dataset.as !== undefined || shownMade(+path.dataset.line);
const read = strip => ({
  kind: strip.dataset.strip, way: +strip.dataset.way, low: +strip.dataset.low, high: +strip.dataset.high,
  top: +strip.dataset.top, scale: +strip.dataset.scale, unit: strip.dataset.unit, name: strip.dataset.name,
});

const tenth = x => Math.round(x * 10) / 10 + 0;
const draw = strip => {
  const s = read(strip), past = s.high - s.low, axis = axisOf(strip);
  const yOf = v => s.top + data.height * (s.high - v) / past;
  for (const path of strip.querySelectorAll("[data-own]")) {
    const { x, y } = own(ownOf(path)), thin = s.kind === "time";
    let d = "", begin = true, lastX = 0, lastY = 0;
    x.forEach((f, i) => {
      if (thin && (f < axis.low || f >= axis.high)) return;
      if (Number.isNaN(y[i])) { begin = true; return; }
      const to = xOf(f, axis), down = yOf(Math.max(s.low - past, Math.min(s.high + past, y[i] * s.scale)));
      if (thin && !begin && to - lastX <= data.time.close_x && Math.abs(down - lastY) <= data.time.close_y) return;
      lastX = to;
      lastY = down;
      d += (begin ? "M" : "L") + tenth(to) + " " + tenth(down);
      begin = false;
    });
    path.setAttribute("d", d);
  }
  for (const path of strip.querySelectorAll("[data-band]")) {
    const { x, y } = own(+path.dataset.band), made = +strip.querySelector("[data-line]").dataset.line, over = [], under = [];
    const middle = Array.from(hz, (_, i) => kinds[s.kind](s.way, made, i));
    x.forEach((f, i) => {
      const v = between(hz, middle, f) || 0;
      over.push(tenth(xOf(f, axis)) + " " + tenth(yOf(v + y[i])));
      under.unshift(tenth(xOf(f, axis)) + " " + tenth(yOf(v - y[i])));
    });
    path.setAttribute("d", over.length ? "M" + over.join("L") + "L" + under.join("L") + "Z" : "");
  }
  for (const path of strip.querySelectorAll("[data-line]")) {
    const made = +path.dataset.line;
    path.toggleAttribute("hidden", !shownLine(path));
    if (!shownLine(path)) continue;
    let d = "", begin = true, before = NaN;
    hz.forEach((f, i) => {
      let v = kinds[s.kind](s.way, made, i);
      if (s.kind === "phase" && Math.abs(v - before) > 180) begin = true;
      before = v;
      if (Number.isNaN(v)) { begin = true; return; }
      v = Math.max(s.low - past, Math.min(s.high + past, v * s.scale));
      d += (begin ? "M" : "L") + tenth(xOf(f, axis)) + " " + tenth(yOf(v));
      begin = false;
    });
    path.setAttribute("d", d);
  }
  for (const mark of strip.querySelectorAll("[data-mark]")) mark.toggleAttribute("hidden", !shownMade(+mark.dataset.mark));
};

// Drawings out of sight wait until they come near.
const stale = new Set();
const waiting = new IntersectionObserver(entries => {
  for (const e of entries) {
    e.target.visible = e.isIntersecting;
    if (e.isIntersecting && stale.delete(e.target)) fresh(e.target);
  }
}, { rootMargin: "600px" });
const noted = plot => {
  const note = plot.parentElement.querySelector("[data-note]");
  if (!note) return;
  const digital = note.dataset.note && data.made[state.made] ? "digital at " + data.made[state.made].short : "";
  const lost = [...plot.querySelectorAll("[data-strip]")].filter(s => [...s.querySelectorAll("[data-own]")].some(p => !known(ownOf(p))) ||
    [...s.querySelectorAll("[data-band]")].some(p => !known(+p.dataset.band))).map(s => s.dataset.name);
  note.textContent = "Drawn with " + [data.settings.map((s, i) => s.name + ": " + s.choices[state.choices[i]]).join(", "), digital].filter(Boolean).join("; ") + "." +
    (lost.length ? " Not drawn: " + lost.join(", ") + ", of which only one setting changed at a time is worked out." : "");
};
const fresh = plot => { plot.querySelectorAll("[data-strip]").forEach(draw); if (plot.at !== undefined) say(plot); };
const plots = [...document.querySelectorAll(".plot:not(.still)")];
const redraw = () => {
  cache = new Map();
  for (const figure of document.querySelectorAll("[data-mades]")) figure.toggleAttribute("hidden", !figure.dataset.mades.split(" ").includes(String(state.made)));
  for (const plot of plots) {
    noted(plot);
    if (plot.visible) fresh(plot); else stale.add(plot);
  }
};
addEventListener("beforeprint", () => { for (const plot of stale) fresh(plot); stale.clear(); });

const digits = v => {
  const a = Math.abs(v);
  const text = a < 5e-8 ? "0" : a < 1e-3 ? v.toExponential(2) : a >= 1000 ? v.toFixed(0) : v.toPrecision(3);
  return text.replace("-", "\u2212");
};
const frequency = f => f >= 1000 ? (f / 1000).toPrecision(4) + " kHz" : f.toPrecision(4) + " Hz";
// The places that a drawing's cursor stands at: the page's frequencies, or those of its first line.
const placesOf = plot => {
  const axis = axisOf(plot);
  if (axis.unit === "Hz") return hz;
  return own(ownOf(plot.querySelector("[data-own]"))).x.filter(v => v >= axis.low && v < axis.high);
};
const place = (v, axis) => axis.unit === "Hz" ? frequency(v) : v.toPrecision(3) + " " + axis.unit;
const told = (text, v, none) => text + " " + (Number.isNaN(v) ? none : digits(v));
const say = plot => {
  const places = placesOf(plot), i = plot.at = nearest(places, plot.value), axis = axisOf(plot), f = places[i], line = plot.querySelector(".cursor"), x = xOf(f, axis);
  line.setAttribute("x1", x);
  line.setAttribute("x2", x);
  const parts = [...plot.querySelectorAll("[data-strip]")].map(strip => {
    const s = read(strip);
    const values = [...strip.querySelectorAll("[data-line]")].filter(shownLine).map(p => {
      const made = +p.dataset.line, v = kinds[s.kind](s.way, made, i) * s.scale;
      return told(p.dataset.as !== undefined ? p.dataset.as : s.kind === "between" ? "board less digital" : made === WANTED ? "wanted" : data.made[made].board ? "board" : "digital", v, "not judged");
    });
    for (const path of strip.querySelectorAll("[data-own]")) {
      const { x, y } = own(ownOf(path));
      values.push(told(path.dataset.says, between(x, y, f) * s.scale, s.kind === "clip" ? "nowhere" : "unknown"));
    }
    for (const path of strip.querySelectorAll("[data-band]")) {
      const { x, y } = own(+path.dataset.band);
      values.push(told("95 of 100 within \u00b1", between(x, y, f), "unknown").replace("\u00b1 ", "\u00b1"));
    }
    return s.name + ": " + values.join(", ") + (s.unit ? " " + s.unit : "");
  });
  const text = place(f, axis) + " \u2013 " + parts.join("; ");
  plot.parentElement.querySelector("output").textContent = text;
  plot.setAttribute("aria-valuemax", places.length - 1);
  plot.setAttribute("aria-valuenow", i);
  plot.setAttribute("aria-valuetext", text);
  plot.classList.add("read");
};
const nearest = (places, f) => {
  let best = 0;
  places.forEach((x, i) => { if (Math.abs(Math.log(x / f)) < Math.abs(Math.log(places[best] / f))) best = i; });
  return best;
};
for (const plot of plots) {
  const svg = plot.querySelector("svg");
  const point = e => {
    const box = svg.getBoundingClientRect();
    const x = (e.clientX - box.left) / box.width * svg.viewBox.baseVal.width;
    const share = Math.max(0, Math.min(1, (x - data.left) / (data.right - data.left)));
    const axis = axisOf(plot);
    plot.value = axis.low * (axis.high / axis.low) ** share;
    say(plot);
  };
  plot.addEventListener("pointermove", point);
  plot.addEventListener("pointerdown", point); // a finger does not hover
  plot.addEventListener("keydown", e => {
    const places = placesOf(plot), at = plot.at ?? nearest(places, axisOf(plot).unit === "Hz" ? 1000 : 1), far = e.shiftKey ? 8 : 1;
    const to = { ArrowLeft: at - far, ArrowDown: at - far, ArrowRight: at + far, ArrowUp: at + far,
      PageDown: nearest(places, places[at] / 2), PageUp: nearest(places, places[at] * 2), Home: 0, End: places.length - 1 }[e.key];
    if (to === undefined) return;
    e.preventDefault();
    plot.value = places[Math.max(0, Math.min(places.length - 1, to))];
    say(plot);
  });
}

const apply = () => {
  for (const s of form.querySelectorAll("[data-setting]")) s.value = state.choices[+s.dataset.setting];
  const made = form.querySelector("[data-made]");
  if (made) made.value = state.made;
  form.querySelector("[data-paper]").value = state.paper;
  if (state.paper) document.documentElement.dataset.paper = state.paper;
  else delete document.documentElement.dataset.paper;
};
const keep = () => { try { sessionStorage.setItem(store, JSON.stringify(state)); } catch { /* a page without storage forgets */ } };
const choose = () => { apply(); keep(); redraw(); };
form.addEventListener("change", () => {
  for (const s of form.querySelectorAll("[data-setting]")) state.choices[+s.dataset.setting] = +s.value;
  const made = form.querySelector("[data-made]");
  if (made) state.made = +made.value;
  state.paper = form.querySelector("[data-paper]").value;
  choose();
});
form.addEventListener("submit", e => e.preventDefault());
document.addEventListener("click", e => {
  const from = e.target.closest("[data-with]");
  if (!from) return;
  if (from.dataset.with) from.dataset.with.split(" ").forEach((v, i) => { state.choices[i] = +v; });
  const made = +from.dataset.mark;
  if (!data.made[made].board) state.made = made;
  choose();
});

try {
  const kept = JSON.parse(sessionStorage.getItem(store));
  if (kept && kept.choices.length === state.choices.length && kept.choices.every((c, i) => c < data.settings[i].choices.length) && (kept.made === 0 || data.made[kept.made] && !data.made[kept.made].board)) Object.assign(state, kept);
} catch { /* as above */ }
apply();
form.hidden = false;
// In a narrow window the form leaves the first screen to what stands there.
new IntersectionObserver(entries => { for (const e of entries) form.toggleAttribute("data-top", e.isIntersecting); }).observe(document.querySelector("header"));
const changed = state.made > 0 || state.choices.some(c => c > 0);
for (const plot of plots) waiting.observe(plot);
if (changed) redraw();
window.report = { data, hz, state, kinds, draw, own, ownOf, between, values: (kind, way, made) => Array.from(hz, (_, i) => kinds[kind](way, made, i)), ready: true };
})();
