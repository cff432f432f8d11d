"""Responses that know how far rounding may have moved them.

A response computed in float64 is uncertain by its rounding times its
conditioning: for a polynomial c that is sum |c_k x^k| / |c(x)|, for roots r it
is sum (|x| + |r|) / |x - r|. Every response carries that number, as `spread`
in units of EPS, and two responses may differ by ROUNDINGS times the sum of
their spreads. For most that is 1e-13 to 1e-11 of the response; where b and a
of a corner far below the rate cancel (20 Hz at 768 kHz leaves seven digits) it
reaches 1e-6, and the words, which do not cancel, decide.
"""
import math

import numpy as np

# Responses are 0 at notches; what is divided by them is never looked at.
np.seterr(divide="ignore", invalid="ignore")

EPS = 2.0**-52
# Each term of a polynomial is some roundings old when it is summed: those of
# the coefficients (up to 8 EPS where a quantiser clears what rounding left of
# a zero), of the powers, of the sum. Responses that differ by more are wrong.
ROUNDINGS = 8
FLOOR = 1e-13  # below which nobody needs to explain a difference
ROOT = 4  # EPS: how well scipy knows a root of its designs, elliptic and bessel included (measured)
DECIBEL = 20 / math.log(10)  # of a relative error
WORST = 1e-9  # agreement of a finding's worst value, dB or degrees
SCAN = 1e-6  # how much worse another frequency may be, dB or degrees
FLOORED = 1e-9  # findings below it are written as 0, dB or degrees


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


class Cache(dict):
    """Responses of the parts of a system on one grid."""

    def __init__(self, of):
        super().__init__()
        self.of = of

    def __call__(self, part):
        key = id(part)
        if key not in self:
            self[key] = (part, self.of(part))
        return self[key][1]


class Failure(Exception):
    pass


class Ledger:
    """Failures of one case, and over all cases the worst figure of a check."""

    figures = {}

    def __init__(self, name):
        self.name, self.failures = name, []

    def fail(self, check, text):
        if sum(c == check for c, _ in self.failures) < 5:
            self.failures.append((check, text))

    def figure(self, check, error, share, unit=""):
        f = Ledger.figures.setdefault(check, [0, 0.0, 0.0, unit])
        f[0] += 1
        f[1], f[2] = max(f[1], error), max(f[2], share)

    def compare(self, check, where, got, want, magnitude=False):
        """Both responses, within the roundings that their spreads allow."""
        if magnitude:
            error = np.abs(np.abs(got.h) - np.abs(want.h)) / np.abs(want.h)
        else:
            error = np.abs(got.h - want.h) / np.abs(want.h)
        allowed = FLOOR + ROUNDINGS * EPS * (got.spread + want.spread)
        share = error / allowed
        k = int(np.nanargmax(share))
        self.figure(check, float(np.nanmax(error)), float(share[k]))
        if not np.all(share <= 1):
            self.fail(check, f"{where}: off by {error[k]:.3g} of the response at point {k}, allowed {allowed[k]:.3g}")
