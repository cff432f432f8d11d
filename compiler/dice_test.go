package compiler_test

import (
	"math"
	"math/cmplx"
	"strconv"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/spec"
)

// dice makes values of a type out of bytes; behind the last byte all are 0.
type dice struct{ data []byte }

func (d *dice) next() int {
	if len(d.data) == 0 {
		return 0
	}
	b := d.data[0]
	d.data = d.data[1:]
	return int(b)
}

// share is a number from 0 to 1.
func (d *dice) share() float64 { return float64(d.next()<<8|d.next()) / 65535 }

// mapping has every required key, and of the others those that a byte picks.
func (d *dice) mapping(keys []spec.Key) string {
	var all []string
	picked := d.next()
	for i, k := range keys {
		if k.Required || picked>>(i%8)&1 == 1 {
			all = append(all, k.Name+": "+d.value(&k.Type))
		}
	}
	return "{" + strings.Join(all, ", ") + "}"
}

func (d *dice) value(t *spec.Type) string {
	switch {
	case t.Either != nil:
		return d.value(&t.Either[d.next()%len(t.Either)])
	case t.Keys != nil:
		return d.mapping(t.Keys)
	case t.List != nil:
		n := t.MinLen + d.next()%(max(t.MaxLen, t.MinLen+4)-t.MinLen+1)
		var all []string
		for range n {
			all = append(all, d.value(t.List))
		}
		return "[" + strings.Join(all, ", ") + "]"
	case len(t.Words) > 0 && (len(t.Dims) == 0 && !t.Number || d.next()%8 == 0):
		return t.Words[d.next()%len(t.Words)]
	case t.Integer:
		return strconv.Itoa(int(t.Min) + d.next()%int(t.Max-t.Min+1))
	case len(t.Dims) > 0:
		dim := t.Dims[d.next()%len(t.Dims)]
		return d.number(t) + " " + map[spec.Dim]string{spec.Frequency: "Hz", spec.Level: "dB", spec.Time: "s", spec.Length: "m"}[dim]
	default:
		return d.number(t)
	}
}

// number is inside the type's range: where that is positive, over its decades,
// otherwise over its length; the ends among them.
func (d *dice) number(t *spec.Type) string {
	x, low, high := d.share(), t.Min, t.Max
	switch {
	case low > 0:
		x = low * math.Exp2(x*math.Log2(high/low))
	case low == 0:
		x = high * x * x * x
	default:
		x = low + (high-low)*x
		if high > 1e6 { // coefficients: most near 1
			x = (d.share()*2 - 1) * math.Exp2(float64(d.next())/255*12-6)
		}
	}
	return strconv.FormatFloat(min(max(x, low), high), 'g', 12, 64)
}

// keptWithin is how closely a transformed section has its response at the
// frequency that is kept, relative to what the terms of its numerator add up
// to over the denominator: some dozens of roundings, of which a resonance makes
// as many more as its Q, and the distance from half the rate, where terms of
// the delta form cancel, divides by its square.
const keptWithin = 64 * 2.2e-16

// checkKept compares a section with its transform where they have to agree.
func checkKept(t *testing.T, a biquad.Analog, b biquad.Digital, rateHz float64) {
	t.Helper()
	want := a.At(a.Keep)
	got := b.At(biquad.PointAt(a.Keep/(2*math.Pi), rateHz))
	p := a.Keep / a.W0
	terms := math.Abs(a.B[0]) + math.Abs(a.B[1])*p + math.Abs(a.B[2])*p*p
	size := terms / cmplx.Abs(complex(a.A[0]-a.A[2]*p*p, a.A[1]*p))
	_, q := a.Natural()
	far := math.Cos(a.Keep / (2 * rateHz)) // 0 at half the rate
	if !(cmplx.Abs(got-want) <= keptWithin*size*(1+q)/(far*far)) {
		t.Errorf("%+v becomes %+v at %v Hz: the response %v becomes %v", a, b, rateHz, want, got)
	}
}
