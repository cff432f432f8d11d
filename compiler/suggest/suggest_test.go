package suggest

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/language"
	"bandwright/compiler/prototype"
	"bandwright/compiler/prototype/prototypetest"
)

type given = prototypetest.Given

// known is a filter that a synthetic driver was made with.
type known struct {
	kind string
	args given
}

// level is that of filters in dB.
func level(t testing.TB, filters ...known) func(hz float64) float64 {
	t.Helper()
	var sections []biquad.Analog
	for _, f := range filters {
		k, ok := prototype.ByName(f.kind)
		if !ok {
			t.Fatal(f.kind)
		}
		ideal, problems := k.Ideal(prototypetest.Args(k.Keys, f.args))
		if len(problems) > 0 {
			t.Fatal(problems)
		}
		sections = append(sections, ideal.Sections...)
	}
	return func(hz float64) float64 {
		h := complex(1, 0)
		for _, s := range sections {
			h *= s.At(2 * math.Pi * hz)
		}
		return biquad.DB(h)
	}
}

func flat(float64) float64 { return 0 }

// wish is to bring a response to a target within 0.5 dB.
func wish(response, target func(float64) float64, from, to float64) Wish {
	return Wish{Response: response, Target: target, FromHz: from, ToHz: to, WithinDB: 0.5, BoostDB: 6, LowestQ: 0.3, HighestQ: 6, Most: 6}
}

// synthetic is a driver whose filters are known: response and target differ by the inverse
// of what n filters do.
type synthetic struct {
	name             string
	n                int
	response, target func(hz float64) float64
	from, to         float64
	boostDB          float64
}

// cured is a driver that these filters make flat.
func cured(t testing.TB, name string, from, to, boostDB float64, filters ...known) synthetic {
	l := level(t, filters...)
	return synthetic{name, len(filters), func(hz float64) float64 { return 84 - l(hz) }, flat, from, to, boostDB}
}

func peakOf(at, q, gain float64) known { return known{"peak", given{"at": at, "q": q, "gain": gain}} }
func low(at, gain float64) known       { return known{"low-shelf", given{"at": at, "gain": gain}} }
func high(at, gain float64) known      { return known{"high-shelf", given{"at": at, "gain": gain}} }
func pass(kind, family string, order int, at float64) known {
	return known{kind, given{"at": at, "family": family, "order": order}}
}
func pair(kind string, at, q float64) known { return known{kind, given{"at": at, "q": q}} }

// drivers are the synthetic ones.
func drivers(t testing.TB) []synthetic {
	closed := func(at, q float64) func(float64) float64 { return level(t, pair("high-pass", at, q)) }
	out := []synthetic{
		cured(t, "flat already", 100, 10000, 6),
		cured(t, "a hump", 200, 5000, 6, peakOf(900, 1.5, -4)),
		cured(t, "a narrow hump", 200, 5000, 6, peakOf(2300, 5, -6)),
		cured(t, "a dip", 200, 5000, 6, peakOf(700, 1, 3.5)),
		cured(t, "two humps", 150, 8000, 6, peakOf(400, 2, -3), peakOf(3100, 3, -5)),
		cured(t, "two humps near to each other", 150, 8000, 6, peakOf(1000, 3, -4), peakOf(1700, 4, -5)),
		cured(t, "hump and dip", 150, 8000, 6, peakOf(500, 1.2, -4), peakOf(2500, 2, 3)),
		cured(t, "three humps", 100, 12000, 6, peakOf(300, 2, -4), peakOf(1200, 3, -3), peakOf(6000, 2.5, -5)),
		cured(t, "falling top", 1000, 20000, 6, high(9000, 4)),
		cured(t, "falling top and a hump", 1000, 20000, 6, high(9000, 4), peakOf(3200, 2.5, -4)),
		cured(t, "baffle step", 50, 5000, 6, low(350, 5)),
		cured(t, "baffle step and two humps", 50, 5000, 6, low(350, 5), peakOf(1100, 3, -3), peakOf(3000, 4, -5)),
		cured(t, "rising response", 60, 12000, 6, low(300, 3), high(5000, -4)),
		cured(t, "shelf of order 1", 50, 5000, 6, known{"low-shelf", given{"at": 300.0, "gain": 5.0, "order": 1}}),
		cured(t, "dipole", 150, 3000, 12, known{"dipole-lift", given{"from": 700.0, "to": 190.0}}),
		cured(t, "dipole with a peak", 150, 3000, 12, known{"dipole-lift", given{"from": 700.0, "to": 190.0}}, peakOf(1500, 2.5, -4)),
		cured(t, "four humps", 80, 15000, 6, peakOf(200, 2, -4), peakOf(700, 3, -3), peakOf(2400, 3, -4), peakOf(8000, 2.5, -5)),
		{"closed box, moved down", 1, closed(55.8, 0.81), level(t, pair("high-pass", 34, 0.65)), 20, 300, 9},
		{"closed box with a hump, moved down", 2, sum(closed(70, 1.1), level(t, peakOf(160, 2, 4))), level(t, pair("high-pass", 45, 0.7071)), 25, 500, 9},
		{"flat, to a crossover", 1, flat, level(t, pass("high-pass", "LR", 4, 2000)), 500, 16000, 6},
		{"flat, to both crossovers", 2, flat, level(t, pass("high-pass", "LR", 4, 300), pass("low-pass", "LR", 4, 2500)), 100, 7000, 6},
		{"treble, to a crossover", 2, closed(900, 0.9), level(t, pass("high-pass", "LR", 4, 2000)), 600, 16000, 6},
		{"treble with a hump, to a crossover", 3, sum(closed(900, 0.9), level(t, peakOf(9000, 2, 3))), level(t, pass("high-pass", "LR", 4, 2000)), 600, 16000, 6},
		{"falling by itself, to a crossover", 1, level(t, pair("low-pass", 3000, 0.7071)), level(t, pass("low-pass", "LR", 4, 3000)), 200, 9000, 6},
	}
	return out
}

func sum(a, b func(float64) float64) func(float64) float64 {
	return func(hz float64) float64 { return a(hz) + b(hz) }
}

func find(t testing.TB, w Wish) *Found {
	t.Helper()
	f, err := Find(context.Background(), w)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// sectionsOf are what an answer's lines are.
func sectionsOf(t *testing.T, what string, a Answer) []biquad.Analog {
	t.Helper()
	var sections []biquad.Analog
	for _, l := range a.Lines {
		k, _ := prototype.ByName(l.Kind)
		ideal, problems := k.Ideal(l.Args)
		if len(problems) > 0 {
			t.Fatalf("%s: %s: %v", what, l.Text, problems)
		}
		sections = append(sections, ideal.Sections...)
	}
	return sections
}

// holds works out once more what an answer says of itself, on frequencies of its own.
func holds(t *testing.T, what string, w Wish, f *Found, a Answer) {
	t.Helper()
	sections := sectionsOf(t, what, a)
	low, high, boost, inside := math.Inf(1), math.Inf(-1), math.Inf(-1), math.Inf(-1)
	var usual []float64
	from := 10.0
	if w.BoostFromHz > 0 {
		from = min(from, w.BoostFromHz)
	}
	for f := from; f < 24000; f *= 1.01 {
		h := complex(1, 0)
		for _, s := range sections {
			h *= s.At(2 * math.Pi * f)
		}
		boost = max(boost, biquad.DB(h))
		if f < w.FromHz || f > w.ToHz {
			continue
		}
		inside = max(inside, biquad.DB(h))
		usual = append(usual, biquad.DB(h))
		e := w.Response(f) + biquad.DB(h) - w.Target(f)
		low, high = min(low, e), max(high, e)
	}
	slices.Sort(usual)
	boost -= usual[len(usual)/2]
	inside -= usual[len(usual)/2]
	if !w.IsMeasured && len(f.Nulls) == 0 && math.Abs((high-low)/2-a.ErrorDB) > 0.05 {
		t.Errorf("%s: %.3f dB are left, said are %.3f", what, (high-low)/2, a.ErrorDB)
	}
	if math.Abs(inside-a.BoostDB) > 0.3 || boost > w.BoostDB+0.2 {
		t.Errorf("%s: %.2f dB of boost, said are %.2f, allowed %.2f", what, boost, a.BoostDB, w.BoostDB)
	}
}

// No more filters than a driver was made with, within the tolerance.
func TestKnownDrivers(t *testing.T) {
	for _, d := range drivers(t) {
		w := wish(d.response, d.target, d.from, d.to)
		w.BoostDB = d.boostDB
		f := find(t, w)
		a := f.Answers[0]
		t.Logf("%s: %d of %d, %.2f dB left, %.1f dB of boost, %d tried", d.name, len(a.Lines), d.n, a.ErrorDB, a.BoostDB, f.Tried)
		for _, l := range a.Lines {
			t.Log("    " + l.Text)
		}
		if !a.Kept || len(a.Lines) > d.n || a.ErrorDB > w.WithinDB {
			t.Errorf("%s: %d filters for %d, %.2f dB are left", d.name, len(a.Lines), d.n, a.ErrorDB)
		}
		for _, a := range f.Answers {
			holds(t, d.name, w, f, a)
		}
	}
}

// Ripple and noise are not chased: with half a decibel of both, no more filters than the driver
// was made with.
func TestNoise(t *testing.T) {
	for i, d := range drivers(t) {
		if i%2 == 1 { // every other driver: each takes half a second
			continue
		}
		chance := rand.New(rand.NewPCG(uint64(i), 7))
		var noise []float64
		for range 20 * 48 {
			noise = append(noise, 0.35*chance.NormFloat64())
		}
		noisy := func(hz float64) float64 {
			x := math.Log2(hz/5) * 48
			k := int(x)
			n := noise[k] + (x-float64(k))*(noise[k+1]-noise[k])
			return d.response(hz) + n + 0.4*math.Sin(2*math.Pi*9*math.Log2(hz))
		}
		w := wish(noisy, d.target, d.from, d.to)
		w.BoostDB, w.WithinDB, w.IsMeasured = d.boostDB, 1, true
		f := find(t, w)
		a := f.Answers[0]
		t.Logf("%s: %d of %d, %.2f dB, ripple %.2f dB", d.name, len(a.Lines), d.n, a.ErrorDB, f.RippleDB)
		if !a.Kept || len(a.Lines) > d.n {
			t.Errorf("%s: %d filters for %d, %.2f dB are left", d.name, len(a.Lines), d.n, a.ErrorDB)
		}
	}
}

// A null is not filled: nothing is boosted there, and it says so. The rest is made flat.
func TestNull(t *testing.T) {
	hump := level(t, peakOf(500, 2, 4))
	null := level(t, known{"notch", given{"at": 2000.0, "q": 6.0, "depth": 18.0}})
	w := wish(sum(hump, null), flat, 100, 8000)
	f := find(t, w)
	a := f.Answers[0]
	if len(f.Nulls) != 1 || math.Abs(f.Nulls[0].Hz-2000) > 60 || math.Abs(f.Nulls[0].DepthDB-18) > 1.5 {
		t.Fatalf("%+v", f.Nulls)
	}
	if len(a.Lines) != 1 || !a.Kept || a.BoostDB > 1 {
		t.Errorf("%+v", a)
	}
	holds(t, "null", w, f, a)
}

// What would take more boost than allowed is left, and the answer says that it is.
func TestBounds(t *testing.T) {
	d := cured(t, "", 100, 8000, 0, peakOf(600, 1, 9))
	for _, boost := range []float64{0, 4} {
		w := wish(d.response, d.target, d.from, d.to)
		w.BoostDB, w.Most = boost, 2
		f := find(t, w)
		a := f.Answers[0]
		holds(t, "bounded", w, f, a)
		if a.Kept || a.ErrorDB < (9-boost)/2-1.2 || a.ErrorDB > f.Before.ErrorDB {
			t.Errorf("%v dB of boost: %+v", boost, a)
		}
	}
	w := wish(level(t, peakOf(1000, 9, 6)), flat, 200, 5000)
	w.HighestQ, w.Most = 3, 1
	for _, a := range find(t, w).Answers {
		for _, l := range a.Lines {
			if q := l.Args.Get("q"); q != nil && q.Number > 3.01 {
				t.Error(l.Text)
			}
		}
	}
}

// Boost counts as far down as is asked for: what makes up for a driver that falls from 7 Hz on boosts more at 4 Hz than where
// anybody looks otherwise.
func TestBoostCountsBelowTheRange(t *testing.T) {
	d := cured(t, "", 12, 200, 0, low(7, 12))
	w := wish(d.response, d.target, d.from, d.to)
	w.BoostDB = 5
	free := find(t, w).Answers[0]
	above := func(hz float64) float64 {
		return biquad.DB(biquad.InSeries(sectionsOf(t, "", free), 2*math.Pi*hz))
	}
	if more := above(4) - above(50); !free.Kept || free.BoostDB > 5.1 || more < 7 {
		t.Fatalf("%.2f dB at 4 Hz: %+v", more, free)
	}
	w.BoostFromHz = 4
	f := find(t, w)
	for _, a := range f.Answers {
		holds(t, "from 4 Hz", w, f, a)
	}
}

// The same wish has the same answer, on however many processors; a cancelled one has none.
func TestSameAnswer(t *testing.T) {
	d := drivers(t)[6]
	w := wish(d.response, d.target, d.from, d.to)
	first := fmt.Sprintf("%+v", texts(find(t, w)))
	before := runtime.GOMAXPROCS(1)
	again := fmt.Sprintf("%+v", texts(find(t, w)))
	runtime.GOMAXPROCS(before)
	if first != again {
		t.Errorf("%s\n%s", first, again)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Find(ctx, w); err == nil {
		t.Error("a cancelled search has an answer")
	}
}

func texts(f *Found) (out []string) {
	for _, a := range f.Answers {
		for _, l := range a.Lines {
			out = append(out, l.Text)
		}
		out = append(out, fmt.Sprint(a.ErrorDB, a.BoostDB, a.LevelDB))
	}
	return out
}

// What an answer has as text, the parser reads as what was tried.
func TestLinesAreRead(t *testing.T) {
	for i := range Forms {
		f := &Forms[i]
		one := rounded([]filter{{f, f.start(1234.5, -4.321)}}, 3)[0]
		one.bound(&Wish{FromHz: 100, ToHz: 10000, BoostDB: 6, LowestQ: 0.3, HighestQ: 6})
		spec := "bandwright: 1\nname: x\nways:\n  a:\n    filters:\n      - " + f.Kind + ": " + one.text() + "\ndigital: {rates: [48 kHz], formats: [float32]}\n"
		s, faults := language.Parse("x.yaml", []byte(spec), language.Tables{Kinds: prototype.Rows(), LowPass: "low-pass", HighPass: "high-pass", Methods: []language.Named{{Name: "fit"}}, DefaultMethod: "fit", Formats: []language.Named{{Name: "float32"}}})
		if s == nil {
			t.Fatal(faults)
		}
		read, _ := prototype.ByName(f.Kind)
		a, problems := read.Ideal(s.Ways[0].Filters[0].Args)
		b, _ := read.Ideal(one.args())
		if len(problems) > 0 || len(a.Sections) != len(b.Sections) {
			t.Fatalf("%s: %v", one.text(), problems)
		}
		for _, hz := range []float64{300, 1000, 3000} {
			got, want := biquad.InSeries(a.Sections, 2*math.Pi*hz), biquad.InSeries(b.Sections, 2*math.Pi*hz)
			if d := biquad.DB(got) - biquad.DB(want); math.Abs(d) > 1e-4 {
				t.Errorf("%s: %v dB off at %v Hz", one.text(), d, hz)
			}
		}
	}
}

// Where the target falls, filters do not rise again outside of the range: a treble driver
// gets nothing below its crossover.
func TestStopBand(t *testing.T) {
	target := level(t, pass("high-pass", "LR", 4, 2000))
	w := wish(sum(level(t, pair("high-pass", 900, 0.9)), level(t, peakOf(3000, 2, 4))), target, 1300, 18000)
	w.WithinDB, w.OneMore = 1, true
	f := find(t, w)
	for _, a := range f.Answers {
		var sections []biquad.Analog
		for _, l := range a.Lines {
			k, _ := prototype.ByName(l.Kind)
			ideal, _ := k.Ideal(l.Args)
			sections = append(sections, ideal.Sections...)
		}
		edge := biquad.DB(biquad.InSeries(sections, 2*math.Pi*w.FromHz))
		for hz := 20.0; hz < w.FromHz; hz *= 1.1 {
			if db := biquad.DB(biquad.InSeries(sections, 2*math.Pi*hz)); db > edge+0.3 {
				t.Errorf("%v: %.1f dB at %.0f Hz, %.1f dB at the range's end", a.Lines, db, hz, edge)
				break
			}
		}
	}
	if last := f.Answers[len(f.Answers)-1]; len(last.Lines) > len(f.Answers[0].Lines) && last.ErrorDB > worthOneMore*f.Answers[0].ErrorDB {
		t.Error("one filter more is not worth it")
	}
}
