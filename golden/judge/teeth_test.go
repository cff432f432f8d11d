package judge

import (
	"encoding/json"
	"math"
	"slices"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/result"
)

// victim is a spec with everything that the judge looks at, small enough to
// know what each change must lead to.
const victim = `bandwright: 1
name: victim
revision: "1"
settings:
  placement: [free, wall]
common:
  - peak: {at: 90 Hz, q: 2, gain: -3 dB, when: {placement: wall}}
ways:
  bass: {gain: -2 dB}
  treble:
    filters:
      - high-shelf: {at: 6 kHz, gain: 2 dB}
    delay: 0.5 ms
crossovers:
  - {between: [bass, treble], family: LR, order: 4, at: 1.5 kHz}
digital: {rates: [48 kHz], formats: [float32, float64], method: bilinear}
`

// The judge notices whatever is changed in what it is given, by a part in a
// million or a single sign, and says which check it was.
func TestJudgeNotices(t *testing.T) {
	b := compiled(t, "victim", victim)
	honest := newTrial(t, "victim", described(b.Spec), b)
	changed := func(a alteration) trial {
		t.Helper()
		r, err := result.Read(honest.json)
		if err != nil {
			t.Fatal(err)
		}
		x := honest
		x.name = a.name
		x.system = copied(t, honest.system)
		a.change(r, &x.system)
		if x.json, err = r.Bytes(); err != nil {
			t.Fatal(err)
		}
		return x
	}
	trials := []trial{honest}
	checks := []string{""}
	for _, a := range append(alterations(), offTheWorst(b)) {
		trials, checks = append(trials, changed(a)), append(checks, a.check)
	}
	v := judged(t, trials)
	for i, c := range v.Cases {
		if checks[i] == "" {
			if len(c.Failures) > 0 {
				t.Errorf("the spec as it is: %v", c.Failures)
			}
			continue
		}
		if !slices.ContainsFunc(c.Failures, func(f [2]string) bool { return f[0] == checks[i] }) {
			t.Errorf("%s: the check %s saw nothing (%v)", c.Name, checks[i], c.Failures)
		}
	}
	for _, f := range v.Cases[len(v.Cases)-1].Failures {
		if !strings.Contains(f[1], "but ") {
			t.Errorf("%s: noticed by another check than the scan: %s", trials[len(trials)-1].name, f[1])
		}
	}
}

// alteration is one change, and the check that has to notice it.
type alteration struct {
	name, check string
	change      func(*result.Result, *system)
}

// worstOf is the finding on the treble or the sum.
func worstOf(r *result.Result, promise string) *result.Finding {
	return &r.Findings[slices.IndexFunc(r.Findings, func(f result.Finding) bool { return f.Promise == promise && f.Way != "bass" })]
}

// alterations are one of each thing that the judge looks at.
func alterations() []alteration {
	const part = 1 + 1e-6
	treble := func(r *result.Result, format string) *result.Way {
		k := slices.IndexFunc(r.Digital, func(d result.Digital) bool { return d.Format == format })
		return &r.Digital[k].Ways[1]
	}
	return []alteration{
		{"b1 of a float64 section", "emitted", func(r *result.Result, _ *system) { treble(r, "float64").Sections[0].B[1] *= part }},
		{"words of a float64 section", "emitted", func(r *result.Result, _ *system) { treble(r, "float64").Sections[0].Words.A[2] *= part }},
		{"words that no float32 holds", "words", func(r *result.Result, _ *system) { treble(r, "float32").Sections[1].Words.B[0] += 1e-12 }},
		{"feedback without its sign", "words", func(r *result.Result, _ *system) { treble(r, "float32").Sections[0].Feedback[0] *= -1 }},
		{"a section too few", "emitted", func(r *result.Result, _ *system) {
			s := &treble(r, "float32").Sections
			*s = (*s)[:len(*s)-1]
		}},
		{"a section always there", "emitted", func(r *result.Result, _ *system) {
			for i := range r.Digital[0].Common.Sections {
				r.Digital[0].Common.Sections[i].When = nil
			}
		}},
		{"a choice that does not exist", "emitted", func(r *result.Result, _ *system) {
			r.Digital[0].Common.Sections[0].When = map[string][]string{"placement": {"attic"}}
		}},
		{"polarity", "emitted", func(r *result.Result, _ *system) { treble(r, "float32").Polarity = -1 }},
		{"a sample of delay", "bilinear", func(r *result.Result, _ *system) { treble(r, "float64").DelaySamples++ }},
		{"gain of a way", "emitted", func(r *result.Result, _ *system) { treble(r, "float64").Gain *= part }},
		{"corner of the description", "prototype", func(_ *result.Result, s *system) { s.Ways[1].Filters[0].Num["at"] *= part }},
		{"corner of a crossover", "bilinear", func(_ *result.Result, s *system) { s.Crossovers[0].High.Num["at"] *= part }},
		{"a condition of the description", "prototype", func(_ *result.Result, s *system) { s.Common[0].When[0].Choices[0] = 0 }},
		{"worst magnitude", "findings", func(r *result.Result, _ *system) { worstOf(r, "magnitude").Worst *= part }},
		{"worst sum", "findings", func(r *result.Result, _ *system) { worstOf(r, "sum").Worst *= part }},
		{"combinations", "findings", func(r *result.Result, _ *system) { worstOf(r, "sum").Of++ }},
		{"a finding that is missing", "findings", func(r *result.Result, _ *system) {
			r.Findings = slices.DeleteFunc(r.Findings, func(f result.Finding) bool { return f.Promise == "sum" })
		}},
	}
}

// offTheWorst is a finding that is true at its frequency, but not the greatest:
// what the scan is for.
func offTheWorst(b *compiler.Build) alteration {
	return alteration{"another frequency than the worst", "findings", func(r *result.Result, _ *system) {
		f := worstOf(r, "magnitude")
		f.AtHz *= 1.001 // off the edge that the promise ends at, to the inside
		hz, h, p := []float64{f.AtHz}, make([]complex128, 1), make([]complex128, 1)
		c := biquad.Combination{0}
		for _, d := range b.Digital {
			if d.Name() == f.Realisation {
				biquad.OnDigital(d.System.Path(1), d.RateHz, hz).Response(h, c)
			}
		}
		biquad.OnAnalog(b.Prototype.Path(1), hz).Response(p, c)
		f.Worst = math.Abs(biquad.DB(h[0] / p[0]))
		f.Kept = f.Worst <= f.Limit
	}}
}

// copied is a description that shares nothing with the original.
func copied(t *testing.T, s system) system {
	t.Helper()
	text, err := json.Marshal(s)
	if err != nil {
		t.Fatal(err)
	}
	var out system
	if err := json.Unmarshal(text, &out); err != nil {
		t.Fatal(err)
	}
	return out
}
