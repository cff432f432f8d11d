"""What is heard of the emitted C while settings change and mutes come and go, by scipy's filters.

Reads cases from the standard input: a program made of clicks.c, the NAME.json of its spec, and
whether a reset, which is not meant to be unheard, comes in between. Prints what is wrong with each
case, and the most that was heard."""
import itertools
import json
import random
import subprocess
import sys

import numpy as np
from scipy import signal

CLICK_HZ, ABOVE_HZ = 60, 1000
TONES = (CLICK_HZ, ABOVE_HZ, 28, 240, 3700, 10000)
CLICK_LIMIT = -80.0  # dB re the sine, of what lies above 1 kHz
LEVEL_LIMIT = 0.5  # dB re the louder of before and after
UNHEARD = 1e-5  # of full scale: -100 dB
AS_PRINTED = 0.006  # dB: NAME.json has two digits behind the point
TICK = 32  # samples at most until a change begins
CALLS = 60  # at any time and in any order
NOTHING = -400.0  # dB


def db(ratio):
    return 20 * np.log10(max(ratio, 1e-20))


class Case:
    def __init__(self, case):
        with open(case["json"]) as f:
            result = json.load(f)
        (d,) = [d for d in result["digital"] if d.get("changes")]
        self.program, self.reset, self.settings, self.changes = case["program"], case["reset"], result["settings"], d["changes"]
        self.fs, self.ways = d["rate_hz"], len(d["ways"])
        self.length = round((self.changes["settle_s"] + self.changes["fade_s"]) * self.fs) + TICK
        self.steady = int(2 * self.fs / CLICK_HZ)
        # What filters do when a tone begins, which a cosine does with a step, is their own.
        self.lead = max(self.length + self.steady, int(self.fs))
        self.above = signal.butter(4, ABOVE_HZ, "highpass", fs=self.fs, output="sos")
        self.failures, self.click, self.level, self.start = [], NOTHING, NOTHING, NOTHING

    def play(self, hz, script):
        """What comes of a script, in which a number stands for so many samples: one array a number, the
        answer to the sine as its real part, that to the cosine as its imaginary part. A tone of any other
        phase gives their sum with cosine and sine of that phase, and at any moment at most the magnitude."""
        both = []
        for turns in (0, 0.25):
            lines = [f"play {s} {hz} {turns}" if isinstance(s, int) else s for s in script]
            out = subprocess.run([self.program], input="\n".join(lines).encode(), stdout=subprocess.PIPE, check=True).stdout
            both.append(np.frombuffer(out, "=f4").reshape(-1, self.ways).astype(float))
        ends = np.cumsum([s for s in script if isinstance(s, int)])
        if len(both[0]) != ends[-1]:
            raise ValueError(f"{len(both[0])} frames of {ends[-1]}")
        return np.split(both[0] + 1j * both[1], ends[:-1])

    def clicks(self, parts):
        """The peak above 1 kHz of each part of what is played without a break."""
        heard = np.abs(signal.sosfilt(self.above, np.concatenate(parts), axis=0))
        return [part.max() for part in np.split(heard, np.cumsum([len(p) for p in parts])[:-1])]

    def judge(self, what, click, level):
        self.click, self.level = max(self.click, click), max(self.level, level)
        if click > CLICK_LIMIT:
            self.failures.append(f"{what}: {click:.1f} dB above 1 kHz")
        if level > LEVEL_LIMIT:
            self.failures.append(f"{what}: {level:.2f} dB louder than before and after")

    def tours(self):
        """Every setting once through its choices and back to the first, each tour from the same moment."""
        printed = {(c["setting"], c["from"], c["to"]): c for c in self.changes["each"]}
        script, tours = [self.lead, self.steady, "save"], []
        for k, s in enumerate(self.settings):
            if not any(c[0] == s["name"] for c in printed):
                continue
            script.append("load")
            n = len(s["choices"])
            for i in range(n):
                script += [f"set {k} {(i + 1) % n}", self.length, self.steady]
                if self.reset and i == 0:
                    script.insert(-1, "reset")
            tours.append((s["name"], [(s["choices"][i], s["choices"][(i + 1) % n]) for i in range(n)]))
        clicks, levels = {}, {}
        for hz in TONES:
            parts = self.play(hz, script)
            lead, parts = parts[:2], parts[2:]
            for name, steps in tours:
                own, parts = parts[: 2 * len(steps)], parts[2 * len(steps) :]
                above = self.clicks(lead + own)
                before = np.abs(lead[1]).max(axis=0)
                for i, (a, b) in enumerate(steps):
                    during, after = (np.abs(x).max(axis=0) for x in own[2 * i : 2 * i + 2])
                    louder = np.maximum(before, after)
                    key, what = (name, a, b), f"{name} from {a} to {b}, {hz} Hz"
                    heard = [db(x / y) for x, y in zip(during, louder) if y > UNHEARD]
                    level = max(heard + [db(x / UNHEARD) for x, y in zip(during, louder) if y <= UNHEARD])
                    click = db(max(above[2 + 2 * i : 4 + 2 * i])) if hz == CLICK_HZ else NOTHING
                    self.judge(what, click, level)
                    clicks[key] = max(clicks.get(key, NOTHING), click)
                    if hz in (CLICK_HZ, ABOVE_HZ):
                        levels[key] = max([levels.get(key, NOTHING)] + heard)
                    before = after
        for key, c in printed.items():
            for title, mine, theirs in (("a click", clicks[key], c["click_db"]), ("a level", levels[key], c["level_db"])):
                if not abs(mine - theirs) <= AS_PRINTED:
                    self.failures.append(f"{key}: {title} of {mine:.3f} dB, NAME.json has {theirs} dB")

    def calls(self):
        """Settings and mutes at any time, most of them while a change or a fade is on its way."""
        rng = random.Random(CALLS)
        script, muted = [self.lead], False
        for _ in range(CALLS):
            if rng.random() < 0.3:
                muted = not muted
                script.append(f"mute {int(muted)}")
            else:
                k = rng.randrange(len(self.settings))
                script.append(f"set {k} {rng.randrange(len(self.settings[k]['choices']))}")
            script.append(1 + rng.randrange(self.length))
        loudest = []
        for choices in itertools.product(*(range(len(s["choices"])) for s in self.settings)):
            loudest += [f"set {k} {c}" for k, c in enumerate(choices)] + [2 * self.length, self.steady]
        for hz in (CLICK_HZ, ABOVE_HZ):
            steady = np.abs(np.concatenate(self.play(hz, loudest)[1::2])).max(axis=0)
            parts = self.play(hz, script)
            over = np.abs(np.concatenate(parts[1:])).max(axis=0) / np.maximum(steady, UNHEARD)
            start, *clicks = map(db, self.clicks(parts)) if hz == CLICK_HZ else [self.start, NOTHING]
            self.start = start
            self.judge(f"{CALLS} calls at any time, {hz} Hz", max(clicks), db(over.max()))


def main():
    verdicts = []
    for case in json.load(sys.stdin):
        c = Case(case)
        c.tours()
        c.calls()
        verdicts.append({"failures": c.failures, "click_db": c.click, "level_db": c.level, "start_db": c.start})
    json.dump(verdicts, sys.stdout)


if __name__ == "__main__":
    main()
