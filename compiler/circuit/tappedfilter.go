package circuit

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"bandwright/biquad"
)

// TappedFilterName is what held boards and artefacts call the stage of TappedFilter.
const TappedFilterName = "tapped-filter"

// TappedFilterDoc is what documentation says of it.
const TappedFilterDoc = "An inverting amplifier and one low-pass, high-pass or band-pass that a selector feeds from a tap of a string of resistors between the stage's input and output: several strengths of one shelf or peak, up and down, and flat, with two op-amps."

// tappedKind is one kind of filter behind the tap.
type tappedKind struct {
	template func(in, out, amp string) []Element
	picture  string
	// closed is the filter behind a source of some ohms.
	closed func(v []float64, source float64) (n, d Polynomial)
	// inverts: the filter does, so that it goes to the sum's + input instead of its - input through Rb.
	inverts bool
	// strength is the section's gain where the filter adds the most.
	strength func(a Asked) float64
	// start are the filter's parts for two capacitors with which a section that boosts is exact at a tap,
	// and the gain that it is added with.
	start func(a Asked, tap, c1, c2 float64) (v []float64, gain float64, err error)
}

// tappedParts is how many parts the filter of a tappedKind has.
const tappedParts = 5

var tappedLowPass = tappedKind{template: lowPassTemplate, picture: lowPassPicture,
	closed: func(v []float64, source float64) (Polynomial, Polynomial) {
		return lowPassClosed([]float64{v[0] + source, v[1], v[2], v[3], v[4]})
	},
	strength: func(a Asked) float64 { return a.N[0] / a.N[2] },
	start: func(a Asked, tap, c1, c2 float64) ([]float64, float64, error) {
		n0, n1 := a.N[0], a.N[1]
		u := tap / (1 - 2*tap)
		x0, x1 := 1-u*(n0-1), 1/a.Q-u*(n1-1/a.Q)
		z, r := (n1-1/a.Q)/(n0-1), math.Sqrt(x0)
		v, err := lowPassDesign(a.W*r, r/x1, z*r, []float64{c1, c2, -1})
		return v, (n0 - 1) / (1 - 2*tap) / x0, err
	},
}

var tappedHighPass = tappedKind{template: highPassTemplate, picture: highPassPicture,
	closed:   highPassBehind,
	strength: func(a Asked) float64 { return a.N[2] / a.N[0] },
	start: func(a Asked, tap, c1, c2 float64) ([]float64, float64, error) {
		n1, n2 := a.N[1], a.N[2]
		u := tap / (1 - 2*tap)
		x1, x2 := 1/a.Q-u*(n1-1/a.Q), 1-u*(n2-1)
		z, r := (n1-1/a.Q)/(n2-1), math.Sqrt(x2)
		v, err := highPassDesign(a.W/r, r/x1, z*r, []float64{c1, c2})
		return v, (n2 - 1) / (1 - 2*tap) / x2, err
	},
}

var tappedBandPass = tappedKind{template: bandPassTemplate, picture: bandPassPicture, inverts: true,
	closed: func(v []float64, source float64) (Polynomial, Polynomial) {
		b, d := bandPassClosed([]float64{v[0] + source, v[1], v[2], v[3], v[4]})
		return Polynomial{0, b}, d
	},
	strength: func(a Asked) float64 { return a.N[1] * a.Q / a.N[0] },
	start: func(a Asked, tap, c1, c2 float64) ([]float64, float64, error) {
		n1 := a.N[1]
		c := 1/a.Q - tap/(1-2*tap)*(n1-1/a.Q)
		v, err := bandPassDesign(a.W, 1/c, (n1-1/a.Q)/(1-2*tap)/c/2, c1, c2)
		if err == nil && v[1] == 0 {
			err = errors.New("its band-pass needs no R2")
		}
		return v, 1, err
	},
}

// highPassBehind is the filter of highPassTemplate behind a source of some ohms: with y the admittance
// of C1 beside R3, what it gets is y/(1+source·y). Multiplied by R1·R2·R3 as highPassClosed.
func highPassBehind(v []float64, source float64) (n, d Polynomial) {
	n, d = highPassClosed(v)
	c1, c2, r1, r3 := v[0], v[1], v[2], v[4]
	return n, d.plus(source, Polynomial{1, c1*r3 + c2*r1, c1 * c2 * r1 * r3})
}

// tappedKindOf is the kind of filter that makes a section in TappedFilter, and what the section is; nil
// for none.
func tappedKindOf(s biquad.Analog) (*tappedKind, Asked) {
	a, err := Ask(s)
	n := networkOf(s)
	if err != nil || n == nil {
		return nil, a
	}
	switch a.Shape {
	case Shift2:
		if n.picture == lowPassPicture {
			return &tappedLowPass, a
		}
		return &tappedHighPass, a
	case Cut2, Boost2:
		return &tappedBandPass, a
	}
	return nil, a
}

// tapsOf is the kind of filter that makes all of some sections, and the tap of each, from the string's
// end at the input; nil where none does.
func tapsOf(sections []biquad.Analog) (kind *tappedKind, tap []int) {
	var strengths []float64
	for i, s := range sections {
		k, a := tappedKindOf(s)
		if k == nil || i > 0 && k != kind {
			return nil, nil
		}
		kind = k
		strengths = append(strengths, k.strength(a))
	}
	for i, x := range strengths {
		n := 0
		for k, y := range strengths {
			if y > x*(1+same) {
				n++
			} else if k != i && y > x*(1-same) {
				return nil, nil
			}
		}
		tap = append(tap, n)
	}
	if len(sections) < 2 {
		return nil, nil
	}
	return kind, tap
}

// TapsOf are the taps that several strengths of one filter have in TappedFilter, from the input's end on,
// 0 the first; nil where the sections are none.
func TapsOf(sections []biquad.Analog) []int {
	_, tap := tapsOf(sections)
	return tap
}

// TappedFilter is an inverting amplifier with equal resistors R, and a filter F of one op-amp that a
// selector feeds from a tap of a string of resistors between the stage's input and its output. With the
// part t of the string above the tap, and G of what is there behind the tap, it is
//
//	-(1+(1-t)·G·F)/(1+t·G·F).
//
// Strengths of one tone control are taps: above the middle it boosts, below it cuts, what is as far
// from either end is the other's exact reciprocal, and with no contact made it is flat. By the W3C
// cookbook's formulas the poles of a boost move with its strength; a tap's own resistance, which is
// largest in the middle, loads the string and is in F, so that one F follows them.
//
// The selector's throws are taps of resistors: it may make before it breaks, and where it is open Rh
// holds the filter's input and the amplifier stays closed.
//
// A low-pass or high-pass adds to the virtual ground through Rb. A band-pass of one op-amp inverts, and
// goes to the amplifier's + input, where it counts twice.
//
// Parts: the filter's, Rb where it has that, Ra, Rf, Rh at the pole, and the string from the input on.
// It is nil where the sections are not several strengths of what one kind of filter makes. Their states
// come in their order, and at last the flat one.
func TappedFilter(sections []biquad.Analog) *Switched {
	kind, tap := tapsOf(sections)
	if kind == nil {
		return nil
	}
	t := Topology{Name: TappedFilterName, Source: "node equations", Doc: TappedFilterDoc}
	t.Template = slices.Clone(kind.template(Pole, "f", "U1"))
	plus := "f"
	if !kind.inverts {
		t.Template = append(t.Template, r("Rb", "f", "s"))
		plus = "0"
	}
	t.Template = append(t.Template, r("Ra", "in", "s"), r("Rf", "s", "out"), r("Rh", Pole, "0"))
	at := "in"
	for i := range len(sections) + 1 {
		to := throwOf(i)
		if i == len(sections) {
			to = "out"
		}
		t.Template = append(t.Template, r(fmt.Sprintf("Rs%d", i+1), at, to).shunt())
		at = to
	}
	t.Template = append(t.Template, u("U2", plus, "s", "out"))
	t.Layout = tappedPicture(kind, len(sections))
	var states []State
	for _, n := range tap {
		states = append(states, t.at(throwOf(n), func(v []float64) Ratio { return kind.tapped(v, n) }))
	}
	flat := t
	flat.Closed = func(v []float64) Ratio {
		ra, rf := kind.sum(v)
		return Ratio{Polynomial{-rf}, Polynomial{ra}}
	}
	t.Closed = flat.Closed
	return t.switched(append(states, State{&flat, ""})...)
}

// sum are the amplifier's two resistors among the values of TappedFilter.
func (k *tappedKind) sum(v []float64) (ra, rf float64) {
	at := tappedParts
	if !k.inverts {
		at++
	}
	return v[at], v[at+1]
}

// tapped is TappedFilter with its selector at the n-th tap.
func (k *tappedKind) tapped(v []float64, n int) Ratio {
	ra, rf := k.sum(v)
	at := tappedParts + 2
	counts := 1 + rf/ra // at the + input
	if !k.inverts {
		counts = rf / v[tappedParts]
		at++
	}
	hold, up, low := v[at], 0.0, 0.0
	for i, ohm := range v[at+1:] {
		if i <= n {
			up += ohm
		} else {
			low += ohm
		}
	}
	t, source := up/(up+low), inParallel(up, low)
	counts *= hold / (hold + source)
	num, den := k.closed(v[:tappedParts], inParallel(source, hold))
	return Ratio{den.scaled(rf/ra).plus(counts*(1-t), num).scaled(-1), den.plus(counts*t, num)}
}

// StartTappedFilter is where a search for the values of TappedFilter begins: with two capacitors, equal
// resistors of the amplifier, a string and a resistor at the pole of some ohms, nearly the strongest of
// the sections. It is nil where no filter with these capacitors makes them.
func StartTappedFilter(sections []biquad.Analog, c1, c2, sumOhm, stringOhm, holdOhm float64) []float64 {
	kind, tap := tapsOf(sections)
	if kind == nil {
		return nil
	}
	const end = 0.12 // of the string, above the tap of the strongest
	var strong Asked
	most := 1.0
	strengths := make([]float64, len(sections))
	for i, s := range sections {
		if kind.strength(mustAsk(s)) < 1 {
			s.A, s.B = s.B, s.A
			strengths[tap[i]] = -1
		} else {
			strengths[tap[i]] = 1
		}
		a := mustAsk(s)
		x := kind.strength(a)
		strengths[tap[i]] *= biquad.GainDB(x)
		if x > most {
			most, strong = x, a
		}
	}
	v, gain, err := kind.start(strong, end, c1, c2)
	if err != nil || slices.ContainsFunc(v, func(x float64) bool { return !(x > 0) || bad(x) }) || !(gain > 0) {
		return nil
	}
	if !kind.inverts {
		v = append(v, sumOhm/gain)
	}
	v = append(v, sumOhm, sumOhm, holdOhm)
	was := 0.0
	for _, db := range strengths {
		t := 0.5 - (0.5-end)*db/biquad.GainDB(most)
		v = append(v, stringOhm*math.Max(t-was, end/10))
		was = t
	}
	return append(v, stringOhm*(1-was))
}

// mustAsk is Ask of what it has been asked of.
func mustAsk(s biquad.Analog) Asked { a, _ := Ask(s); return a }

// TappedFilterSum are the places of the amplifier's two resistors among the parts of TappedFilter for
// sections, which are to be equal.
func TappedFilterSum(sections []biquad.Analog) (ra, rf int) {
	kind, _ := tapsOf(sections)
	if kind.inverts {
		return tappedParts, tappedParts + 1
	}
	return tappedParts + 1, tappedParts + 2
}

// tappedPicture is how a filter behind a string of so many taps is drawn: the string down from the input,
// the selector, the filter, the amplifier, and the lane of the output below them.
func tappedPicture(k *tappedKind, n int) string {
	const below = 21 // the filter
	pole := n + 33
	filter := pole + 7
	out := fmt.Sprintf("out %d,0\nwire in 12,0\npole %d,0\nwire %d,0 %d,0\nRh v %d,5\nwire %d,0 Rh.1\ngnd Rh.2\n", filter+59, pole, pole, filter, pole+2, pole+2)
	y := 0
	for i := range n + 1 {
		out += fmt.Sprintf("Rs%d v 12,%d\nwire 12,%d Rs%d.1\n", i+1, y+5, y, i+1)
		y += 10
		if i < n {
			out += fmt.Sprintf("wire Rs%d.2 12,%d\ntap %s 12,%d\n", i+1, y, throwOf(i), y)
		}
	}
	lane := max(below, y+1)
	out += fmt.Sprintf("wire Rs%d.2 12,%d %d, ,2\nwire 1,0 ,-19 Ra.1\nwire %d,0 out\n", n+1, lane, filter+57, filter+57)
	sum := "Ra > 39,-19\nU2 51,2\nRf > 51,-6\nwire Ra.2 45, ,-6 Rf.1\nwire 45,-6 ,0 U2-\nwire Rf.2 57, ,2 U2o\n"
	if k.inverts {
		sum += "wire 33,0 38, ,4 U2+\n"
	} else {
		sum += "Rb > 39,0\nwire 33,0 Rb.1\nwire Rb.2 45,0\nplus U2\n"
	}
	return out + moved(k.picture+sum, filter, 0, nil)
}
