"""What NAME.json says of a format, float32 unless another is named: how many sections run under the first choices at the first rate,
cascade by cascade, joined by commas; that rate; and how many rows the tables of all rates have."""
import json
import sys

result = json.load(open(sys.argv[1]))
first = {s["name"]: s["choices"][0] for s in result.get("settings") or []}
first = {n: c["name"] if isinstance(c, dict) else c for n, c in first.items()}


def through(section):
    return section["words"]["b"] == [1, 0, 0] and not any(section["words"]["a"][1:])


def runs(section):
    return not through(section) and all(first[name] in choices for name, choices in (section["when"] or {}).items())


rates = [d for d in result["digital"] if d["format"] == (sys.argv[2:] or ["float32"])[0] and d["asked"]]
rows = sum(not (s["when"] and through(s)) for d in rates for c in [d["common"], *d["ways"]] for s in c["sections"])
cascades = [rates[0]["common"], *rates[0]["ways"]]
print(",".join(str(sum(map(runs, c["sections"]))) for c in cascades), rates[0]["rate_hz"], rows)
