"""What NAME.json says: sections, their positions and conditions, their words."""
import math

import numpy as np
from response import EPS, Failure, Response, delayed
from scipy import signal


class Circle:
    """Points of the unit circle as z-1 and z+1, so that neither end of the
    frequency range loses digits."""

    def __init__(self, hz, fs):
        s, c = np.sin(np.pi * hz / fs), np.cos(np.pi * hz / fs)
        self.hz, self.fs = hz, fs
        low = hz < fs / 4
        # The half about z = 1 and the half about z = -1, each with the variable that keeps its digits,
        # its square and its size; a half that is everything, or nothing, is not copied.
        self.halves = []
        for e, t, here in ((1.0, -2 * s * s + 2j * s * c, low), (-1.0, 2 * c * c + 2j * s * c, ~low)):
            if here.all():
                here = slice(None)
            elif not here.any():
                continue
            t = t[here]
            self.halves.append((e, here, t, t * t, size(t)))


def size(v):
    """|v|, of numbers whose squares neither overflow nor vanish."""
    return np.sqrt(v.real * v.real + v.imag * v.imag)


def degree(section):
    b, a = section["words"]["b"], section["words"]["a"]
    return max(k for k in range(3) if k == 0 or b[k] != 0 or a[k] != 0)


FORMS = {"direct": 0.0, "delta": 1.0, "mirrored": -1.0, "error-feedback": 0.0}


def moved(c, n, h):
    """c0·(t+h)^n + … in powers of t, each coefficient rounded once."""
    if n == 0:
        return [c[0]]
    if n == 1:
        return [c[0], math.fsum([c[1], h * c[0]])]
    return [c[0], math.fsum([c[1], 2 * h * c[0]]), math.fsum([c[2], h * c[1], h * h * c[0]])]


def stray(words, exact, n, h):
    """How far the constant term is off for whoever adds it up two by two, as
    a compiler may: at frequencies far below the rate nothing else is left."""
    if n == 0:
        return 0.0
    plain = words[1] + h * words[0] if n == 1 else h * h * words[0] + h * words[1] + words[2]
    return abs(plain - exact[n])


def polynomials(section):
    """Numerator and denominator about z = 1 and about z = -1, from t² down to 1, by the point: each with the
    sizes of its terms, of which the last is that of the constant term and of how far it is off."""
    if "polynomials" not in section:
        n, c, words = degree(section), FORMS[section["form"]], section["words"]
        of = section["polynomials"] = {}
        for e in (1.0, -1.0):
            of[e] = []
            for w in words["b"], words["a"]:
                p = moved(w, n, e - c)
                sizes = [abs(k) for k in p]
                sizes[-1] += stray(w, p, n, e - c) / EPS
                of[e].append(([0.0] * (2 - n) + p, [0.0] * (2 - n) + sizes))
    return section["polynomials"]


def by_words(section, circle):
    """The response of the words in the variable of their form."""
    h, spread = np.empty(len(circle.hz), complex), np.empty(len(circle.hz))
    of = polynomials(section)
    for e, here, t, square, distance in circle.halves:
        (b, b_sizes), (a, a_sizes) = of[e]
        num, den = b[0] * square + b[1] * t + b[2], a[0] * square + a[1] * t + a[2]
        h[here] = num / den
        spread[here] = (
            2.0
            + ((b_sizes[0] * distance + b_sizes[1]) * distance + b_sizes[2]) / size(num)
            + ((a_sizes[0] * distance + a_sizes[1]) * distance + a_sizes[2]) / size(den)
        )
    return Response(h, spread)


def by_freqz(section, circle):
    """The response of b and a as scipy gives it."""
    w = 2 * np.pi * circle.hz / circle.fs
    b, a = np.array(section["b"]), np.array(section["a"])
    _, h = signal.freqz(b, a, worN=w)
    _, den = signal.freqz(a, 1, worN=w)
    size = np.abs(den)
    return Response(h, 2 + np.abs(b).sum() / np.abs(h * den) + np.abs(a).sum() / size)


class Emitted:
    """One entry of `digital`."""

    def __init__(self, d, settings):
        self.d, self.settings = d, {s["name"]: (i, s["choices"]) for i, s in enumerate(settings)}
        self.common = self._positions(d["common"]["sections"])
        self.ways = [self._positions(w["sections"]) for w in d["ways"]]

    @staticmethod
    def _positions(sections):
        out = []
        for s in sections:
            if s["position"] == len(out):
                out.append([])
            if s["position"] != len(out) - 1:
                raise Failure("emitted", f"position {s['position']} out of order")
            out[-1].append(s)
        return out

    def applies(self, section, combination):
        for name, choices in (section["when"] or {}).items():
            i, all = self.settings[name]
            if not set(choices) <= set(all):
                raise Failure("emitted", f"{section['filter']} has unknown choices {choices}")
            if all[combination[i]] not in choices:
                return False
        return True

    def path(self, way, combination):
        out = []
        for position in self.common + self.ways[way]:
            here = [s for s in position if self.applies(s, combination)]
            if len(here) != 1:
                raise Failure(
                    "emitted", f"{len(here)} sections apply at position {position[0]['position']} ({position[0]['filter']}) in {combination}"
                )
            out.append(here[0])
        return out

    def gain(self, way):
        return self.d["common"]["gain"] * self.d["ways"][way]["gain"] * self.d["ways"][way]["polarity"]

    def samples(self, way):
        return self.d["common"]["delay_samples"] + self.d["ways"][way]["delay_samples"]

    def response(self, way, combination, hz, of):
        out = Response.of(self.gain(way), hz)
        for s in self.path(way, combination):
            out = out * of(s)
        return out * delayed(hz, self.samples(way) / self.d["rate_hz"])

    def touched(self, way):
        names = {n for p in self.common + self.ways[way] for s in p for n in s["when"] or {}}
        return sorted(self.settings[n][0] for n in names)

    def fractions(self, positions):
        return any(name.endswith(" delay") for p in positions for s in p for name in s["filter"].split(", "))

    def name(self):
        rate = f"{self.d['rate_hz'] / 1000:.10g} kHz"
        return f"digital {rate} {self.d['format']}"
