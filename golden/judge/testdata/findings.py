"""The worst values of NAME.json's findings, recomputed and searched for anew."""
import math

import numpy as np
from emitted import Circle, Emitted, by_words
from response import DECIBEL, EPS, FLOORED_DB, ROUNDINGS, SCAN_DB, WORST_DB, Cache, delayed

PER_OCTAVE = 96
AROUND = np.array([0, 0.1, 0.3, 0.6, 1, 2, 4])  # half-widths from a root
CLOSEST = 1e-7
TOOTH = 8  # points a tooth of a comb
SUM = "sum"
ZOOM, ZOOMS = 33, 4  # points of a zoom and its repetitions: down to 1e-6 of a grid step
DIP_DB = 14  # from the edge: what the grid makes of a dip that reaches it
HUMP = 0.9  # of the greatest: what a hump on the grid must reach to be looked into
MOST_DB = 120.0  # where an error ends: beyond, one response is as good as 0
DOWN_TO_SUM = -20.0  # dB re the sum of the ways' magnitudes


def local_maxima(v):
    return (v >= np.r_[v[0], v[:-1]]) & (v >= np.r_[v[1:], v[-1]])


def ratio_db(a, b):
    return 20 * np.log10(np.abs(a) / np.abs(b))


def error_db(real, ideal):
    return np.clip(ratio_db(real, ideal), -MOST_DB, MOST_DB)


class Bench:
    """One realisation beside its ideal, over frequency."""

    def __init__(self, case, ideal, e, lo, hi):
        self.case, self.ideal, self.e, self.lo, self.hi = case, ideal, e, lo, hi
        self.ways = range(len(ideal.ways))
        self.grid = self._grid()
        self.at_grid = self._at(self.grid)
        self.seen = {}

    def _grid(self):
        """Logarithmic, joined with the surroundings of every root of the ideal
        and of where the bilinear transform moves it; and fine enough for the
        comb that ways of different delay sum to."""
        lo, hi, fs = self.lo, self.hi, self.e.d["rate_hz"]
        hz = [lo * 2 ** (np.arange(int(math.log2(hi / lo) * PER_OCTAVE) + 1) / PER_OCTAVE), [lo, hi]]
        for f, width in {m for way in self.ways for part, _ in self.ideal.elements(way) for m in part.landmarks()}:
            around = 1 + AROUND * max(width, 1e-5)
            hz += [f * around, f / around]
            if f < fs * 0.49:
                g = fs / math.pi * math.atan(math.pi * f / fs)
                hz += [g * around, g / around]
        delays = [self.ideal.delay(way) for way in self.ways]
        tooth = 1 / max(max(delays) - min(delays), 1e-9)
        if tooth / TOOTH < hi * (2 ** (1 / PER_OCTAVE) - 1):
            hz.append(np.arange(lo, hi, tooth / TOOTH))
        hz = np.unique(np.concatenate(hz))
        hz = hz[(hz >= lo) & (hz <= hi)]
        # Points too close together differ by rounding, and a maximum among
        # them would say nothing about where to look.
        return hz[np.r_[True, np.diff(hz) > CLOSEST * hz[1:]]]

    def _at(self, hz):
        circle = Circle(hz, self.e.d["rate_hz"])
        return hz, Cache(lambda x: x.analog(hz)), Cache(lambda s: by_words(s, circle))

    def pair(self, way, c, at):
        """Ideal and realised response of a way."""
        if at is self.at_grid and (way, tuple(c)) in self.seen:
            return self.seen[way, tuple(c)]
        hz, analog, digital = at
        want = self.ideal.response(way, c, hz, analog) * delayed(hz, self.ideal.delay(way) + self.e.d["common_delay_s"])
        out = want, self.e.response(way, c, hz, digital)
        if at is self.at_grid:
            self.seen[way, tuple(c)] = out
        return out

    def zoom(self, ks, value):
        """The greatest values near the grid points ks, one each, and where."""
        if len(ks) == 0:
            return np.array([]), np.array([])
        n, row = len(self.grid), np.arange(len(ks))
        lo, hi = self.grid[np.maximum(ks - 1, 0)], self.grid[np.minimum(ks + 1, n - 1)]
        for _ in range(ZOOMS):
            hz = lo[:, None] + (hi - lo)[:, None] * np.linspace(0, 1, ZOOM)
            v = value(hz.ravel()).reshape(hz.shape)
            j = v.argmax(axis=1)
            lo, hi = hz[row, np.maximum(j - 1, 0)], hz[row, np.minimum(j + 1, ZOOM - 1)]
        return v[row, j], hz[row, j]

    def peak(self, way, c):
        """The greatest level of the ideal inside the band, of one way or of all
        ways' magnitudes together. Every hump that
        comes near the greatest is looked into: equal ripples differ in the
        last digits only, and the grid cannot say which is highest."""
        key = ("peak", way, tuple(c))
        if key not in self.seen:
            ways = self.ways if way == SUM else [way]
            level = sum(np.abs(self.pair(w, c, self.at_grid)[0].h) for w in ways)
            humps = np.flatnonzero((level >= HUMP * level.max()) & local_maxima(level))

            def of(hz):
                analog = Cache(lambda x: x.analog(hz))
                return sum(np.abs(self.ideal.response(w, c, hz, analog).h) for w in ways)

            self.seen[key] = max(level.max(), self.zoom(humps, of)[0].max())
        return self.seen[key]

    def error(self, way, c, at, down_to):
        """Error in dB, what it is uncertain by, and how far inside the
        promise's domain (dB, negative outside)."""
        if way != SUM:
            want, got = self.pair(way, c, at)
            inside = ratio_db(want.h, self.peak(way, c)) - down_to
            return error_db(got.h, want.h), DECIBEL * ROUNDINGS * EPS * (want.spread + got.spread), inside
        pairs = [self.pair(w, c, at) for w in self.ways]
        sums, rounding = [], 0
        for side in (0, 1):
            s = sum(p[side].h for p in pairs)
            # A way that is 0 here adds nothing, however uncertain its phase.
            adds = [np.where(p[side].h == 0, 0, p[side].spread * np.abs(p[side].h)) for p in pairs]
            rounding = rounding + sum(adds) / np.abs(s)
            sums.append(s)
        all_ways = sum(np.abs(p[0].h) for p in pairs)
        inside = np.minimum(ratio_db(sums[0], all_ways) - DOWN_TO_SUM, ratio_db(all_ways, self.peak(SUM, c)) - down_to)
        return error_db(sums[1], sums[0]), DECIBEL * ROUNDINGS * EPS * rounding, inside

    def _size(self, way, c, at, down_to):
        """|error| less what it is uncertain by, -1 outside of the domain and
        where rounding hides it; |error| itself; how far inside."""
        error, rounding, inside = self.error(way, c, at, down_to)
        raw = np.abs(error)
        return np.where((inside > EDGE_DB) & (rounding < 1), raw - rounding, -1), np.nan_to_num(raw), inside

    def scan(self, way, c, down_to, known):
        """The greatest |error| less what it is uncertain by, and where; 0
        where nothing lies inside. Between grid points it is sought where the
        grid comes near `known`, at the edges of the domain beyond which the
        error goes on rising, and in the dips of a sum, which may hide edges."""
        size, raw, inside = self._size(way, c, self.at_grid, down_to)
        worst, where = float(size.max()), float(self.grid[size.argmax()])
        goal = max(worst, known)
        before, after = np.r_[-1, size[:-1]], np.r_[size[1:], -1]
        edge = (before < 0) & (np.r_[0, raw[:-1]] > goal) | (after < 0) & (np.r_[raw[1:], 0] > goal)
        dip = local_maxima(-inside) & (np.abs(inside) < DIP_DB) if way == SUM else False
        ks = np.flatnonzero((size >= 0) & (local_maxima(size) & (size >= HUMP * goal) | edge) | dip)
        tops, at = self.zoom(ks, lambda hz: self._size(way, c, self._at(hz), down_to)[0])
        if len(tops) and tops.max() > worst:
            worst, where = float(tops.max()), float(at[tops.argmax()])
        return max(worst, 0.0), where


# The edge of a domain is where a level crosses; closer than this (dB) to it
# nobody can say on which side a frequency lies.
EDGE_DB = 1e-7


def findings(ledger, case, result, ideal):
    promises = result["promises"]
    for d in result["digital"]:
        if not d["asked"]:
            continue
        e = Emitted(d, result["settings"])
        lo, hi = promises["band_hz"]
        bench = Bench(case, ideal, e, lo, min(hi, 0.46 * d["rate_hz"]))
        of = [f for f in result["findings"] if f["realisation"] == e.name()]
        subjects = [("magnitude", w["way"], k, promises["magnitude_db"], promises["down_to_db"]) for k, w in enumerate(d["ways"])]
        if len(d["ways"]) > 1:
            subjects.append((SUM, SUM, SUM, promises["sum_db"], promises["down_to_db"]))
        for promise, name, way, limit, down_to in subjects:
            here = [f for f in of if f["promise"] == promise and f["way"] == name]
            where = f"{promise} of {name}, {e.name()}"
            if len(here) != (limit is not None):
                ledger.fail("findings", f"{where}: {len(here)} findings for the limit {limit}")
            for f in here:
                finding(ledger, bench, f, where, way, limit, down_to)


def finding(ledger, bench, f, where, way, limit, down_to):
    e = bench.e
    touched = sorted({s for w in (bench.ways if way == SUM else [way]) for s in e.touched(w)})
    combinations = [c for c in bench.case["combinations"] if all(k == 0 or i in touched for i, k in enumerate(c))]
    if f["limit"] != limit or f["of"] != len(combinations) or f["unit"] != "dB":
        ledger.fail("findings", f"{where}: limit {f['limit']} of {f['of']} combinations, not {limit} of {len(combinations)}")
    scans = [bench.scan(way, c, down_to, min(f["worst"], limit)) for c in combinations]
    if f["at_hz"] == 0:
        if any(worst > 0 for worst, _ in scans):
            ledger.fail("findings", f"{where}: nothing judged, but there is {max(scans)}")
        return
    at = [0] * len(e.settings)
    for name, choice in f["setting"].items():
        i, choices = e.settings[name]
        at[i] = choices.index(choice)
    if sorted(e.settings[n][0] for n in f["setting"]) != touched:
        ledger.fail("findings", f"{where}: the setting {f['setting']} is not of {touched}")
    error, rounding, inside = (float(v[0]) for v in bench.error(way, at, bench._at(np.array([f["at_hz"]])), down_to))
    got = abs(error) if abs(error) >= FLOORED_DB or f["worst"] != 0 else 0.0
    allowed = WORST_DB + rounding
    ledger.figure("worst value", abs(got - f["worst"]), abs(got - f["worst"]) / allowed, "dB")
    if not abs(got - f["worst"]) <= allowed:
        ledger.fail("findings", f"{where}: worst {f['worst']} dB at {f['at_hz']} Hz, recomputed {got}, allowed {allowed:.3g}")
    if inside < -EDGE_DB:
        ledger.fail("findings", f"{where}: {f['at_hz']} Hz lies {-inside} dB outside of what the promise is about")
    if inside >= EDGE_DB and at in combinations:
        # What the compiler found and this recomputed counts as scanned: beside
        # a dip of a comb a grid of the judge's density can miss it.
        scans[combinations.index(at)] = max(scans[combinations.index(at)], (got, f["at_hz"]))
    worst, hz = max(scans)
    ledger.figure("true maximum", max(worst - f["worst"], 0), max(worst - f["worst"], 0) / SCAN_DB, "dB")
    if worst > f["worst"] + SCAN_DB:
        ledger.fail("findings", f"{where}: worst {f['worst']} dB at {f['at_hz']} Hz, but {worst} dB at {hz} Hz")
    if f["kept"] != (f["worst"] <= limit) or f["kept"] != (f["broken"] == 0):
        ledger.fail("findings", f"{where}: kept {f['kept']}, broken {f['broken']}, worst {f['worst']}, limit {limit}")
    surely, perhaps = (sum(w > limit + s * max(SCAN_DB, 1e-6 * limit) for w, _ in scans) for s in (1, -1))
    if not surely <= f["broken"] <= perhaps:
        ledger.fail("findings", f"{where}: broken {f['broken']}, the scan says {surely} to {perhaps}")
