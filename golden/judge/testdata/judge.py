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
"""
import json
import sys

import numpy as np
from emitted import FORMS, Circle, Emitted, by_freqz, by_words, degree, moved
from findings import findings
from ideal import Ideal
from response import EPS, ROUNDINGS, Cache, Failure, Ledger, Response, delayed


def words(ledger, e):
    """Words are numbers of the format; b and a are the words written out."""
    d = e.d
    f32 = d["format"] == "float32"
    lines = [(None, d["common"])] + [(w["way"], w) for w in d["ways"]]
    for way, line in lines:
        gain = line["gain"] * (d["input_gain"] if way is None else 1)
        # The common word is divided by the input gain and multiplied back.
        if f32 and abs(float(np.float32(gain)) - gain) > (2 * EPS * abs(gain) if way is None else 0):
            ledger.fail("words", f"{e.name()}: the gain {gain!r} of {way or 'common'} is no float32")
        for s in line["sections"]:
            b, a, w = s["b"], s["a"], s["words"]
            if a[0] != 1 or w["a"][0] != 1 or s["feedback"] != [-a[1], -a[2]]:
                ledger.fail("words", f"{s['filter']}: a {a}, feedback {s['feedback']}")
            for v in w["b"] + w["a"]:
                if f32 and float(np.float32(v)) != v:
                    ledger.fail("words", f"{s['filter']}: {v!r} is no float32")
            n, c = degree(s), FORMS[s["form"]]
            if "integers" in s:
                integers(ledger, s)
            for got, from_words in ((b, w["b"]), (a, w["a"])):
                want = moved(from_words, n, -c) + [0.0] * (2 - n)
                size = sum(abs(v) for v in from_words) * 4
                for g, v in zip(got, want):
                    if abs(g - v) > 2 * EPS * size:
                        ledger.fail("words", f"{s['filter']}: b, a {got} do not follow from {s['form']} {from_words}")


def integers(ledger, s):
    """The words of fixed point are whole numbers of 32 bits, each of its own bits behind the point; a0 is none."""
    i = s["integers"]
    for part in "b", "a":
        for k, (whole, word, bits) in enumerate(zip(i[part], s["words"][part], i[part + "_bits"])):
            stored = (part, k) != ("a", 0)
            if whole != word * 2.0**bits or stored and not -(2**31) <= whole < 2**31:
                ledger.fail("words", f"{s['filter']}: {part}{k} {word!r} is not {whole} of {bits} bits")


def fixed_delays(ledger, d, e, ideal):
    """Whole samples are the nearest, unless all-pass sections make the rest."""
    lines = [("common", d["common"], e.common, ideal.common[2])]
    lines += [(w["way"], w, p, i[2]) for w, p, i in zip(d["ways"], e.ways, ideal.ways)]
    for name, line, positions, delay in lines:
        samples = delay * d["rate_hz"]
        off = abs(samples - line["delay_samples"])
        if not e.fractions(positions) and off > 0.5 + 1e-6:
            ledger.fail("bilinear", f"{e.name()}: {name} is delayed by {line['delay_samples']} samples, not {samples}")


def bilinear(ledger, case, d, e, ideal, hz):
    """The float64 sections against scipy's transform of the whole filters."""
    fs = d["rate_hz"]
    fixed_delays(ledger, d, e, ideal)
    digital, circle = Cache(lambda x: x.digital(hz, fs)), Circle(hz, fs)
    # The sections are scipy's, rounded to b and a: their spread is that of the
    # direct form however they are evaluated.
    emitted = Cache(lambda s: Response(by_words(s, circle).h, by_freqz(s, circle).spread))
    for way in range(len(d["ways"])):
        fraction = e.fractions(e.common) or e.fractions(e.ways[way])
        for c in case["combinations"]:
            got = e.response(way, c, hz, emitted)
            want = ideal.response(way, c, hz, digital)
            where = f"{e.name()}, {d['ways'][way]['way']}, {c}"
            if not fraction:
                ledger.compare("bilinear", where, got, want * delayed(hz, e.samples(way) / fs))
                continue
            ledger.compare("bilinear", where, got, want, magnitude=True)
            # An all-pass of maximally flat delay has the whole delay at 0 Hz.
            # Either of common and way may have been rounded to samples.
            rounded = 0.0
            for positions, samples, delay in (
                (e.common, d["common"]["delay_samples"], ideal.common[2]),
                (e.ways[way], d["ways"][way]["delay_samples"], ideal.ways[way][2]),
            ):
                if not e.fractions(positions):
                    rounded += samples / fs - delay
            turn = abs(np.angle(got.h[0] / want.h[0] / delayed(hz[:1], ideal.delay(way) + rounded).h[0]))
            allowed = FRACTION + ROUNDINGS * EPS * (got.spread[0] + want.spread[0])
            if turn > allowed:
                ledger.fail("bilinear", f"{where}: the delay is off by {turn} rad at {hz[0]} Hz")


# rad at some 5 Hz: the flat delay of an all-pass departs with the third power
# of frequency at least, (2π·6/8000)^3 at the lowest rate.
FRACTION = 2e-7


def realisations(ledger, case, result, ideal, numbers):
    for rate in case["rates"]:
        n, fs = rate["points"], rate["rate_hz"]
        hz = numbers[rate["hz"] : rate["hz"] + n]

        def own(offset, way, k):
            at = offset + 2 * n * (way * len(case["combinations"]) + k)
            return Response(numbers[at : at + 2 * n].view(complex), np.zeros(n))

        analog = Cache(lambda x: x.analog(hz))
        for way in range(len(ideal.ways)):
            for k, c in enumerate(case["combinations"]):
                want = ideal.response(way, c, hz, analog) * delayed(hz, ideal.delay(way))
                ledger.compare("prototype", f"way {way}, {c}", own(rate["analog"], way, k), want)
        for d in result["digital"]:
            if d["rate_hz"] != fs:
                continue
            e = Emitted(d, result["settings"])
            words(ledger, e)
            circle = Circle(hz, fs)
            routes = (Cache(lambda s: by_freqz(s, circle)), Cache(lambda s: by_words(s, circle)))
            for way in range(len(d["ways"])):
                for k, c in enumerate(case["combinations"]):
                    mine = own(rate["digital"][d["format"]], way, k)
                    for route, title in zip(routes, ("b and a", "words")):
                        got = e.response(way, c, hz, route)
                        ledger.compare("emitted", f"{e.name()}, {d['ways'][way]['way']}, {c}, by {title}", got, mine)
            if d["format"] == "float64" and {d["method"]} | ideal.methods == {"bilinear"}:
                bilinear(ledger, case, d, e, ideal, hz)


def main():
    docket = json.load(sys.stdin)
    numbers = np.fromfile(docket["numbers"], "<f8")
    cases = []
    for case in docket["cases"]:
        ledger = Ledger(case["name"])
        try:
            result = json.loads(case["result"])
            ideal = Ideal(case["description"])
            realisations(ledger, case, result, ideal, numbers)
            findings(ledger, case, result, ideal)
        except Failure as f:
            ledger.fail(*f.args)
        cases.append({"name": case["name"], "failures": ledger.failures})
    figures = [
        f"{check}: {n} comparisons, worst error {error:.3g}{' ' + unit if unit else ' of the response'}, {share:.3g} of what is allowed"
        for check, (n, error, share, unit) in sorted(Ledger.figures.items())
    ]
    json.dump({"cases": cases, "figures": figures}, sys.stdout)


if __name__ == "__main__":
    main()
