"""Judges NAME.json by scipy.signal: stdin is a docket, stdout the verdict.

Nothing here shares a line with the compiler. Each spec comes with its filters
in numbers; from those the ideal responses are built with scipy's own analog
designs and the digital ones with scipy's bilinear transform. Five checks:

  emitted    b and a through scipy's freqz, and the words in the variable of
             their form, against the responses that the compiler computes for
             itself; exactly one section a position in every combination
  words      words belong to the format, b and a follow from them
  prototype  the ideal from the description against the compiler's
  bilinear   scipy's bilinear transform of each whole filter against the
             emitted float64 sections
  findings   the worst `magnitude` and `sum` against a recomputation, and a
             scan that no frequency is worse

Tolerances. A response computed in float64 is uncertain by its rounding times
its conditioning: for a polynomial c that is sum |c_k x^k| / |c(x)|, for roots
r it is sum (|x| + |r|) / |x - r|. Every response below carries that number, as
`spread` in units of EPS, and two responses may differ by ROUNDINGS times the
sum of their spreads.
"""
import itertools
import json
import math
import sys

import numpy as np
from scipy import signal

EPS = 2.0**-52
# Each term of a polynomial is some roundings old when it is summed: those of
# the coefficients (up to 8 EPS where a quantiser clears what rounding left of
# a zero), of the powers, of the sum. Responses that differ by more are wrong.
ROUNDINGS = 16
FLOOR = 1e-13  # below which nobody needs to explain a difference
ROOT = {  # how well scipy knows the roots of a family, in EPS (see `accuracy`)
    "default": 4,
}
DECIBEL = 20 / math.log(10)  # of a relative error
WORST_DB = 1e-9  # agreement of a finding's worst value
SCAN_DB = 1e-6  # how much worse another frequency may be
FLOORED_DB = 1e-9  # findings below it are written as 0


class Response:
    """A response with the spread of each value in units of EPS."""

    def __init__(self, h, spread):
        self.h, self.spread = h, spread

    def __mul__(self, other):
        return Response(self.h * other.h, self.spread + other.spread)

    @staticmethod
    def of(gain, hz):
        return Response(np.full(len(hz), complex(gain)), np.full(len(hz), 2.0))


def delayed(hz, seconds):
    turns = hz * seconds
    return Response(np.exp(-2j * np.pi * (turns - np.floor(turns))), 8 * np.pi * turns)


def product(responses, hz):
    out = Response.of(1, hz)
    for r in responses:
        out = out * r
    return out


# ---------------------------------------------------------------- the ideal


class Zpk:
    """k·Π(p-z)/Π(p-q), p = s/(2π·keep): one filter that is warped as a whole."""

    def __init__(self, z, p, k, keep, accuracy=ROOT["default"]):
        self.z, self.p, self.k = np.atleast_1d(z).astype(complex), np.atleast_1d(p).astype(complex), k
        self.keep, self.accuracy = keep, accuracy

    def analog(self, hz):
        return self._at(1j * hz / self.keep, self.z, self.p, self.k, self.accuracy)

    def digital(self, hz, fs):
        # scipy maps s to 2·fs·(z-1)/(z+1); prewarped at p = j that is
        # 2·fs = 1/tan(π·keep/fs).
        twice = 1 / math.tan(math.pi * self.keep / fs)
        z, p, k = signal.bilinear_zpk(self.z, self.p, self.k, twice / 2)
        # A root's image moves with the root by less than the image itself is
        # rounded: zd = (2fs+r)/(2fs-r).
        moved = lambda r: self.accuracy * np.abs(2 * twice * r / (twice - r) ** 2)
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

    @staticmethod
    def _at(x, z, p, k, accuracy):
        h, spread = np.full(len(x), complex(k)), np.full(len(x), 2.0)
        with np.errstate(divide="ignore", invalid="ignore"):
            for r in z:
                d = x - r
                h *= d
                spread += (np.abs(x) + accuracy * abs(r)) / np.abs(d)
            for r in p:
                d = x - r
                h /= d
                spread += (np.abs(x) + accuracy * abs(r)) / np.abs(d)
        return Response(h, spread)

    def landmarks(self):
        return [(abs(r) * self.keep, abs(r.real) / abs(r)) for r in itertools.chain(self.z, self.p) if r != 0]

    def warped(self, hz, fs):
        return hz


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
        norm = {"magnitude": "mag"}.get(word["norm"], word["norm"])
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
        return [Zpk(z, p, k, at, accuracy(f))], 1.0, 0.0
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
    roots = []
    for c in (b, d):
        c = list(c)
        while c[0] == 0:
            c.pop(0)
        roots.append(([], [-c[-1] / c[0]] if len(c) == 2 else None, c[0]) if len(c) < 3 else (quadratic(*c), None, c[0]))
    (z, z1, bk), (p, p1, dk) = roots
    if len([c for c in b if c != 0]) == 1 and b[0] == 0:
        z1 = [0.0] if b[1:2] and b[1] != 0 else None
    return [Zpk(z1 if z1 is not None else z, p1 if p1 is not None else p, bk / dk, at)], 1.0, 0.0
