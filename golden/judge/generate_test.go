package judge

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
)

// specs is how many specs are generated, and seed what from.
const (
	specs = 72
	seed  = 0x6a756467
)

var (
	rates      = []string{"44.1 kHz", "48 kHz", "88.2 kHz", "96 kHz", "176.4 kHz", "192 kHz", "8 kHz", "768 kHz"}
	ratesHz    = map[string]float64{"44.1 kHz": 44100, "48 kHz": 48000, "88.2 kHz": 88200, "96 kHz": 96000, "176.4 kHz": 176400, "192 kHz": 192000, "8 kHz": 8000, "768 kHz": 768000}
	formats    = [][]string{{"float32"}, {"float64"}, {"float32", "float64"}, {"float32", "q31"}, {"float64", "q23"}}
	wayNames   = []string{"bass", "mid", "treble", "air"}
	families   = []string{"butterworth", "bessel", "LR", "chebyshev", "inverse-chebyshev", "elliptic", "critically-damped"}
	everyOrder = 12
	// variants are the kinds beside low-pass and high-pass of a family, each in
	// every way that it can be written.
	variants = []string{
		"low-pass q", "high-pass q", "band-pass", "notch", "notch depth", "all-pass 1", "all-pass 2",
		"peak", "peak bandwidth", "low-shelf", "low-shelf 1", "low-shelf q", "low-shelf slope",
		"high-shelf", "high-shelf 1", "high-shelf q", "high-shelf slope", "pole-shift", "dipole-lift",
		"rational", "roots", "gain",
	}
	settingTable = []setting{
		{"placement", []string{"free", "wall", "corner"}},
		{"grille", []string{"none", "woven"}},
		{"trim", []string{"0 dB", "-1.5 dB", "2 dB"}},
		{"height", []string{"ear", "ceiling"}},
	}
)

// written is a generated spec: its text, and what the judge is told of it.
type written struct {
	name, text string
	system     system
	ratesHz    []float64
	formats    []string
	features   map[string]bool
}

type alignment struct {
	family string
	order  int
}

// deck deals every card once before any card again.
type deck[T any] struct {
	rng         *rand.Rand
	cards, left []T
}

func newDeck[T any](rng *rand.Rand, cards ...T) *deck[T] { return &deck[T]{rng: rng, cards: cards} }

func (d *deck[T]) next() T {
	if len(d.left) == 0 {
		d.left = slices.Clone(d.cards)
		d.rng.Shuffle(len(d.left), func(i, j int) { d.left[i], d.left[j] = d.left[j], d.left[i] })
	}
	c := d.left[0]
	d.left = d.left[1:]
	return c
}

type generator struct {
	*rand.Rand
	low, high      *deck[alignment] // of crossovers and filters
	kinds          *deck[string]
	scales         *deck[string]
	ripples        *deck[decimal]
	rates          *deck[string]
	rationals      *deck[int]
	layouts        *deck[int]
	summable       *deck[alignment]
	minHz, limitHz float64 // where corners may lie in the spec at hand
	mixed          bool    // some filters have a method of their own
	used           map[string]bool
}

func generated() []written {
	rng := rand.New(rand.NewPCG(seed, specs))
	var all, sums []alignment
	for _, f := range families {
		for n := 1; n <= everyOrder; n++ {
			if f == "LR" && n%2 != 0 {
				continue
			}
			all = append(all, alignment{f, n})
			if f == "LR" || f == "butterworth" && n%2 == 1 {
				sums = append(sums, alignment{f, n})
			}
		}
	}
	g := &generator{
		Rand: rng, low: newDeck(rng, all...), high: newDeck(rng, all...),
		kinds: newDeck(rng, variants...), scales: newDeck(rng, "", "level", "delay", "phase"),
		ripples: newDeck(rng, decimal{1, -2}, decimal{1, -1}, decimal{5, -1}, decimal{1, 0}, decimal{3, 0}),
		rates:   newDeck(rng, rates...), rationals: newDeck(rng, 1, 2, 3, 4, 6, 12),
		layouts:  newDeck(rng, 0, 1, 2, 3, 4, 5, 6, 7, 8),
		summable: newDeck(rng, sums...),
	}
	var out []written
	for i := range specs {
		out = append(out, g.spec(i))
	}
	return out
}

// log and lin draw a decimal of so many digits from lo to hi.
func (g *generator) log(lo, hi float64, digits int) decimal {
	return rounded(lo*math.Exp2(g.Float64()*math.Log2(hi/lo)), digits)
}

func (g *generator) lin(lo, hi float64, digits int) decimal {
	return rounded(lo+(hi-lo)*g.Float64(), digits)
}

func rounded(v float64, digits int) decimal {
	t := strconv.FormatFloat(v, 'e', digits-1, 64)
	mant, exp, _ := strings.Cut(t, "e")
	e, _ := strconv.Atoi(exp)
	whole, frac, _ := strings.Cut(mant, ".")
	n, _ := strconv.ParseInt(whole+frac, 10, 64)
	return decimal{n, e - len(frac)}
}

// hz adds a frequency in Hz or kHz.
func (g *generator) hz(f *filter, key string, d decimal) {
	if d.float() >= 200 && g.IntN(3) > 0 {
		f.quantity(key, d, 3, "kHz")
		return
	}
	f.quantity(key, d, 0, "Hz")
}

func (g *generator) corner() decimal { return g.log(g.minHz, g.limitHz, 3+g.IntN(2)) }

func (g *generator) gainDB() decimal {
	d := g.lin(0.3, 12, 2)
	if g.IntN(2) == 0 {
		d.digits = -d.digits
	}
	return d
}

// note marks something as having occurred.
func (g *generator) note(format string, args ...any) { g.used[fmt.Sprintf(format, args...)] = true }

// pass is a low-pass or high-pass of a family.
func (g *generator) pass(kind string, a alignment, at decimal) filter {
	f := newFilter(kind)
	f.word("family", a.family)
	f.number("order", decimal{int64(a.order), 0})
	g.hz(&f, "at", at)
	ripple := 0.0
	if a.family == "chebyshev" || a.family == "elliptic" {
		d := g.ripples.next()
		ripple = d.float()
		f.quantity("ripple", d, 0, "dB")
	}
	switch a.family {
	case "bessel":
		if n := g.scales.next(); n != "" {
			f.word("scaled-by", n)
		} else {
			f.Word["scaled-by"] = "level"
		}
	case "inverse-chebyshev":
		f.quantity("stop", g.lin(15, math.Min(110, 25+7*float64(a.order)), 3), 0, "dB")
	case "elliptic":
		f.quantity("stop", g.lin(ripple+10+4*float64(a.order), ripple+20+8*float64(a.order), 3), 0, "dB")
	}
	return f
}

// filter is one of variants.
func (g *generator) filter(variant string) filter {
	g.note("variant %s", variant)
	kind, how, _ := strings.Cut(variant, " ")
	f := newFilter(kind)
	switch kind {
	case "low-pass", "high-pass":
		g.hz(&f, "at", g.corner())
		f.number("q", g.log(0.3, 8, 3))
		if g.IntN(3) == 0 {
			f.number("order", decimal{2, 0})
		}
	case "band-pass":
		g.hz(&f, "at", g.corner())
		f.number("q", g.log(0.1, 20, 3))
	case "notch":
		g.hz(&f, "at", g.corner())
		f.number("q", g.log(0.3, 30, 3))
		if how == "depth" {
			f.quantity("depth", g.lin(1, 40, 3), 0, "dB")
		} else if f.Word["depth"] = "complete"; g.IntN(2) == 0 {
			f.text = append(f.text, "depth: complete")
		}
	case "all-pass":
		g.hz(&f, "at", g.corner())
		if how == "1" {
			f.number("order", decimal{1, 0})
			break
		}
		f.Num["order"] = 2
		f.number("q", g.log(0.3, 5, 3))
	case "peak":
		g.hz(&f, "at", g.corner())
		f.quantity("gain", g.gainDB(), 0, "dB")
		if how == "bandwidth" {
			f.number("bandwidth", g.log(0.1, 4, 3))
		} else {
			f.number("q", g.log(0.2, 20, 3))
		}
	case "low-shelf", "high-shelf":
		g.hz(&f, "at", g.corner())
		f.quantity("gain", g.gainDB(), 0, "dB")
		f.Num["order"] = 2
		switch how {
		case "1":
			f.number("order", decimal{1, 0})
		case "q":
			f.number("q", g.log(0.3, 2, 3))
		case "slope":
			f.number("slope", g.lin(0.3, 1, 3))
		default:
			f.Num["q"] = 0.7071
		}
	case "pole-shift":
		f.pair("from", g.log(40, 150, 3), g.log(0.4, 2, 3))
		f.pair("to", g.log(12, 100, 3), g.log(0.4, 1.2, 3))
	case "dipole-lift":
		to := g.log(g.minHz, g.limitHz/3, 3)
		g.hz(&f, "from", decimal{to.digits * (2 + g.Int64N(6)), to.exp})
		g.hz(&f, "to", to)
	case "gain":
		f.quantity("by", g.gainDB(), 0, "dB")
	case "rational":
		g.rational(&f)
	case "roots":
		g.roots(&f)
	}
	return f
}

// pair adds {at, q}.
func (f *filter) pair(key string, at, q decimal) {
	f.Num[key+".at"], f.Num[key+".q"] = at.float(), q.float()
	f.text = append(f.text, key+": {at: "+at.in(0)+" Hz, q: "+q.in(0)+"}")
}

// rational is a fraction of polynomials multiplied out from well damped
// factors near p = 1, printed with eight digits: rounding then leaves it
// stable.
func (g *generator) rational(f *filter) {
	order := g.rationals.next()
	zeros := order
	if g.IntN(3) == 0 {
		zeros = g.IntN(order + 1)
	}
	g.hz(f, "at", g.log(g.minHz*4, g.limitHz, 4))
	g.note("rational of order %d", order)
	poly := func(n int, right bool) []float64 {
		c := []float64{1} // highest power first
		for ; n > 0; n -= 2 {
			w := 0.4 * math.Exp2(2.3*g.Float64())
			factor := []float64{1, w}
			if n > 1 {
				factor = []float64{1, w / (0.5 + g.Float64()), w * w}
			}
			if right && g.IntN(3) == 0 {
				factor[1] = -factor[1]
				g.note("zeros on the right")
			}
			c = multiplied(c, factor)
		}
		return c
	}
	for _, p := range []struct {
		key string
		c   []float64
	}{{"numerator", poly(zeros, true)}, {"denominator", poly(order, false)}} {
		var text []string
		for _, v := range p.c {
			d := rounded(v, 8)
			f.List[p.key] = append(f.List[p.key], d.float())
			text = append(text, d.in(0))
		}
		f.text = append(f.text, p.key+": ["+strings.Join(text, ", ")+"]")
	}
}

func multiplied(x, y []float64) []float64 {
	out := make([]float64, len(x)+len(y)-1)
	for i, a := range x {
		for j, b := range y {
			out[i+j] += a * b
		}
	}
	return out
}

// roots is one of some layouts, from a single pole to weighting curves.
func (g *generator) roots(f *filter) {
	at := g.log(g.minHz*6, g.limitHz/6, 3)
	times := func(tenths int64) decimal { return decimal{at.digits * tenths, at.exp - 1} }
	zeros, poles := &rootList{g: g, f: f, key: "zeros"}, &rootList{g: g, f: f, key: "poles"}
	zero := zeros.add
	pole := func(hz decimal, q *decimal) { poles.add(hz, q, false) }
	q := func(lo, hi float64) *decimal { d := g.log(lo, hi, 3); return &d }
	axis, origin := &decimal{}, decimal{}
	unity := "0 Hz"
	layout := g.layouts.next()
	switch layout {
	case 0:
		pole(at, nil)
	case 1:
		zero(origin, nil, false)
		pole(at, q(0.6, 5))
		unity = at.in(0) + " Hz"
	case 2:
		zero(origin, nil, false)
		zero(origin, nil, false)
		pole(at, q(0.6, 2))
		unity = "inf"
	case 3:
		zero(times(20), axis, false)
		pole(at, q(0.6, 3))
		pole(times(7), nil)
	case 4:
		a := q(0.6, 3)
		zero(at, a, true)
		pole(at, a)
		unity = times(4).in(0) + " Hz"
	case 5:
		zero(times(9), nil, false)
		pole(times(4), nil)
		pole(times(50), nil)
	case 6:
		for range 3 {
			zero(origin, nil, false)
		}
		pole(times(2), q(0.4, 0.8))
		pole(times(8), nil)
		pole(times(50), nil)
		pole(times(50), nil)
		unity = at.in(0) + " Hz"
	case 7:
		zero(times(13), nil, true)
		pole(at, nil)
	case 8:
		zero(times(2), q(0.5, 4), false)
		zero(times(50), q(0.5, 4), false)
		pole(times(3), q(0.5, 2))
		pole(times(40), q(0.5, 2))
		unity = "inf"
	}
	g.note("layout %d of roots", layout)
	if len(zeros.texts) > 0 {
		f.text = append(f.text, zeros.text())
	}
	f.text = append(f.text, poles.text(), "unity-at: "+unity)
	switch n, _, _ := strings.Cut(unity, " "); n {
	case "inf":
		f.Word["unity-at"] = "inf"
	default:
		f.Num["unity-at"], _ = strconv.ParseFloat(n, 64)
	}
}

// rootList is one of the two lists of a filter by its roots.
type rootList struct {
	g     *generator
	f     *filter
	key   string
	texts []string
}

func (l *rootList) text() string { return l.key + ": [" + strings.Join(l.texts, ", ") + "]" }

// add puts a root, or a pair of q, into the text and into the description.
func (l *rootList) add(hz decimal, q *decimal, right bool) {
	r := root{AtHz: hz.float(), Right: right}
	t := hz.in(0) + " Hz"
	if q != nil || right {
		t = "{at: " + t
		if q != nil {
			v := q.float()
			r.Q = &v
			if v == 0 {
				t += ", q: inf"
			} else {
				t += ", q: " + q.in(0)
			}
		}
		if right {
			t += ", side: right"
		}
		t += "}"
	}
	if hz.digits == 0 && l.g.IntN(2) == 0 {
		t = "0"
	}
	l.texts = append(l.texts, t)
	l.f.Roots[l.key] = append(l.f.Roots[l.key], r)
}
