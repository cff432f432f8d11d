"""Analog prototypes by scipy.signal, the independent judge of families_scipy_test.go.

Reads a JSON list of cases from standard input:
  {"family", "order", "ripple", "stop", "norm", "high": bool, "w": [...]}
(corner at 1 rad/s, w in rad/s) and prints, in the same order,
  {"z": [[re, im]...], "p": [[re, im]...], "k": gain, "h": [[re, im]...]}.
"""
import json
import sys

import numpy as np
from scipy import signal

BESSEL_NORM = {"magnitude": "mag", "delay": "delay", "phase": "phase"}


def low_pass(case):
    family, order = case["family"], case["order"]
    if family == "butterworth":
        return signal.buttap(order)
    if family == "LR":  # scipy's Butterworth of half the order, twice
        z, p, k = signal.buttap(order // 2)
        return np.concatenate([z, z]), np.concatenate([p, p]), k * k
    if family == "bessel":
        return signal.besselap(order, norm=BESSEL_NORM[case["norm"]])
    if family == "chebyshev":
        return signal.cheb1ap(order, case["ripple"])
    if family == "inverse-chebyshev":
        return signal.cheb2ap(order, case["stop"])
    if family == "elliptic":
        return signal.ellipap(order, case["ripple"], case["stop"])
    if family == "critically-damped":  # scipy has none: n equal first-order low-passes
        first = signal.buttap(1)
        z, p, k = signal.lp2lp_zpk(*first, wo=1 / np.sqrt(2 ** (1 / order) - 1))
        return np.tile(z, order), np.tile(p, order), k ** order
    raise ValueError("unknown family " + family)


def flat(values):
    return [[float(v.real), float(v.imag)] for v in np.atleast_1d(np.asarray(values, dtype=complex))]


def main():
    out = []
    for case in json.load(sys.stdin):
        z, p, k = low_pass(case)
        if case["high"]:
            z, p, k = signal.lp2hp_zpk(z, p, k, wo=1.0)
        _, h = signal.freqs_zpk(z, p, k, worN=np.array(case["w"]))
        out.append({"z": flat(z), "p": flat(p), "k": float(np.real(k)), "h": flat(h)})
    json.dump(out, sys.stdout)


main()
