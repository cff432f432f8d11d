package golden

import (
	"context"
	"fmt"
	"math"
	"math/cmplx"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/digital"
	"bandwright/compiler/promise"
	"bandwright/compiler/verify"
)

// teethSpec keeps well below half the rate, so that the unperturbed error is
// small and a perturbation of a part in a thousand must stand out.
const teethSpec = `bandwright: 1
name: teeth
settings:
  wall: [away, near]
common:
  - high-pass: {family: butterworth, order: 2, at: 25 Hz}
  - low-shelf: {at: 210 Hz, gain: -3 dB, q: 0.7, when: {wall: near}}
ways:
  bass:
    filters:
      - pole-shift: {from: {at: 55 Hz, q: 0.8}, to: {at: 34 Hz, q: 0.65}}
      - peak: {at: 92 Hz, q: 2.2, gain: -2.5 dB}
  treble:
    filters:
      - dipole-lift: {from: 500 Hz, to: 190 Hz}
      - all-pass: {at: 300 Hz, q: 0.6}
crossovers:
  - {between: [bass, treble], family: LR, order: 4, at: 260 Hz}
promise: {band: 20 Hz to 600 Hz}
digital: {rates: [192 kHz], formats: [float64], method: bilinear}
`

// Every coefficient that the response depends on is changed by a part in a
// thousand, one at a time. Verification must report the changed worst error,
// equal to an evaluation of the definition in z⁻¹ at the place to 1e-9 dB, and
// break a promise that stands a tenth above the unperturbed error.
func TestTeeth(t *testing.T) {
	b, faults, err := compiler.Compile(context.Background(), "teeth.yaml", []byte(teethSpec), nil)
	if err != nil || b == nil {
		t.Fatal(err, faults)
	}
	d := b.Digital[0]
	sub := b.Subject()
	before := worstMagnitude(t, b, sub, d.System, 1)
	limit := 0.0
	for _, e := range before {
		limit = math.Max(limit, math.Abs(e.Value))
	}
	limit *= 1.1
	if limit > 0.005 {
		t.Fatalf("the unperturbed error %g dB is too large for the test to bite", limit)
	}
	tried := 0
	eachCoefficient(d.System, func(where string, sys biquad.System[biquad.Digital], x *float64) {
		if *x == 0 {
			return
		}
		tried++
		keep := *x
		*x = keep * (1 + 1e-3)
		defer func() { *x = keep }()
		figures, findings := verify.Judge(context.Background(), sub, digital.New("perturbed", sys, d.RateHz, 0, digital.Traits{Gain: 1}), with(b.Promises, limit))
		broken := false
		for _, f := range findings {
			if f.Promise == "magnitude" && !f.Kept || f.Promise == "phase" && f.Worst > limit || f.Promise == "stability" && !f.Kept {
				broken = true
			}
		}
		if !broken {
			t.Errorf("%s changed by 1e-3 passes unseen", where)
		}
		for way := range sys.Ways {
			e := figures[way].Magnitude
			p, r := definition(b, sys, way, e)
			if got := 20 * math.Log10(cmplx.Abs(r)/cmplx.Abs(p)); math.Abs(got-e.Value) > 1e-9 {
				t.Errorf("%s, way %d: reported %.12g dB at %g Hz, the definition gives %.12g", where, way, e.Value, e.AtHz, got)
			}
		}
	})
	if tried < 40 {
		t.Errorf("only %d coefficients tried", tried)
	}
	t.Logf("%d coefficients, limit %.2g dB", tried, limit)
}

func with(p promise.Promises, limit float64) verify.Terms {
	return p.With(&promise.Magnitude, promise.Limit{On: true, Value: limit}).Terms()
}

func worstMagnitude(t *testing.T, b *compiler.Build, s *verify.Subject, sys biquad.System[biquad.Digital], limit float64) map[int]verify.Extreme {
	t.Helper()
	fs, _ := verify.Judge(context.Background(), s, digital.New("teeth", sys, 192000, 0, digital.Traits{Gain: 1}), with(b.Promises, limit))
	out := map[int]verify.Extreme{}
	for i := range sys.Ways {
		out[i] = fs[i].Magnitude
	}
	return out
}

// eachCoefficient calls f with a copy of the system and a pointer to one of its
// coefficients, for all of them; all-pass sections' too, which move the phase.
func eachCoefficient(sys biquad.System[biquad.Digital], f func(string, biquad.System[biquad.Digital], *float64)) {
	copied := func(c biquad.Cascade[biquad.Digital]) biquad.Cascade[biquad.Digital] {
		out := c
		out.Slots = nil
		for _, s := range c.Slots {
			s.Alt = append([]biquad.Digital{}, s.Alt...)
			out.Slots = append(out.Slots, s)
		}
		return out
	}
	mine := biquad.System[biquad.Digital]{Common: copied(sys.Common)}
	for _, w := range sys.Ways {
		w.Cascade = copied(w.Cascade)
		mine.Ways = append(mine.Ways, w)
	}
	all := []*biquad.Cascade[biquad.Digital]{&mine.Common}
	for i := range mine.Ways {
		all = append(all, &mine.Ways[i].Cascade)
	}
	for n, c := range all {
		for k := range c.Slots {
			for a := range c.Slots[k].Alt {
				s := &c.Slots[k].Alt[a]
				for i := range s.B {
					f(fmt.Sprintf("cascade %d position %d alternative %d b%d", n, k, a, i), mine, &s.B[i])
					if i > 0 {
						f(fmt.Sprintf("cascade %d position %d alternative %d a%d", n, k, a, i), mine, &s.A[i])
					}
				}
			}
		}
	}
}

// definition evaluates a way in s and in z⁻¹ without the code under test.
func definition(b *compiler.Build, sys biquad.System[biquad.Digital], way int, e verify.Extreme) (p, r complex128) {
	comb := make(biquad.Combination, len(b.Settings))
	for _, c := range e.With {
		for i, s := range b.Settings {
			for k, name := range s.Choices {
				if s.Name == c.Setting && name == c.Choice {
					comb[i] = uint8(k)
				}
			}
		}
	}
	proto, dig := b.Prototype.Path(way), sys.Path(way)
	p, r = complex(proto.Gain, 0), complex(dig.Gain, 0)
	s := complex(0, 2*math.Pi*e.AtHz)
	for _, slot := range proto.Slots {
		a := slot.Alt[slot.Index(comb)]
		x := s / complex(a.W0, 0)
		p *= (complex(a.B[0], 0) + x*complex(a.B[1], 0) + x*x*complex(a.B[2], 0)) / (complex(a.A[0], 0) + x*complex(a.A[1], 0) + x*x*complex(a.A[2], 0))
	}
	// z⁻¹ = 1 - w with w = 2·sin²(θ/2) + j·sin θ keeps the digits that 1 - z⁻¹
	// loses at 20 Hz and 192 kHz.
	half := math.Pi * e.AtHz / 192000
	w := complex(2*math.Sin(half)*math.Sin(half), math.Sin(2*half))
	at := func(c [3]float64) complex128 {
		return complex(c[0]+c[1]+c[2], 0) - w*complex(c[1]+2*c[2], 0) + w*w*complex(c[2], 0)
	}
	for _, slot := range dig.Slots {
		d := slot.Alt[slot.Index(comb)]
		if d.Form != biquad.Direct {
			panic("the reference format is direct")
		}
		r *= at(d.B) / at(d.A)
	}
	return p, r
}
