package board

import (
	"fmt"
	"math"
	"math/cmplx"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
	"bandwright/compiler/netlist"
	"bandwright/compiler/words"
)

// A notch is as deep as its parts match. Parts that are off by shares t move the
// response at the bottom by Σ tᵢ·∂H/∂ln xᵢ. What of that lies along dH/dω only moves the
// bottom in frequency; what lies across it stays: the sum of its magnitudes is the worst
// corner, the root of the sum of squares what boards usually have.

// notch is how deep the notch of a stage is with tolerances of its parts (dB, negative,
// re the higher of its levels far above and below): in the worst corner and, for parts
// of standard deviation deviation·tolerance, by the root mean square. share is the part of
// all tolerances with which the worst corner is shallowDB; 0 where nominal parts are not.
type notch struct{ worst, usual, share float64 }

// depth is that of ideal op-amps, to the first order of the tolerances; not ok for a stage
// that is no notch.
func (s *Stage) depth(tolerance func(k netlist.Kind, value float64) float64, deviation float64) (n notch, ok bool) {
	a := asked(s.Section)
	switch a.Shape {
	case circuit.Notch2, circuit.LowNotch2, circuit.HighNotch2:
	default:
		return notch{}, false
	}
	t := s.Topology
	at := func(i int, by, w float64) complex128 {
		v := append([]float64{}, s.Values...)
		if i >= 0 {
			v[i] *= 1 + by
		}
		return t.Closed(v).At(w)
	}
	const step = 1e-5 // of central differences, whose error is its square
	w := a.W * math.Sqrt(a.N[0]/a.N[2])
	slope := func() complex128 { return (at(-1, 0, w*(1+step)) - at(-1, 0, w*(1-step))) / (2 * step) }
	for range 5 { // down to the bottom, by Newton's method
		d := slope()
		w *= 1 - real(cmplx.Conj(d)*at(-1, 0, w))/real(cmplx.Conj(d)*d)
	}
	d := slope()
	across := func(h complex128) float64 { return imag(cmplx.Conj(d)*h) / cmplx.Abs(d) }
	off := math.Abs(across(at(-1, 0, w)))
	most, square := off, off*off
	for i, e := range t.Parts() {
		if s.Values[i] == 0 {
			continue
		}
		by := math.Abs(across(at(i, step, w)-at(i, -step, w))) / (2 * step) * tolerance(e.Kind, s.Values[i])
		most += by
		square += by * by * deviation * deviation
	}
	h := t.Closed(s.Values)
	top := h.D.Degree()
	level := max(math.Abs(h.N[0]/h.D[0]), math.Abs(h.N[top]/h.D[top]))
	n = notch{worst: biquad.GainDB(most / level), usual: biquad.GainDB(math.Sqrt(square) / level)}
	n.share = max(0, (biquad.FromDB(shallowDB)*level-off)/(most-off))
	return n, true
}

// tolerance is that of a part in stock, as a share.
func (b *Board) tolerance(k netlist.Kind, value float64) float64 {
	if k == netlist.Capacitor {
		return b.Spec.Capacitors.ToleranceOf(value)
	}
	return b.Spec.Resistors.ToleranceOf(value)
}

// deviation is the standard deviation of parts as a share of their tolerance.
func (b *Board) deviation() float64 {
	if b.Spec.Normal {
		return 1.0 / 3
	}
	return 1 / math.Sqrt(3)
}

// shallowDB (dB) is the depth down to which notches are remarked on: as far as boards are
// judged.
const shallowDB = -downDB

// leastShare is the share of the tolerances below which no closer ones are advised: nominal
// parts leave too little.
const leastShare = 0.05

var notchDepth = caution{
	name: "notch depth",
	found: func(s *survey) []place {
		return s.eachStage(func(x *Stage, p *place) {
			n, ok := x.depth(s.tolerance, s.deviation())
			if !ok || n.worst <= shallowDB {
				return
			}
			r, c := s.Spec.Resistors.Tolerance, s.Spec.Capacitors.Tolerance
			p.about = fmt.Sprintf("tolerances of %s (R) and %s (C) at most limit the depth of a notch", percent(r), percent(c))
			p.number = fmt.Sprintf("%s at worst, %s usually", words.Level(n.worst, "dB"), words.Level(n.usual, "dB"))
			if n.share >= leastShare {
				closer := func(t float64) string { return percent(twoDigits(n.share*t, math.Floor)) }
				p.need, p.remedy = 1/n.share, fmt.Sprintf("%s dB at worst take %s (R) and %s (C) there, or a trimmer", words.Short(-shallowDB), closer(r), closer(c))
			}
		})
	},
	sentence: func(at []place) string {
		worst := at[0]
		for _, p := range at {
			if p.remedy == "" {
				worst.remedy = "trim it"
				break
			}
			if p.need > worst.need {
				worst = p
			}
		}
		return at[0].about + ", " + where(at) + ": " + worst.remedy
	},
}

// percent is a share in percent.
func percent(share float64) string { return words.Short(100*share) + " %" }
