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
const WANTED = -1;
const state = { choices: data.settings.map(() => 0), made: 0, paper: "" };
const store = "shown " + location.pathname;
const least = -300, slack = 1e-4;

// A series in the present settings: what it is in the default ones, and what choices add.
let cache = new Map();
const series = (quantity, way, made) => {
  const key = quantity + " " + way + " " + made;
  if (cache.has(key)) return cache.get(key);
  const packed = (made === WANTED ? data.ideal : data.made[made].ways)[way][quantity];
  const out = Float64Array.from(numbers(packed.base));
  for (const share of packed.by || []) {
    let i = 0;
    for (const s of share.settings) i = i * data.settings[s].choices.length + state.choices[s];
    if (share.alt[i]) numbers(share.alt[i]).forEach((x, k) => { out[k] += x; });
  }
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
};

const first = hz[0], last = hz[hz.length - 1];
const xOf = f => data.left + (data.right - data.left) * Math.log2(f / first) / Math.log2(last / first);
const shownMade = made => made === WANTED || data.made[made].board || made === state.made;
const read = strip => ({
  kind: strip.dataset.strip, way: +strip.dataset.way, low: +strip.dataset.low, high: +strip.dataset.high,
  top: +strip.dataset.top, scale: +strip.dataset.scale, unit: strip.dataset.unit, name: strip.dataset.name,
});

const draw = strip => {
  const s = read(strip), past = s.high - s.low;
  for (const path of strip.querySelectorAll("[data-line]")) {
    const made = +path.dataset.line;
    path.toggleAttribute("hidden", !shownMade(made));
    if (!shownMade(made)) continue;
    let d = "", begin = true, before = NaN;
    hz.forEach((f, i) => {
      let v = kinds[s.kind](s.way, made, i);
      if (s.kind === "phase" && Math.abs(v - before) > 180) begin = true;
      before = v;
      if (Number.isNaN(v)) { begin = true; return; }
      v = Math.max(s.low - past, Math.min(s.high + past, v * s.scale));
      d += (begin ? "M" : "L") + (Math.round(xOf(f) * 10) / 10) + " " + (Math.round((s.top + data.height * (s.high - v) / past) * 10) / 10);
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
const fresh = plot => { plot.querySelectorAll("[data-strip]").forEach(draw); if (plot.at !== undefined) say(plot); };
const plots = [...document.querySelectorAll(".plot:not(.still)")];
const redraw = () => {
  cache = new Map();
  for (const line of document.querySelectorAll("[data-mades]")) line.toggleAttribute("hidden", !line.dataset.mades.split(" ").includes(String(state.made)));
  for (const plot of plots) if (plot.visible) fresh(plot); else stale.add(plot);
};
addEventListener("beforeprint", () => { for (const plot of stale) fresh(plot); stale.clear(); });

const digits = v => {
  if (Number.isNaN(v)) return "not judged";
  const a = Math.abs(v);
  const text = a < 5e-8 ? "0" : a < 1e-3 ? v.toExponential(2) : a >= 1000 ? v.toFixed(0) : v.toPrecision(3);
  return text.replace("-", "\u2212");
};
const frequency = f => f >= 1000 ? (f / 1000).toPrecision(4) + " kHz" : f.toPrecision(4) + " Hz";
const say = plot => {
  const i = plot.at, line = plot.querySelector(".cursor"), x = xOf(hz[i]);
  line.setAttribute("x1", x);
  line.setAttribute("x2", x);
  const parts = [...plot.querySelectorAll("[data-strip]")].map(strip => {
    const s = read(strip);
    const values = [...strip.querySelectorAll("[data-line]")].filter(p => shownMade(+p.dataset.line)).map(p => {
      const made = +p.dataset.line, v = kinds[s.kind](s.way, made, i) * s.scale;
      return (s.kind === "between" ? "board less digital " : made === WANTED ? "wanted " : data.made[made].board ? "board " : "digital ") + digits(v);
    });
    return s.name + ": " + values.join(", ") + " " + s.unit;
  });
  const text = frequency(hz[i]) + " \u2013 " + parts.join("; ");
  plot.parentElement.querySelector("output").textContent = text;
  plot.setAttribute("aria-valuenow", i);
  plot.setAttribute("aria-valuetext", text);
  plot.classList.add("read");
};
const nearest = f => {
  let best = 0;
  hz.forEach((x, i) => { if (Math.abs(Math.log(x / f)) < Math.abs(Math.log(hz[best] / f))) best = i; });
  return best;
};
for (const plot of plots) {
  const svg = plot.querySelector("svg");
  plot.addEventListener("pointermove", e => {
    const box = svg.getBoundingClientRect();
    const x = (e.clientX - box.left) / box.width * svg.viewBox.baseVal.width;
    const share = Math.max(0, Math.min(1, (x - data.left) / (data.right - data.left)));
    plot.at = nearest(first * (last / first) ** share);
    say(plot);
  });
  plot.addEventListener("keydown", e => {
    const at = plot.at ?? nearest(1000), far = e.shiftKey ? 8 : 1;
    const to = { ArrowLeft: at - far, ArrowDown: at - far, ArrowRight: at + far, ArrowUp: at + far,
      PageDown: nearest(hz[at] / 2), PageUp: nearest(hz[at] * 2), Home: 0, End: hz.length - 1 }[e.key];
    if (to === undefined) return;
    e.preventDefault();
    plot.at = Math.max(0, Math.min(hz.length - 1, to));
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
const changed = state.made > 0 || state.choices.some(c => c > 0);
for (const plot of plots) waiting.observe(plot);
if (changed) redraw();
window.report = { data, hz, state, kinds, draw, values: (kind, way, made) => Array.from(hz, (_, i) => kinds[kind](way, made, i)), ready: true };
})();
