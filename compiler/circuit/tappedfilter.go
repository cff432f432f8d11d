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

// Taps is a kind of stage of which a selector picks the tap that feeds a filter.
type Taps struct {
	Name, Doc string
	kindOf    func(s biquad.Analog) (*tappedKind, Asked)
}

// TappedFilter makes sections of the second order, and low shelves of the first: an inverting amplifier with equal resistors R, and a
// filter F of one op-amp that a selector feeds from a tap of a string of resistors between the stage's
// input and its output. With the part t of the string above the tap, and G of what is there behind the
// tap, it is
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
var TappedFilter = &Taps{TappedFilterName, TappedFilterDoc, tappedKindOf}

// tappedKind is one kind of filter behind the tap.
type tappedKind struct {
	template func(in, out, amp string) []Element
	picture  string
	parts    int // how many the filter has
	// closed is the filter behind a source of some ohms.
	closed func(v []float64, source float64) (n, d Polynomial)
	// inverts: the filter does, so that it goes to the sum's + input instead of its - input through Rb.
	// direct: it is an admittance that ends at the - input itself, and has no op-amp.
	inverts, direct bool
	// holds: Rh holds the filter's input.
	holds bool
	// strength is the section's gain where the filter adds the most.
	strength func(a Asked) float64
	// start are the filter's parts for two capacitors with which a section that boosts is exact at a tap,
	// and the gain that it is added with. What is direct has startDirect instead.
	start func(a Asked, tap, c1, c2 float64) (v []float64, gain float64, err error)
	// startDirect are all parts up to the string for a capacitor, and what the string has of ohms, at least so
	// many, with which a section that boosts is exact at a tap. Some are not above 0 where there are none.
	startDirect func(a Asked, tap, c1, leastOhm float64) (v []float64, stringOhm float64)
}

var tappedLowPass = tappedKind{template: lowPassTemplate, picture: lowPassPicture, parts: 5, holds: true,
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

var tappedHighPass = tappedKind{template: highPassTemplate, picture: highPassPicture, parts: 5, holds: true,
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

var tappedBandPass = tappedKind{template: bandPassTemplate, picture: bandPassPicture, parts: 5, holds: true, inverts: true,
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

// tappedRC makes first-order shelves that fall to 1. TappedShelf does that with one op-amp, and with several
// times the capacitance and more noise.
var tappedRC = tappedKind{parts: 2, holds: true,
	template: func(in, out, amp string) []Element {
		return []Element{r("R1", in, "b"), c("C1", "b", "0"), u(amp, "b", out, out)}
	},
	picture: "R1 > 15,0\nC1 v 20,4\nU1 25,-2\nwire in R1.1\nwire R1.2 U1+\nwire 20,0 C1.1\ngnd C1.2\nloop U1\nwire U1o 31, ,0 33,\n",
	closed: func(v []float64, source float64) (Polynomial, Polynomial) {
		return Polynomial{1}, Polynomial{1, (v[0] + source) * v[1]}
	},
	strength: func(a Asked) float64 { return a.N[0] },
	start: func(a Asked, tap, c1, _ float64) ([]float64, float64, error) {
		gain := (a.N[0] - 1) / (1 - tap - a.N[0]*tap)
		return []float64{(1 + tap*gain) / (a.W * c1), c1}, gain, nil
	},
}

// tappedKindOf is the kind of filter that makes a section in TappedFilter, and what the section is; nil
// for none.
func tappedKindOf(s biquad.Analog) (*tappedKind, Asked) {
	if k, a := tappedShelfOf(s); k == &tappedFalling {
		return &tappedRC, a
	}
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
func (t *Taps) tapsOf(sections []biquad.Analog) (kind *tappedKind, tap []int) {
	var strengths []float64
	for i, s := range sections {
		k, a := t.kindOf(s)
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

// Order are the taps that several strengths of one filter have in such a stage, from the input's end on,
// 0 the first; nil where the sections are none.
func (t *Taps) Order(sections []biquad.Analog) []int {
	_, tap := t.tapsOf(sections)
	return tap
}

// Alike reports whether two lists of sections have such stages with the same parts and taps.
func (t *Taps) Alike(some, others []biquad.Analog) bool {
	a, tapsOfA := t.tapsOf(some)
	b, tapsOfB := t.tapsOf(others)
	return a != nil && a == b && slices.Equal(tapsOfA, tapsOfB)
}

// Stage is the one for several strengths of what one kind of filter makes; nil where the sections are none.
// Their states come in their order, and at last the flat one.
//
// Parts: the filter's, Rb where it has that, Ra, Rf, Rh at the pole where that has to be held, and the string
// from the input on.
func (t *Taps) Stage(sections []biquad.Analog) *Switched {
	kind, tap := t.tapsOf(sections)
	if kind == nil {
		return nil
	}
	x := Topology{Name: t.Name, Source: "node equations", Doc: t.Doc}
	plus, sum, amp := "0", "f", "U2"
	switch {
	case kind.inverts:
		plus = "f"
	case kind.direct:
		sum, amp = "s", "U1"
	}
	x.Template = slices.Clone(kind.template(Pole, sum, "U1"))
	if !kind.inverts && !kind.direct {
		x.Template = append(x.Template, r("Rb", "f", "s"))
	}
	x.Template = append(x.Template, r("Ra", "in", "s"), r("Rf", "s", "out"))
	if kind.holds {
		x.Template = append(x.Template, r("Rh", Pole, "0"))
	}
	at := "in"
	for i := range len(sections) + 1 {
		to := throwOf(i)
		if i == len(sections) {
			to = "out"
		}
		x.Template = append(x.Template, r(fmt.Sprintf("Rs%d", i+1), at, to).shunt())
		at = to
	}
	x.Template = append(x.Template, u(amp, plus, "s", "out"))
	x.Layout = tappedPicture(kind, len(sections), amp)
	var states []State
	for _, n := range tap {
		states = append(states, x.at(throwOf(n), func(v []float64) Ratio { return kind.tapped(v, n) }))
	}
	flat := x
	ra, rf, _ := kind.places()
	flat.Closed = func(v []float64) Ratio { return Ratio{Polynomial{-v[rf]}, Polynomial{v[ra]}} }
	x.Closed = flat.Closed
	return x.switched(append(states, State{&flat, ""})...)
}

// places are those of the amplifier's two resistors among the parts, and of the string's first one.
func (k *tappedKind) places() (ra, rf, first int) {
	ra = k.parts
	if !k.inverts && !k.direct {
		ra++ // Rb
	}
	first = ra + 2
	if k.holds {
		first++
	}
	return ra, ra + 1, first
}

// tapped is the stage with its selector at the n-th tap.
func (k *tappedKind) tapped(v []float64, n int) Ratio {
	ra, rf, first := k.places()
	ratio := v[rf] / v[ra]
	var counts float64
	switch {
	case k.inverts:
		counts = 1 + ratio // at the + input
	case k.direct:
		counts = v[rf]
	default:
		counts = v[rf] / v[k.parts]
	}
	up, low := 0.0, 0.0
	for i, ohm := range v[first:] {
		if i <= n {
			up += ohm
		} else {
			low += ohm
		}
	}
	t, source := up/(up+low), inParallel(up, low)
	if k.holds {
		hold := v[first-1]
		counts *= hold / (hold + source)
		source = inParallel(source, hold)
	}
	num, den := k.closed(v[:k.parts], source)
	return Ratio{den.scaled(ratio).plus(counts*(1-t), num).scaled(-1), den.plus(counts*t, num)}
}

// Start is where a search for the values of TappedFilter begins: with two capacitors, equal resistors of the
// amplifier, a string and a resistor at the pole of some ohms, nearly the strongest of the sections. It is nil
// where no filter with these capacitors makes them.
func (t *Taps) Start(sections []biquad.Analog, c1, c2, sumOhm, stringOhm, holdOhm float64) []float64 {
	const end = 0.12 // of the string, above the tap of the strongest
	kind, strong, strengths := t.strongest(sections)
	if kind == nil || kind.start == nil {
		return nil
	}
	return strung(append(kind.begin(strong, end, c1, c2, sumOhm), holdOhm), strengths, end, stringOhm)
}

// StartShelf is where a search for the values of TappedShelf begins: with a capacitor, so much of the string above
// the tap of the strongest section, which is exact, and a string of some ohms at least. It is nil where no stage
// with these makes the sections.
func (t *Taps) StartShelf(sections []biquad.Analog, c1, end, stringOhm float64) []float64 {
	kind, strong, strengths := t.strongest(sections)
	if kind == nil || kind.startDirect == nil {
		return nil
	}
	v, stringOhm := kind.startDirect(strong, end, c1, stringOhm)
	return strung(v, strengths, end, stringOhm)
}

// strongest is the kind of filter that makes some sections, what it is asked for where it does the most, and how
// many dB it boosts at each tap.
func (t *Taps) strongest(sections []biquad.Analog) (kind *tappedKind, strong Asked, boostDB []float64) {
	kind, tap := t.tapsOf(sections)
	most := 1.0
	boostDB = make([]float64, len(sections))
	for i, s := range sections {
		if kind == nil {
			break
		}
		sign := 1.0
		if kind.strength(mustAsk(s)) < 1 {
			s.A, s.B = s.B, s.A
			sign = -1
		}
		a := mustAsk(s)
		x := kind.strength(a)
		boostDB[tap[i]] = sign * biquad.GainDB(x)
		if x > most {
			most, strong = x, a
		}
	}
	return kind, strong, boostDB
}

// strung are parts with those of a string of some ohms behind them, of which so much is above the tap of the
// strongest; nil where one of them is none.
func strung(v, boostDB []float64, end, stringOhm float64) []float64 {
	if slices.ContainsFunc(v, func(x float64) bool { return !(x > 0) || bad(x) }) {
		return nil
	}
	most := math.Max(slices.Max(boostDB), -slices.Min(boostDB))
	was := 0.0
	for _, db := range boostDB {
		t := 0.5 - (0.5-end)*db/most
		v = append(v, stringOhm*math.Max(t-was, end/10))
		was = t
	}
	return append(v, stringOhm*(1-was))
}

// begin are the parts up to the amplifier's resistors; with one that is not above 0 where there are none.
func (k *tappedKind) begin(strong Asked, end, c1, c2, sumOhm float64) []float64 {
	v, gain, err := k.start(strong, end, c1, c2)
	if err != nil || !(gain > 0) {
		return []float64{0}
	}
	if !k.inverts {
		v = append(v, sumOhm/gain)
	}
	return append(v, sumOhm, sumOhm)
}

// mustAsk is Ask of what it has been asked of.
func mustAsk(s biquad.Analog) Asked { a, _ := Ask(s); return a }

// Places are those of the amplifier's two resistors, which are to be equal, among the parts of such a stage for
// sections, and of the string's first one.
func (t *Taps) Places(sections []biquad.Analog) (ra, rf, first int) {
	kind, _ := t.tapsOf(sections)
	return kind.places()
}

// tappedPicture is how a filter behind a string of so many taps is drawn: the string down from the input,
// the selector, the filter, the amplifier, and the lane of the output below them.
func tappedPicture(k *tappedKind, n int, amp string) string {
	const below = 21 // the filter
	pole := n + 33
	filter := pole + 7
	sum := 45 // of the filter's columns, that of the virtual ground
	if k.direct {
		sum = 21
	}
	out := fmt.Sprintf("out %d,0\nwire in 12,0\npole %d,0\nwire %d,0 %d,0\n", filter+sum+14, pole, pole, filter)
	if k.holds {
		out += fmt.Sprintf("Rh v %d,5\nwire %d,0 Rh.1\ngnd Rh.2\n", pole+2, pole+2)
	}
	y := 0
	for i := range n + 1 {
		out += fmt.Sprintf("Rs%d v 12,%d\nwire 12,%d Rs%d.1\n", i+1, y+5, y, i+1)
		y += 10
		if i < n {
			out += fmt.Sprintf("wire Rs%d.2 12,%d\ntap %s 12,%d\n", i+1, y, throwOf(i), y)
		}
	}
	lane := max(below, y+1)
	out += fmt.Sprintf("wire Rs%d.2 12,%d %d, ,2\nwire 1,0 ,-19 Ra.1\nwire %d,0 out\n", n+1, lane, filter+sum+12, filter+sum+12)
	end := fmt.Sprintf("Ra > %d,-19\n%s %d,2\nRf > %d,-6\nwire Ra.2 %d, ,-6 Rf.1\nwire %d,-6 ,0 %s-\nwire Rf.2 %d, ,2 %so\n", sum-6, amp, sum+6, sum+6, sum, sum, amp, sum+12, amp)
	switch {
	case k.inverts:
		end += "wire 33,0 38, ,4 U2+\n"
	case k.direct:
		end += "plus U1\n"
	default:
		end += "Rb > 39,0\nwire 33,0 Rb.1\nwire Rb.2 45,0\nplus U2\n"
	}
	return out + moved(k.picture+end, filter, 0, nil)
}
