// Steps of cascades in any settings: of digital ones the samples, of analog ones at times that go up, by the
// exponential of the cascade's matrix. What biquad.StepDigital and biquad.AnalogStep do.
const runs = (() => {
"use strict";
const picked = (chain, choices, counts) => chain.slots.map(s => {
  let i = 0;
  for (const k of s.settings || []) i = i * counts[k] + choices[k];
  return s.alt[s.pick ? s.pick[i] : 0];
});

const digital = (chain, sections, count) => {
  const y = new Float64Array(count).fill(chain.gain, chain.delay);
  for (const [c, b0, b1, b2, a1, a2] of sections) {
    let p = 0, q = 0;
    for (let n = 0; n < count; n++) {
      const v = y[n], out = b0 * v + p;
      p = c * p + (q + b1 * v - a1 * out);
      q = c * q + (b2 * v - a2 * out);
      y[n] = out;
    }
  }
  return y;
};

const square = n => Array.from({ length: n }, () => new Float64Array(n));
const product = (a, b, times) => {
  const out = square(a.length);
  a.forEach((row, i) => row.forEach((v, k) => { if (v) b[k].forEach((w, j) => { out[i][j] += v * w * times; }); }));
  return out;
};
const exponential = (m, t) => {
  let most = 0, halvings = 0;
  for (const row of m) most = Math.max(most, row.reduce((sum, v) => sum + Math.abs(v * t), 0));
  for (; most > 0.5; most /= 2) halvings++;
  const part = m.map(row => row.map(v => v * t / 2 ** halvings));
  let out = square(m.length), term = square(m.length);
  out.forEach((row, i) => { row[i] = term[i][i] = 1; });
  for (let k = 1; k <= 15; k++) {
    term = product(term, part, 1 / k);
    out.forEach((row, i) => row.forEach((v, j) => { row[j] = v + term[i][j]; }));
  }
  for (; halvings; halvings--) out = product(out, out, 1);
  return out;
};

// An analog cascade at rest at the moment of the step; null where one has no finite answer.
const analog = (chain, sections) => {
  const all = [];
  let states = 0;
  for (const [w0, b0, b1, b2, a0, a1, a2] of sections) {
    const a = [a0, a1, a2], b = [b0, b1, b2], n = a2 ? 2 : a1 ? 1 : 0, top = a[n], d = b[n] / top;
    if (b.slice(n + 1).some(v => v !== 0)) return null;
    all.push({ w0, n, d, from: states, a: a.slice(0, n).map(v => v / top), c: b.slice(0, n).map((v, k) => v / top - d * a[k] / top) });
    states += n;
  }
  const slope = square(states + 1), out = new Float64Array(states + 1);
  let state = new Float64Array(states + 1);
  out[states] = chain.gain;
  state[states] = 1;
  for (const e of all) {
    if (e.n) {
      const end = slope[e.from + e.n - 1];
      out.forEach((v, j) => { end[j] = e.w0 * v; });
      e.a.forEach((v, k) => { end[e.from + k] -= e.w0 * v; });
      if (e.n > 1) slope[e.from][e.from + 1] = e.w0;
    }
    out.forEach((v, j) => { out[j] = v * e.d; });
    e.c.forEach((v, k) => { out[e.from + k] += v; });
  }
  const moves = new Map();
  return {
    wait: (seconds, half) => { // half is a wait half as long, which is not worked out anew
      if (!moves.has(seconds)) moves.set(seconds, moves.has(half) ? product(moves.get(half), moves.get(half), 1) : exponential(slope, seconds));
      state = Float64Array.from(moves.get(seconds), row => row.reduce((sum, v, j) => sum + v * state[j], 0));
    },
    value: () => out.reduce((sum, v, j) => sum + v * state[j], 0),
  };
};

// The answers of a way to a step and to an impulse of area 1 (1/ms): every sample at first, then every second, and so on.
const moments = (time, made, way, choices, counts) => {
  const { rate_hz: rate, early, ways } = time.made[made], from = time.wanted[way], gap = 1e3 / rate;
  const last = Math.trunc(time.last_ms / 1e3 * rate + early) + 1;
  const y = digital(ways[way], picked(ways[way], choices, counts), last + 1), want = analog(from, picked(from, choices, counts));
  const step = { ms: [], wanted: [], digital: [] }, pulse = { ms: [], wanted: [], digital: [] };
  const add = (to, ms, wanted, digital) => { to.ms.push(ms); to.wanted.push(wanted); to.digital.push(digital); };
  let stand = 0, before = 0;
  for (let n = 0, by = 1; n <= last; n += by) {
    while (n >= time.close_by * by * 2) by *= 2;
    const t = (n + 0.5 - early) / rate;
    if (t <= 0) { before = y[n]; continue; }
    let v = want ? 0 : NaN;
    const at = t - from.delay, usual = by / rate;
    if (want && at > 0) {
      const wait = at - stand;
      if (Math.abs(wait / usual - 1) < 1e-9) want.wait(usual, usual / 2);
      else if (Math.abs(2 * wait / usual - 1) < 1e-9) want.wait(usual / 2, usual / 4);
      else want.wait(wait);
      stand += wait;
      v = want.value();
    }
    add(step, 1e3 * t, v, y[n]);
  }
  let ms = step.ms[0] - gap, w = 0, d = before;
  step.ms.forEach((at, i) => {
    add(pulse, (at + ms + gap) / 2, (step.wanted[i] - w) / (at - ms), (step.digital[i] - d) / (at - ms));
    ms = at;
    w = step.wanted[i];
    d = step.digital[i];
  });
  return { step, pulse };
};
return { moments };
})();
