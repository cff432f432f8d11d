"""The worst values of NAME.json's findings, recomputed and searched for anew."""
import functools
import math

import numpy as np
from emitted import Circle, Emitted, by_words
from response import DECIBEL, EPS, FLOORED, ROUNDINGS, SCAN, WORST, Cache, delayed

PER_OCTAVE = 96
AROUND = np.array([0, 0.1, 0.3, 0.6, 1, 2, 4])  # half-widths from a root
BESIDE = np.array([1e-8, 1e-7, 1e-6])  # distances from a zero on the axis, beside which every level occurs
CLOSEST = 2e-9
TOOTH = 8  # points a tooth of a comb
SUM = "sum"
ZOOM, ZOOMS = 33, 4  # points of a zoom and its repetitions: down to 1e-6 of a grid step
DIP_DB = 14  # from the edge: what the grid makes of a dip that reaches it
HUMP = 0.9  # of the greatest: what a hump on the grid must reach to be looked into
MOST_DB = 120.0  # where an error ends: beyond, one response is as good as 0
DOWN_TO_SUM = -20.0  # dB re the sum of the ways' magnitudes
NEIGHBOUR_DB = 20.0  # how near in level a neighbouring way must be for phase to matter
DEGREE = 180 / math.pi  # of a relative error across the response
SAME_LEVEL_DB = 1e-6  # headroom is kept this far above its limit, for gains of exactly one


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
            if width < BESIDE.min():
                hz += [f * (1 + BESIDE), f * (1 - BESIDE)]
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

    def _size(self, subject, c, at):
        """|error| less what it is uncertain by, -1 outside of the domain and
        where rounding hides it; |error| itself; how far inside."""
        error, rounding, inside = subject.error(self, c, at)
        raw = np.abs(error)
        return np.where((inside > EDGE_DB) & (rounding < 1), raw - rounding, -1), np.nan_to_num(raw), inside

    def scan(self, subject, c, known):
        """The greatest |error| less what it is uncertain by, and where; 0
        where nothing lies inside. Between grid points it is sought where the
        grid comes near `known`, at the edges of the domain beyond which the
        error goes on rising, and in the dips of a sum, which may hide edges."""
        size, raw, inside = self._size(subject, c, self.at_grid)
        worst, where = float(size.max()), float(self.grid[size.argmax()])
        goal = max(worst, known)
        before, after = np.r_[-1, size[:-1]], np.r_[size[1:], -1]
        edge = (before < 0) & (np.r_[0, raw[:-1]] > goal) | (after < 0) & (np.r_[raw[1:], 0] > goal)
        dip = local_maxima(-inside) & (np.abs(inside) < DIP_DB) if subject.way == SUM else False
        ks = np.flatnonzero((size >= 0) & (local_maxima(size) & (size >= HUMP * goal) | edge) | dip)
        tops, at = self.zoom(ks, lambda hz: self._size(subject, c, self._at(hz))[0])
        if len(tops) and tops.max() > worst:
            worst, where = float(tops.max()), float(at[tops.argmax()])
        return max(worst, 0.0), where


# Subjects: what a promise is about. error gives the error in the unit, what it
# is uncertain by, and how far inside the promise's domain (dB, negative outside).


class Magnitude:
    promise, unit = "magnitude", "dB"

    def __init__(self, ways, way, down_to):
        self.way, self.down_to, self.settings_of = way, down_to, [way]

    def error(self, bench, c, at):
        want, got = bench.pair(self.way, c, at)
        inside = ratio_db(want.h, bench.peak(self.way, c)) - self.down_to
        return error_db(got.h, want.h), DECIBEL * ROUNDINGS * EPS * (want.spread + got.spread), inside


class Phase:
    """After the common delay, where a neighbour is about as loud."""

    promise, unit = "phase", "deg"

    def __init__(self, ways, way, down_to):
        self.way, self.down_to, self.settings_of = way, down_to, ways
        self.near = [n for n in (way - 1, way + 1) if n in ways]

    def error(self, bench, c, at):
        want, got = bench.pair(self.way, c, at)
        levels = [np.abs(ratio_db(bench.pair(n, c, at)[0].h, want.h)) for n in self.near]
        inside = np.minimum(NEIGHBOUR_DB - functools.reduce(np.fmin, levels), ratio_db(want.h, bench.peak(self.way, c)) - self.down_to)
        return DEGREE * np.angle(got.h * want.h.conj()), DEGREE * ROUNDINGS * EPS * (want.spread + got.spread), inside


class Sum:
    promise, unit = "sum", "dB"

    def __init__(self, ways, way, down_to):
        self.way, self.down_to, self.settings_of = way, down_to, ways

    def error(self, bench, c, at):
        pairs = [bench.pair(w, c, at) for w in bench.ways]
        sums, rounding = [], 0
        for side in (0, 1):
            s = sum(p[side].h for p in pairs)
            # A way that is 0 here adds nothing, however uncertain its phase.
            adds = [np.where(p[side].h == 0, 0, p[side].spread * np.abs(p[side].h)) for p in pairs]
            rounding = rounding + sum(adds) / np.abs(s)
            sums.append(s)
        all_ways = sum(np.abs(p[0].h) for p in pairs)
        inside = np.minimum(ratio_db(sums[0], all_ways) - DOWN_TO_SUM, ratio_db(all_ways, bench.peak(SUM, c)) - self.down_to)
        return error_db(sums[1], sums[0]), DECIBEL * ROUNDINGS * EPS * rounding, inside


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
        ways = range(len(d["ways"]))
        subjects = [Magnitude(ways, k, promises["down_to_db"]) for k in ways]
        if len(ways) > 1:
            subjects += [Phase(ways, k, promises["down_to_db"]) for k in ways] + [Sum(ways, SUM, promises["down_to_db"])]
        for subject in subjects:
            name = SUM if subject.way == SUM else d["ways"][subject.way]["way"]
            limit = promises[f"{subject.promise}_{subject.unit.lower()}"]
            for f, where in those(ledger, of, subject.promise, name, limit):
                finding(ledger, bench, f, where, subject, limit)
        for k in ways:
            limit = promises["headroom_db"]
            for f, where in those(ledger, of, "headroom", d["ways"][k]["way"], limit):
                headroom(ledger, bench, f, where, k, 0 - limit)


def those(ledger, of, promise, way, limit):
    """The findings on a promise, of which there is one if it has a limit."""
    here = [f for f in of if f["promise"] == promise and f["way"] == way]
    for f in here:
        yield f, f"{promise} of {way}, {f['realisation']}"
    if len(here) != (limit is not None):
        ledger.fail("findings", f"{promise} of {way}: {len(here)} findings for the limit {limit}")


def settings(ledger, bench, f, where, ways, limit, unit):
    """The combinations that a finding is about, and its own among them."""
    e = bench.e
    touched = sorted({s for w in ways for s in e.touched(w)})
    combinations = [c for c in bench.case["combinations"] if all(k == 0 or i in touched for i, k in enumerate(c))]
    if f["limit"] != limit or f["of"] != len(combinations) or f["unit"] != unit:
        ledger.fail("findings", f"{where}: limit {f['limit']} {f['unit']} of {f['of']} combinations, not {limit} {unit} of {len(combinations)}")
    at = [0] * len(e.settings)
    for name, choice in f["setting"].items():
        i, choices = e.settings[name]
        at[i] = choices.index(choice)
    if f["at_hz"] != 0 and sorted(e.settings[n][0] for n in f["setting"]) != touched:
        ledger.fail("findings", f"{where}: the setting {f['setting']} is not of {touched}")
    return combinations, at


def headroom(ledger, bench, f, where, way, limit):
    """A level of the realisation alone, and no level in the band above it."""
    e = bench.e
    combinations, at = settings(ledger, bench, f, where, [way], limit, "dBFS")

    def levels(c, at):
        r = e.response(way, c, at[0], at[2])
        return ratio_db(r.h, 1) + ratio_db(e.d["input_gain"], 1), DECIBEL * ROUNDINGS * EPS * r.spread

    got, rounding = (float(v[0]) for v in levels(at, bench._at(np.array([f["at_hz"]]))))
    ledger.figure("headroom", abs(got - f["worst"]), abs(got - f["worst"]) / (WORST + rounding), "dB")
    if not abs(got - f["worst"]) <= WORST + rounding:
        ledger.fail("findings", f"{where}: {f['worst']} dBFS at {f['at_hz']} Hz, recomputed {got}")
    tops = [max(level - rounding) for level, rounding in (levels(c, bench.at_grid) for c in combinations)]
    if not max(tops) <= f["worst"] + SCAN:
        ledger.fail("findings", f"{where}: {f['worst']} dBFS, but {max(tops)} dBFS in the band")
    if f["kept"] != (f["worst"] <= limit + SAME_LEVEL_DB) or f["kept"] != (f["broken"] == 0):
        ledger.fail("findings", f"{where}: kept {f['kept']}, broken {f['broken']}, {f['worst']} dBFS")
    if not sum(top > limit + SAME_LEVEL_DB + SCAN for top in tops) <= f["broken"] <= f["of"]:
        ledger.fail("findings", f"{where}: broken {f['broken']}, the levels in the band {tops}")


def finding(ledger, bench, f, where, subject, limit):
    combinations, at = settings(ledger, bench, f, where, subject.settings_of, limit, subject.unit)
    scans = [bench.scan(subject, c, min(f["worst"], limit)) for c in combinations]
    if f["at_hz"] == 0:
        if any(worst > 0 for worst, _ in scans):
            ledger.fail("findings", f"{where}: nothing judged, but there is {max(scans)}")
        return
    error, rounding, inside = (float(v[0]) for v in subject.error(bench, at, bench._at(np.array([f["at_hz"]]))))
    got = abs(error) if abs(error) >= FLOORED or f["worst"] != 0 else 0.0
    allowed = WORST + rounding
    check, unit = f"{subject.promise}: worst value", subject.unit
    ledger.figure(check, abs(got - f["worst"]), abs(got - f["worst"]) / allowed, unit)
    if not abs(got - f["worst"]) <= allowed:
        ledger.fail("findings", f"{where}: worst {f['worst']} {unit} at {f['at_hz']} Hz, recomputed {got}, allowed {allowed:.3g}")
    if inside < -EDGE_DB:
        ledger.fail("findings", f"{where}: {f['at_hz']} Hz lies {-inside} dB outside of what the promise is about")
    if inside >= EDGE_DB and at in combinations:
        # What the compiler found and this recomputed counts as scanned: beside
        # a dip of a comb a grid of the judge's density can miss it.
        scans[combinations.index(at)] = max(scans[combinations.index(at)], (got, f["at_hz"]))
    worst, hz = max(scans)
    ledger.figure(f"{subject.promise}: true maximum", max(worst - f["worst"], 0), max(worst - f["worst"], 0) / SCAN, unit)
    if worst > f["worst"] + SCAN:
        ledger.fail("findings", f"{where}: worst {f['worst']} {unit} at {f['at_hz']} Hz, but {worst} {unit} at {hz} Hz")
    if f["kept"] != (f["worst"] <= limit) or f["kept"] != (f["broken"] == 0):
        ledger.fail("findings", f"{where}: kept {f['kept']}, broken {f['broken']}, worst {f['worst']}, limit {limit}")
    surely, perhaps = (sum(w > limit + s * max(SCAN, 1e-6 * limit) for w, _ in scans) for s in (1, -1))
    if not surely <= f["broken"] <= perhaps:
        ledger.fail("findings", f"{where}: broken {f['broken']}, the scan says {surely} to {perhaps}")
