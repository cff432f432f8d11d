"""The ideal responses of a description, by scipy's analog designs, and what
scipy's bilinear transform makes of them."""
import itertools
import math

import numpy as np
from response import ROOT, Response, product
from scipy import signal


class Zpk:
    """k·Π(p-z)/Π(p-q), p = s/(2π·keep): one filter that is warped as a whole."""

    def __init__(self, z, p, k, keep):
        self.z, self.p, self.k = np.atleast_1d(z).astype(complex), np.atleast_1d(p).astype(complex), k
        self.keep = keep

    def analog(self, hz):
        # x = j·y, so that x - r is -Re r + j·(y - Im r): its size needs no complex arithmetic.
        y = hz / self.keep
        h, spread = np.full(len(y), complex(self.k)), np.full(len(y), 2.0)
        for r in (self.z, self.p):
            if len(r) == 0:
                continue
            d = np.empty((len(r), len(y)), complex)
            d.real, d.imag = -r.real[:, None], y - r.imag[:, None]
            h = h * d.prod(axis=0) if r is self.z else h / d.prod(axis=0)
            spread += ((np.abs(y) + ROOT * np.abs(r)[:, None]) / np.sqrt(d.real * d.real + d.imag * d.imag)).sum(axis=0)
        return Response(h, spread)

    def digital(self, hz, fs):
        # scipy maps s to 2·fs·(z-1)/(z+1); prewarped at p = j that is
        # 2·fs = 1/tan(π·keep/fs).
        twice = 1 / math.tan(math.pi * self.keep / fs)
        z, p, k = signal.bilinear_zpk(self.z, self.p, self.k, twice / 2)
        # A root's image moves with the root by less than the image itself is
        # rounded: zd = (2fs+r)/(2fs-r).
        moved = lambda r: ROOT * np.abs(2 * twice * r / (twice - r) ** 2)
        w = 2 * np.pi * hz / fs
        _, h = signal.freqz_zpk(z, p, k, worN=w)
        e = np.exp(1j * w)
        spread = np.full(len(hz), 4.0 * (1 + len(p)))
        for roots, analog in ((z, self.z), (p, self.p)):
            shift = np.zeros(len(roots))
            shift[: len(analog)] = moved(analog)
            for r, m in zip(roots, shift):
                spread += (2 + m) / np.abs(e - r)
        return Response(h, spread)

    def landmarks(self):
        return [(abs(r) * self.keep, abs(r.real) / abs(r)) for r in itertools.chain(self.z, self.p) if r != 0]


class Fraction:
    """Polynomials in p = s/(2π·keep), highest power first. Roots of high order
    would lose digits, so the fraction is evaluated as it is given, and the
    bilinear transform as what it means: a map of frequencies."""

    def __init__(self, num, den, keep):
        self.num, self.den, self.keep = np.array(num), np.array(den), keep

    def _at(self, x):
        h, spread = 1, 2.0
        for c, sign in ((self.num, 1), (self.den, -1)):
            v = np.polyval(c, 1j * x)
            h = h * v**sign
            spread = spread + 2 * np.polyval(np.abs(c), np.abs(x)) / np.abs(v)
        return Response(h, spread)

    def analog(self, hz):
        return self._at(hz / self.keep)

    def digital(self, hz, fs):
        x = np.tan(np.pi * hz / fs) / math.tan(math.pi * self.keep / fs)
        r = self._at(x)
        # The map is uncertain by the angle's rounding; the response follows it
        # no faster than its terms do.
        angle = np.pi * hz / fs
        r.spread = r.spread * (2 + 2 * angle / (np.sin(angle) * np.cos(angle)))
        return r

    def landmarks(self):
        roots = np.concatenate([np.roots(self.num), np.roots(self.den)])
        return [(abs(r) * self.keep, abs(r.real) / abs(r)) for r in roots if r != 0]


class Sum:
    """What two sides of a crossover sum to: low + sign·high."""

    def __init__(self, low, high, sign):
        self.low, self.high, self.sign = low, high, sign

    def _sum(self, l, h):
        s = l.h + self.sign * h.h
        return Response(s, (l.spread * np.abs(l.h) + h.spread * np.abs(h.h)) / np.abs(s) + 2)

    def analog(self, hz):
        return self._sum(product([x.analog(hz) for x in self.low], hz), product([x.analog(hz) for x in self.high], hz))

    def digital(self, hz, fs):
        return self._sum(
            product([x.digital(hz, fs) for x in self.low], hz), product([x.digital(hz, fs) for x in self.high], hz)
        )

    def landmarks(self):
        return [m for x in self.low + self.high for m in x.landmarks()]


def quadratic(a, b, c):
    """Roots of a·p² + b·p + c without a difference of equals."""
    d = np.sqrt(complex(b * b - 4 * a * c))
    q = -(b + (d if b >= 0 else -d)) / 2
    return [q / a, c / q] if q != 0 else [0j, 0j]


def alignment(f):
    """A family's low-pass or high-pass at p = j by scipy's analog designs."""
    word, num = f["word"], f["num"]
    n, side = int(num["order"]), "lowpass" if f["kind"] == "low-pass" else "highpass"
    common = {"btype": side, "analog": True, "output": "zpk"}
    family = word["family"]
    if family == "butterworth":
        return signal.butter(n, 1, **common)
    if family == "LR":  # a Butterworth of half the order, twice
        z, p, k = signal.butter(n // 2, 1, **common)
        return np.tile(z, 2), np.tile(p, 2), k * k
    if family == "bessel":
        norm = {"level": "mag"}.get(word["scaled-by"], word["scaled-by"])
        return signal.bessel(n, 1, norm=norm, **common)
    if family == "chebyshev":
        return signal.cheby1(n, num["ripple"], 1, **common)
    if family == "inverse-chebyshev":
        return signal.cheby2(n, num["stop"], 1, **common)
    if family == "elliptic":
        return signal.ellip(n, num["ripple"], num["stop"], 1, **common)
    if family == "critically-damped":  # 1/(1+c·p)^n, c = √(2^(1/n)-1)
        c = math.sqrt(math.expm1(math.log(2) / n))
        if side == "lowpass":
            return [], np.full(n, -1 / c), c**-n
        return np.zeros(n), np.full(n, -c), 1.0
    raise ValueError(family)


def ideal_of(f):
    """A filter as (elements, gain, delay)."""
    kind, num, word = f["kind"], f["num"], f["word"]
    if kind == "gain":
        return [], 10 ** (num["by"] / 20), 0.0
    if kind == "delay":
        return [], 1.0, num["by"]
    if kind == "rational":
        return [Fraction(f["list"]["numerator"], f["list"]["denominator"], num["at"])], 1.0, 0.0
    if kind == "roots":
        return sections_of(f), 1.0, 0.0
    if kind == "pole-shift":
        ratio = num["from.at"] / num["to.at"]
        z = quadratic(1, ratio / num["from.q"], ratio * ratio)
        return [Zpk(z, quadratic(1, 1 / num["to.q"], 1), 1.0, num["to.at"])], 1.0, 0.0
    if kind == "dipole-lift":
        return [Zpk([-num["from"] / num["to"]], [-1], 1.0, num["to"])], 1.0, 0.0
    at = num["at"]
    if kind in ("low-pass", "high-pass") and "q" not in num:
        z, p, k = alignment(f)
        return [Zpk(z, p, k, at)], 1.0, 0.0
    # The rest are fractions of second degree in p, as the language defines them.
    a = 10 ** (num.get("gain", 0) / 40)
    first = num.get("order") == 1
    if "bandwidth" in num:
        r = 2 * math.sinh(math.log(2) / 2 * num["bandwidth"])
    elif "slope" in num:
        r = math.sqrt((a + 1 / a) * (1 / num["slope"] - 1) + 2)
    elif not first:
        r = 1 / num["q"]
    if kind == "low-pass":
        b, d = (0, 0, 1), (1, r, 1)
    elif kind == "high-pass":
        b, d = (1, 0, 0), (1, r, 1)
    elif kind == "band-pass":
        b, d = (0, r, 0), (1, r, 1)
    elif kind == "notch":
        rest = 0.0 if word.get("depth") == "complete" else 10 ** (-num["depth"] / 20)
        b, d = (1, rest * r, 1), (1, r, 1)
    elif kind == "all-pass":
        b, d = ((-1, 1), (1, 1)) if first else ((1, -r, 1), (1, r, 1))
    elif kind == "peak":
        b, d = (1, a * r, 1), (1, r / a, 1)
    elif kind == "low-shelf":
        s = math.sqrt(a)
        b, d = ((1, a), (1, 1 / a)) if first else ((a, a * s * r, a * a), (a, s * r, 1))
    elif kind == "high-shelf":
        s = math.sqrt(a)
        b, d = ((a, 1), (1 / a, 1)) if first else ((a * a, a * s * r, a), (1, s * r, a))
    else:
        raise ValueError(kind)
    return [Zpk(roots(b), roots(d), leading(b) / leading(d), at)], 1.0, 0.0


def leading(c):
    return next(v for v in c if v != 0)


def roots(c):
    c = list(c)
    while c[0] == 0:
        c.pop(0)
    if len(c) == 3:
        return quadratic(*c)
    return [-c[1] / c[0]] if len(c) == 2 else []


def sections_of(f):
    """A list of roots as the sections that are warped one by one: a pole pair
    each, real poles two and two in ascending frequency; a zero pair in the
    nearest pole pair, single zeros where the octaves between zeros and poles
    are least. The frequency that a section keeps is its poles' own."""

    def placed(r):
        w = r["at_hz"] * (-1 if r["right"] else 1)
        if r["q"] is None:
            return [-w]
        if r["q"] == 0:
            return [1j * w, -1j * w]
        return quadratic(1, w / r["q"], w * w)

    zeros, poles = f["roots"].get("zeros") or [], f["roots"]["poles"]
    sections = [{"p": placed(r), "z": [], "at": [r["at_hz"]] * 2} for r in poles if r["q"] is not None]
    single = sorted(r["at_hz"] for r in poles if r["q"] is None)
    for i in range(0, len(single), 2):
        sections.append({"p": [-w for w in single[i : i + 2]], "z": [], "at": single[i : i + 2]})
    for s in sections:
        s["keep"] = abs(np.prod(s["p"])) ** (1 / len(s["p"]))
    free = [s for s in sections if len(s["p"]) == 2]
    for r in (r for r in zeros if r["q"] is not None):
        near = min(free, key=lambda s: abs(math.log(s["keep"] / r["at_hz"])))
        near["z"] = placed(r)
        free = [s for s in free if s is not near]
    slots = sorted(((at, i) for i, s in enumerate(sections) if not s["z"] for at in s["at"]))
    alone = sorted((r for r in zeros if r["q"] is None), key=lambda r: r["at_hz"])
    octave = lambda hz: math.log2(hz) if hz > 0 else -1000.0
    best = min(
        itertools.combinations(range(len(slots)), len(alone)),
        key=lambda c: sum(abs(octave(r["at_hz"]) - octave(slots[k][0])) for r, k in zip(alone, c)),
    )
    for r, k in zip(alone, best):
        sections[slots[k][1]]["z"] += placed(r)
    out = [Zpk(np.array(s["z"]) / s["keep"], np.array(s["p"]) / s["keep"], 1.0, s["keep"]) for s in sections]
    level = 1.0
    if f["word"].get("unity-at") != "inf":
        level = abs(product([e.analog(np.array([f["num"]["unity-at"]])) for e in out], [0]).h[0])
    out[0].k = 1 / level
    return out


class Ideal:
    """The system that a description means: for every way its elements with
    their conditions, a gain and a delay."""

    def __init__(self, d):
        lines = [d["common"]] + [w["filters"] for w in d["ways"]] + [[x["low"], x["high"]] for x in d["crossovers"] or []]
        # Filters that have a method of their own beside the realisation's.
        self.methods = {f["word"]["method"] for line in lines for f in line or [] if "method" in f["word"]}
        self.common = self._line(d["common"] or [])
        self.ways = []
        ideal = lambda f: ideal_of(f)[0]
        for i, w in enumerate(d["ways"]):
            elements, gain, delay = self._line(w["filters"] or [])
            for x in d["crossovers"] or []:
                low, high = ideal(x["low"]), ideal(x["high"])
                if i == x["lower"]:
                    more = low
                elif i == x["upper"]:
                    more = high
                elif d["compensation"] == "none" or len(d["ways"]) == 2:
                    more = []
                elif d["compensation"] == "exact" and i > x["upper"]:
                    more = high
                else:
                    same = d["ways"][x["lower"]]["inverted"] == d["ways"][x["upper"]]["inverted"]
                    more = [Sum(low, high, 1 if same else -1)]
                elements += [(e, None) for e in more]
            gain *= 10 ** (w["gain_db"] / 20) * (-1 if w["inverted"] else 1)
            self.ways.append((elements, gain, delay + w["delay_s"]))

    @staticmethod
    def _line(filters):
        elements, gain, delay = [], 1.0, 0.0
        for f in filters:
            e, g, s = ideal_of(f)
            if f["when"]:
                if g != 1:
                    e = e + [Zpk([], [], g, 1.0)]
                elements += [(x, f["when"]) for x in e]
            else:
                elements += [(x, None) for x in e]
                gain *= g
                delay += s
        return elements, gain, delay

    def elements(self, way):
        return self.common[0] + self.ways[way][0]

    def gain(self, way):
        return self.common[1] * self.ways[way][1]

    def response(self, way, combination, hz, of):
        """of gives an element's response at hz, analog or digital; the delay
        is left to the caller."""
        out = Response.of(self.gain(way), hz)
        for e, when in self.elements(way):
            if when is None or all(combination[c["setting"]] in c["choices"] for c in when):
                out = out * of(e)
        return out

    def delay(self, way):
        return self.common[2] + self.ways[way][2]
