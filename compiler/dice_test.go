package compiler_test

import (
	"math"
	"math/cmplx"
	"strconv"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/language"
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

// units are those that values are in.
var units = map[language.Dim]string{language.Frequency: "Hz", language.Level: "dB", language.Time: "s", language.Length: "m"}

// mapping has every required key, of the others those that a byte picks, and
// the defaults of the rest: what Parse makes of such a mapping.
func (d *dice) mapping(keys []language.Key) *language.Value {
	v := &language.Value{Pos: language.Pos{Line: 1, Col: 1}, Given: true}
	picked := d.next()
	for i := range keys {
		k := &keys[i]
		switch {
		case k.Required || picked>>(i%8)&1 == 1:
			v.Fields = append(v.Fields, language.Field{Key: k.Name, Value: d.value(&k.Type)})
		case k.Default != "":
			v.Fields = append(v.Fields, language.Field{Key: k.Name, Value: byDefault(k)})
		}
	}
	return v
}

// byDefault is the value of a key that was left out: no kind's table has
// another default than a word or a plain number.
func byDefault(k *language.Key) *language.Value {
	v := &language.Value{Pos: language.Pos{Line: 1, Col: 1}, Text: k.Default, Word: k.Default}
	if x, err := strconv.ParseFloat(k.Default, 64); err == nil {
		v.Number, v.Word = x, ""
	}
	return v
}

func (d *dice) value(t *language.Type) *language.Value {
	v := &language.Value{Pos: language.Pos{Line: 1, Col: 1}, Given: true}
	switch {
	case t.Either != nil:
		return d.value(&t.Either[d.next()%len(t.Either)])
	case t.Keys != nil:
		return d.mapping(t.Keys)
	case t.List != nil:
		n := t.MinLen + d.next()%(max(t.MaxLen, t.MinLen+4)-t.MinLen+1)
		v.Items = []*language.Value{}
		for range n {
			v.Items = append(v.Items, d.value(t.List))
		}
	case len(t.Words) > 0 && (len(t.Dims) == 0 && !t.Number || d.next()%8 == 0):
		v.Text = t.Words[d.next()%len(t.Words)]
		v.Word = v.Text
		if v.Text == "0" && len(t.Dims) > 0 { // a quantity that needs no unit
			v.Dim = t.Dims[0]
		}
	case t.Integer:
		v.Number = t.Min + float64(d.next()%int(t.Max-t.Min+1))
		v.Text = strconv.FormatFloat(v.Number, 'g', -1, 64)
	default:
		unit := ""
		if len(t.Dims) > 0 {
			v.Dim = t.Dims[d.next()%len(t.Dims)]
			unit = " " + units[v.Dim]
		}
		v.Number = d.number(t)
		v.Text = strconv.FormatFloat(v.Number, 'g', -1, 64) + unit
	}
	return v
}

// number is inside the type's range: where that is positive, over its decades,
// otherwise over its length; the ends among them. It has twelve digits.
func (d *dice) number(t *language.Type) float64 {
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
	x, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 12, 64), 64)
	if err != nil {
		panic(err)
	}
	return min(max(x, low), high)
}

// written is a value as a user would write it.
func written(v *language.Value) string {
	var all []string
	switch {
	case v.Items != nil:
		for _, i := range v.Items {
			all = append(all, written(i))
		}
		return "[" + strings.Join(all, ", ") + "]"
	case v.Text == "":
		for _, f := range v.Fields {
			if f.Value.Given {
				all = append(all, f.Key+": "+written(f.Value))
			}
		}
		return "{" + strings.Join(all, ", ") + "}"
	}
	return v.Text
}

// The values that dice make are those that Parse makes of the same text.
func TestDiceAreSpecs(t *testing.T) {
	lang := compiler.Language()
	for _, row := range lang.Kinds {
		for seed := range 40 {
			data := make([]byte, 64)
			for i := range data {
				data[i] = byte(seed*89 + i*i*31 + i*seed*7)
			}
			args := (&dice{data: data}).mapping(row.Keys)
			src := "{bandwright: 1, name: x, ways: {w: {filters: [{" + row.Name + ": " + written(args) + "}]}}, digital: {rates: [48 kHz], formats: [float32]}}"
			s, faults := language.Parse("dice", []byte(src), lang)
			if s == nil {
				t.Fatalf("%s: %v", src, faults)
			}
			sameValue(t, row.Name, s.Ways[0].Filters[0].Args, args)
		}
	}
}

// sameValue compares two values but for places.
func sameValue(t *testing.T, path string, a, b *language.Value) {
	t.Helper()
	if a == nil || b == nil || a.Text != b.Text || a.Given != b.Given || a.Dim != b.Dim || a.Word != b.Word ||
		math.Abs(a.Number-b.Number) > 1e-15*math.Abs(a.Number) || len(a.Items) != len(b.Items) || len(a.Fields) != len(b.Fields) {
		t.Fatalf("%s: parsed %+v, made %+v", path, a, b)
	}
	for i := range a.Items {
		sameValue(t, path+"[]", a.Items[i], b.Items[i])
	}
	for _, f := range a.Fields {
		sameValue(t, path+"."+f.Key, f.Value, b.Get(f.Key))
	}
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
