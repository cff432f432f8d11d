package verify_test

import (
	"context"
	"math/cmplx"
	"regexp"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/acoustic"
	"bandwright/compiler/design"
	"bandwright/compiler/promise"
	"bandwright/compiler/verify"
)

// measured is a third kind of realisation: responses as a measurement might have
// them, the treble a tenth too loud and 20 µs late, and nothing else.
type measured struct{ of *verify.Ideal }

func (m measured) Name() string                     { return "measured" }
func (m measured) CommonDelayS() float64            { return 0 }
func (m measured) Landmarks(int) []verify.Landmark  { return nil }
func (m measured) On(hz []float64) verify.Responder { return m.Near(hz) }
func (m measured) error(way int, hz float64) complex128 {
	if way == 0 {
		return 1
	}
	return cmplx.Rect(1.1, 0) * biquad.Delay(hz, 20e-6)
}

func (m measured) Near(hz []float64) verify.Responder {
	return verify.Direct(func(dst []complex128, way int, c verify.Combination) {
		m.of.Near(hz).Response(dst, way, c)
		for i, f := range hz {
			dst[i] *= m.error(way, f)
		}
	})
}

// foreign are words that belong to boards and to arithmetic.
var foreign = regexp.MustCompile(`(?i)board|part|resistor|capacitor|series|op-amp|supply|format|rate\b|method|digital|pole`)

// A realisation that has only a response is judged by it, by the same Judge, and
// is told of nothing that it has not: no parts, no formats.
func TestThirdRealisation(t *testing.T) {
	proto := twoWay(2300)
	every := promise.Promises{Extent: verify.Extent{LowHz: 20, HighHz: 20000, DownToDB: -60}}
	for _, r := range promise.All {
		if r.InSpec() {
			every = every.With(r, promise.Limit{On: true, Value: 0.01})
		}
	}
	figures, findings := verify.Judge(context.Background(), subject(proto), measured{verify.NewIdeal(proto)}, every.Terms())
	want := map[string]string{
		"magnitude low": "", "magnitude high": "allow promise.magnitude: 0.828 dB", "phase low": "", "sum sum": "allow promise.sum: ",
		"phase high": "allow promise.phase: ",
	}
	for _, f := range findings {
		remedy, ok := want[f.Promise+" "+f.Way]
		if !ok {
			t.Errorf("judged for what it has not: %+v", f)
		}
		delete(want, f.Promise+" "+f.Way)
		if f.Kept != (remedy == "") || len(f.Remedy) < len(remedy) || f.Remedy[:len(remedy)] != remedy {
			t.Errorf("%s of %s, kept %v: %q", f.Promise, f.Way, f.Kept, f.Remedy)
		}
		for _, text := range []string{f.Head(), f.Where(), f.Remedy, f.Note} {
			if w := foreign.FindString(text); w != "" {
				t.Errorf("a measurement is told of %q: %s", w, text)
			}
		}
	}
	if len(want) != 0 || len(figures) != 3 {
		t.Errorf("not judged: %v, %d figures", want, len(figures))
	}
	if v := verify.VerdictOn(findings); !strings.HasPrefix(v.String(), "BROKEN: 3 of 3 promises are not kept: magnitude, phase and sum") {
		t.Errorf("the verdict: %s", v)
	}
	if f := figures[1]; f.Sections != 0 || f.Peak.Known || f.NoiseDBFS.Known || f.NoiseV.Known || !f.GroupDelay.Known {
		t.Errorf("%+v", f)
	}
}

// strayed is a measurement that counts down to 40 dB below a way's peak only.
type strayed struct{ measured }

func (strayed) DownToDB() float64 { return -40 }

// Every realisation is held to one error of magnitude, as far down as it can be.
func TestOneMagnitude(t *testing.T) {
	proto := twoWay(2300)
	p := promise.Promises{Extent: verify.Extent{LowHz: 20, HighHz: 20000, DownToDB: -60}}
	for _, r := range []*promise.Row{&promise.Magnitude, &promise.BoardMagnitude} {
		p = p.With(r, promise.Limit{On: true, Value: 1})
	}
	m := measured{verify.NewIdeal(proto)}
	for r, want := range map[verify.Realisation]*promise.Row{m: &promise.Magnitude, strayed{m}: &promise.BoardMagnitude} {
		_, findings := verify.Judge(context.Background(), subject(proto), r, p.Terms())
		if len(findings) != 2 || findings[0].Promise != want.Name || findings[1].Promise != want.Name {
			t.Errorf("%+v", findings)
		}
	}
}

// spanned is a measurement of a finished unit.
type spanned struct{ measured }

func (spanned) SpanHz() (low, high float64) { return 20, 20000 }

// able is a realisation that can do all that one can.
type able struct{ strayed }

func (able) RateHz() float64                           { return rate }
func (able) InputGain() float64                        { return 1 }
func (able) BoundDBFS(int, verify.Combination) float64 { return 0 }

func (able) Reads() []*verify.Quantity {
	var out []*verify.Quantity
	for _, r := range promise.All {
		out = append(out, r.Of)
	}
	return out
}

func (a able) Readings(_ context.Context, cases []verify.Case) [][]verify.Reading {
	out := make([][]verify.Reading, len(cases))
	for i := range cases {
		for _, q := range a.Reads() {
			out[i] = append(out[i], verify.Reading{Of: q, Value: 0.5})
		}
	}
	return out
}

func (a able) OfBatch() []verify.Reading {
	var out []verify.Reading
	for _, q := range a.Reads() {
		out = append(out, verify.Reading{Of: q, Value: 0.5})
	}
	return out
}

// Every promise of the table is judged of a realisation that can do everything,
// but for the error of magnitude that another takes the place of, and for the one
// that there is a realisation at all.
func TestEveryPromiseIsJudged(t *testing.T) {
	proto := twoWay(2300)
	p := promise.Promises{Extent: verify.Extent{LowHz: 20, HighHz: 20000, DownToDB: -60}}
	for _, r := range promise.All {
		if r.InSpec() {
			p = p.With(r, promise.Limit{On: true, Value: 1})
		}
	}
	judged := map[string]bool{promise.Magnitude.Name: true, promise.Board.Name: true}
	_, spans := verify.Judge(context.Background(), subject(proto), spanned{measured{verify.NewIdeal(proto)}}, p.Terms())
	for _, f := range spans {
		judged[f.Promise] = true
		if f.Promise == promise.Magnitude.Name || f.Promise == promise.BoardMagnitude.Name {
			t.Errorf("a measured unit is held to %s", f.Promise)
		}
	}
	_, findings := verify.Judge(context.Background(), subject(proto), able{strayed{measured{verify.NewIdeal(proto)}}}, p.Terms())
	findings = append(findings, p.Crossovers(&design.Design{Pairs: []design.PairSum{{Lower: "low", Upper: "high"}}})...)
	findings = append(findings, p.InAir(heard())...)
	for _, f := range findings {
		judged[f.Promise] = true
	}
	for _, r := range promise.All {
		if !judged[r.Name] {
			t.Errorf("%s is demanded and never judged", r.Name)
		}
	}
}

// piston is a driver that is known everywhere and moves by up to 2 mm.
type piston struct{}

func (piston) Pressure(float64, float64) complex128 { return 1 }
func (piston) Directs() bool                        { return true }
func (piston) Covers() (low, high float64)          { return 0, 40000 }
func (piston) Excursion(float64) complex128         { return 1e-4 }
func (piston) ExcursionM() float64                  { return 2e-3 }

// heard is a way in the air of which everything is known and nothing is too much.
func heard() promise.Air {
	some := func(v float64) verify.Extreme {
		return verify.Extreme{Value: v, AtHz: 100, Known: true}
	}
	s := &acoustic.System{Hz: []float64{100}, Ways: []acoustic.Way{{Name: "low", Source: piston{}, Amplifier: acoustic.Amplifier{Known: true, Gain: 20, LimitV: 28, LimitA: 7}}}}
	h := &acoustic.Heard{Realisation: "measured", Sum: some(0.5), Departures: []verify.Extreme{some(0.5)}, SumLowHz: 50, SumHighHz: 5000,
		Ways:    []acoustic.HeardWay{{Way: "low", Excursion: some(1e-4), Volts: some(1), Amperes: some(0.2)}},
		Crossed: []acoustic.Crossed{{Meetings: acoustic.Meetings{{Lower: "low", Upper: "high", Hz: 2300}}}}}
	return promise.Air{System: s, Heard: []*acoustic.Heard{h}}
}
