package number

import (
	"math"
	"strconv"

	"bandwright/biquad"
)

// Fixed point: a word is a whole number of 32 bits. Between sections words are
// samples, and full scale is 2³¹ over 2 to the power of GuardBits. Gains and the direct
// form's coefficients have fraction bits behind the point, those of the other forms as many
// as pointOf says. Products and sums have 64 bits. Nothing saturates
// inside: guardFor proves that it need not. Outputs do.
//
// Every rounding: of constants to the nearest, half away from zero; of y in the direct
// form, of gains and of samples to the nearest, half upwards; of y in the other forms to the next
// multiple of stepOf below, which is the high word of its sum: the low word stays in the sum, and what
// becomes of it is zero at 0 Hz; of what the delta forms keep in q to its high word, the next below.
const (
	fraction = 27
	halfWord = 1 << (fraction - 1)
	greatest = 1<<31 - 1 // and so no -2³¹: every word has its negative
)

// anyGuard is the guard bits of a format that no system has been fitted to: 48 dB.
const anyGuard = 8

// stillWords is below what many words a section's x and y count as none: rounding lets no
// section with a norm of up to 4 from y's rounding to y hold more, and it is no more than
// its rounding makes of a signal. stillSum is the same of its sum in any form, and stillSlope of q.
const (
	stillWords = 33
	stillSum   = stillWords << 29
	stillSlope = 1 << 36
)

// enoughDB is far enough below what the best converters do that the cheaper form
// may stay, for some twenty sections in a row with five guard bits: it is computed with anyGuard.
const enoughDB = -117

// CoarseDB is what no section of the recorded corpus is above, 20 Hz up and to 192 kHz: coefficients and round-off
// together, re its greatest gain.
const CoarseDB = -105.0

// OffDB is how far a section of the format is off, coefficients and round-off together (dB re its greatest gain), with
// the guard bits that the format is fitted to: errors of sections are told with anyGuard.
func (f Format) OffDB(e biquad.SectionError) float64 {
	if f.fitted == nil {
		return e.TotalDB
	}
	round := math.Ldexp(biquad.FromDB(e.RoundOffDB), f.GuardBits-anyGuard)
	return biquad.GainDB(math.Hypot(biquad.FromDB(e.CoefficientDB), round))
}

// bits are how many each of a section's coefficients has behind the point. The fewer, the larger
// they may be: below 16 in the direct form, below 4 with error feedback and in the wide delta form, below 1 in the
// fine one; in the deep one b below 4 and a below 1. Those of the second power have more, as many as q has
// room for.
type bits struct{ b, a [3]int }

func bitsOf(d biquad.Digital) bits {
	switch d.Form {
	case biquad.Shaped:
		return bits{[3]int{29, 29, 29}, [3]int{29, 29, 29}}
	case biquad.DeltaFine, biquad.DeltaWide, biquad.DeltaDeep:
		b, a, more := pointOf(d.Form), feedbackPoint(d.Form), slopeBits(d)
		return bits{[3]int{b, b, b + more}, [3]int{a, a, a + more}}
	}
	return bits{[3]int{fraction, fraction, fraction}, [3]int{fraction, fraction, fraction}}
}

// pointOf is how many bits b0 and the sum have behind the point.
func pointOf(form biquad.Form) int {
	switch form {
	case biquad.DeltaFine:
		return 31
	case biquad.Shaped, biquad.DeltaWide, biquad.DeltaDeep:
		return 29
	}
	return fraction
}

// feedbackPoint is how many bits a1 has behind the point in a delta form.
func feedbackPoint(form biquad.Form) int {
	if form == biquad.DeltaWide {
		return 29
	}
	return 31
}

// stepOf is what the words that a form makes are apart by.
func stepOf(form biquad.Form) float64 {
	if pointOf(form) == fraction {
		return 1
	}
	return math.Ldexp(1, 32-pointOf(form))
}

// leastSlope and mostSlope are the bits more that there can be: the least is what one of q's high word may be in
// a sum as a word, with the most it has a dozen left at least.
const leastSlope, mostSlope = 2, 22

// slopeBits is how many bits more b2 and a2 have in a delta form, so that q, which moves by about the
// corner's share of the rate, fills its 64 bits. 0 where both are zero, and so is q.
func slopeBits(d biquad.Digital) int {
	m := math.Max(math.Abs(d.A[2]), math.Ldexp(math.Abs(d.B[2]), pointOf(d.Form)-feedbackPoint(d.Form)))
	if m == 0 {
		return 0
	}
	_, e := math.Frexp(m)
	return max(leastSlope, min(mostSlope, (1-e)/2+31-pointOf(d.Form)))
}

// slopeOf is what one of q's high word is in the sum; 0 where q is zero.
func slopeOf(d biquad.Digital) int64 {
	if more := slopeBits(d); d.Form >= biquad.DeltaFine && more > 0 {
		return 1 << (32 - more)
	}
	return 0
}

// inWhole is a section whose coefficients are the nearest words.
func inWhole(d biquad.Digital) biquad.Digital {
	nearest := func(v float64, bits int) float64 { return math.Ldexp(math.Round(math.Ldexp(v, bits)), -bits) }
	for {
		at := bitsOf(d)
		for k := range d.B {
			d.B[k], d.A[k] = nearest(d.B[k], at.b[k]), nearest(d.A[k], at.a[k])
		}
		if bitsOf(d) == at { // a rounded one may be the next power of two
			return d
		}
	}
}

// neighbours are a section with one coefficient a word up or down.
func neighbours(d biquad.Digital) []biquad.Digital {
	at := bitsOf(d)
	var out []biquad.Digital
	for k := range d.B {
		for _, up := range []float64{1, -1} {
			x, y := d, d
			x.B[k] += math.Ldexp(up, -at.b[k])
			y.A[k] += math.Ldexp(up, -at.a[k])
			if d.B[k] != 0 {
				out = append(out, x)
			}
			if k > 0 && d.A[k] != 0 {
				out = append(out, y)
			}
		}
	}
	return out
}

// tooLarge reports that a section's coefficients are beyond words.
func tooLarge(d biquad.Digital) bool {
	row := rowOf(d)
	row.Form = d.Form
	for _, v := range wordsOf(row) {
		if max(v, -v) > greatest {
			return true
		}
	}
	return false
}

// fixedPoint is a format with samples in such containers.
func fixedPoint(name string, x container) Format {
	bits, guard := x.bits, x.guard
	words := inWords(x, callsOf(x))
	words.natively = nativelyFixed
	return described(Format{
		Name:      name,
		Doc:       strconv.Itoa(bits) + "-bit fixed point, computed in 32-bit words with 64-bit sums",
		Forms:     []biquad.Form{biquad.Shaped, biquad.DeltaFine, biquad.DeltaWide, biquad.DeltaDeep, biquad.Direct},
		Round:     func(v float64) float64 { return math.Ldexp(math.Round(math.Ldexp(v, fraction)), -fraction) },
		Stored:    Stored{Bits: bits},
		EnoughDB:  enoughDB,
		GuardBits: guard,
		// Half of the last bit of a word between sections, re full scale.
		UnitRoundOff: math.Ldexp(1, guard-32),
		rounding:     constant(x.rounding()),
		Kernel:       x.kernel(),
		C:            inFixed(x),
		fixed: fixed{
			Dither:   x.dither,
			section:  inWhole,
			tooLarge: tooLarge,
			most:     math.Ldexp(greatest, -fraction),
			fitted: func(guard int) Format {
				x := x
				x.guard = guard
				return fixedPoint(name, x)
			},
			dithered: func(bits int) Format {
				x := x
				x.dither = bits
				return fixedPoint(name, x)
			},
		},
	}, words)
}

// inWords is the arithmetic in words: whole numbers of 64 bits here, of which those that C
// keeps in 32 need no more.
func inWords(x container, calls map[string]call[int64]) arithmetic[int64] {
	word := func(v float64) int64 { return int64(math.Round(math.Ldexp(v, fraction))) }
	return arithmetic[int64]{
		word:    word,
		sample:  x.nearest,
		value:   func(v int64) float64 { return math.Ldexp(float64(v), 1-x.bits) },
		row:     wordsOf,
		calls:   calls,
		literal: func(v int64) string { return strconv.FormatInt(v, 10) },
	}
}

// wordsOf are the words of a row: b0, b1, b2, m1, m2 and slope. m1 is -a1, of Shaped one less.
func wordsOf(r Row) []int64 {
	d := biquad.Digital{Form: r.Form, B: [3]float64{r.B0, r.B1, r.B2}, A: [3]float64{1, r.A1, r.A2}}
	at := bitsOf(d)
	whole := func(v float64, bits int) int64 { return int64(math.Round(math.Ldexp(v, bits))) }
	m1 := -r.A1
	if r.Form == biquad.Shaped {
		m1--
	}
	return []int64{whole(r.B0, at.b[0]), whole(r.B1, at.b[1]), whole(r.B2, at.b[2]), whole(m1, at.a[1]), whole(-r.A2, at.a[2]), slopeOf(d)}
}

// callsOf are the functions of the programs.
func callsOf(x container) map[string]call[int64] {
	return map[string]call[int64]{
		"times":  func(a, b int64) int64 { return a * b },
		"scale":  func(a, b int64) int64 { return narrow(a * b) },
		"part":   func(a, b int64) int64 { return (a*b + 1<<31) >> 32 },
		"narrow": func(v, _ int64) int64 { return narrow(v) },
		"widen":  func(v, _ int64) int64 { return v << fraction },
		"high":   func(v, _ int64) int64 { return v >> 32 },
		"twos":   func(v, _ int64) int64 { return v >> 32 * 2 },
		"eights": func(v, _ int64) int64 { return v >> 32 * 8 },
		"taken":  func(v, _ int64) int64 { return x.taken(v) },
		"given":  func(v, _ int64) int64 { return x.given(v) },
		// Of dither.go.
		"stirred":  func(v, _ int64) int64 { return int64(stirred(uint32(v))) },
		"dithered": func(v, seed int64) int64 { return x.dithered(v, uint32(seed)) },
	}
}

// Integers are a section's words as the whole numbers that a fixed-point format holds.
// They are false of floating point.
func (f Format) Integers(d biquad.Digital) (biquad.Integers, bool) {
	if f.section == nil {
		return biquad.Integers{}, false
	}
	at := bitsOf(d)
	w := biquad.Integers{BBits: at.b, ABits: at.a}
	for k := range d.B {
		w.B[k], w.A[k] = int(math.Ldexp(d.B[k], at.b[k])), int(math.Ldexp(d.A[k], at.a[k]))
	}
	return w, true
}

// narrow is the word nearest to a sum of products, of two the greater.
func narrow(v int64) int64 { return (v + halfWord) >> fraction }

var (
	word32 = CType{"int32_t", 4}
	word64 = CType{"int64_t", 8}
)

// fixedKernel is floating, but that m1 and m2, the feedback's words, are -a1 and -a2, as processors
// add products in one step and subtract them in three.
//
// Shaped and the delta forms keep the whole sum that y is the high word of, and go on from it:
// s - z⁻¹·s is what one sample adds. So the first power's feedback is one less, and what y leaves out
// stays in s. Of the delta forms s is p and what b0 makes of x together; q is kept in finer words, and
// its high word, times slope, is what s takes of it. In the deep one s is the sum of the fine one for a
// quarter of y.
var fixedKernel = Kernel{
	Words: []Variable{{Name: "b0"}, {Name: "b1"}, {Name: "b2"}, {Name: "m1"}, {Name: "m2"}, {Name: "slope"}},
	States: []Variable{
		// In an order in which those of every form follow each other.
		{Name: "q", Type: word64, Still: math.Ldexp(stillSlope, -fraction)}, {Name: "s", Type: word64, Still: math.Ldexp(stillSum, -fraction)},
		{Name: "x1", Still: still}, {Name: "x2", Still: still}, {Name: "y1", Still: still}, {Name: "y2", Still: still},
	},
	Take:  Program{{To: "x", Is: "taken(in)"}},
	Give:  Program{{To: "out", Is: "given(x)"}},
	Gain:  Program{{To: "x", Is: "scale(gain, x)"}},
	Small: Program{{To: "x", Is: "part(gain, x)"}},
	Sections: map[biquad.Form]Program{
		biquad.Direct: {
			{To: "y", Is: "narrow(times(b0, x) + s)"},
			{To: "s", Is: "(q + times(b1, x)) + times(m1, y)"},
			{To: "q", Is: "times(b2, x) + times(m2, y)"},
		},
		biquad.Shaped: {
			{To: "s", Is: "((((s + times(b1, x1)) + times(m1, y1)) + times(b2, x2)) + times(b0, x)) + times(m2, y2)"},
			{To: "y", Is: "eights(s)"},
			{To: "x2", Is: "x1"}, {To: "x1", Is: "x"}, {To: "y2", Is: "y1"}, {To: "y1", Is: "y"},
		},
		biquad.DeltaFine: {
			{To: "s", Is: "s + times(b0, x - x1)", Type: word64},
			{To: "y", Is: "twos(s)"},
			{To: "s", Is: "((s + times(m1, y)) + times(b1, x)) + times(slope, high(q))"},
			{To: "q", Is: "(q + times(b2, x)) + times(m2, y)"},
			{To: "x1", Is: "x"},
		},
		biquad.DeltaWide: {
			{To: "s", Is: "s + times(b0, x - x1)", Type: word64},
			{To: "y", Is: "eights(s)"},
			{To: "s", Is: "((s + times(m1, y)) + times(b1, x)) + times(slope, high(q))"},
			{To: "q", Is: "(q + times(b2, x)) + times(m2, y)"},
			{To: "x1", Is: "x"},
		},
		biquad.DeltaDeep: {
			{To: "s", Is: "s + times(b0, x - x1)", Type: word64},
			{To: "z", Is: "twos(s)"},
			{To: "y", Is: "eights(s)"},
			{To: "s", Is: "((s + times(m1, z)) + times(b1, x)) + times(slope, high(q))"},
			{To: "q", Is: "(q + times(b2, x)) + times(m2, z)"},
			{To: "x1", Is: "x"},
		},
	},
	Weight: Program{
		{To: "u", Is: "at*step"},
		{To: "v", Is: "scale(u, scale(6, u) - 15) + 10"},
		{To: "w", Is: "scale(scale(scale(u, u), u), v)"},
	},
	Mix:  Program{{To: "y", Is: "narrow((widen(y) + times(w, z)) - times(w, y))"}},
	Fade: Program{{To: "y", Is: "scale(w, y)"}},
}

// still is stillWords as a constant.
const still = stillWords / float64(1<<fraction)

// holdsOf bounds a section's s and q in a form, given what its output, its p and q, and its input reach,
// as words.
func holdsOf(row Row, r Reach, x, full float64) (s, q float64) {
	y, p, slow := (r.Y*full)+stepOf(row.Form), r.P*full, r.Q*full
	point := pointOf(row.Form)
	switch row.Form {
	case biquad.Shaped:
		return math.Ldexp(y, point), 0
	case biquad.DeltaFine, biquad.DeltaWide, biquad.DeltaDeep:
		more := slopeBits(biquad.Digital{Form: row.Form, B: [3]float64{row.B0, row.B1, row.B2}, A: [3]float64{1, row.A1, row.A2}})
		return math.Ldexp(math.Max(y, p+math.Abs(row.B0)*x), point), math.Ldexp(slow, point+more)
	}
	return math.Ldexp(p, point), math.Ldexp(slow, point)
}

// container is where the samples of a fixed-point format stand: bits wide at the right of a word.
// Inside they stand at its left, guard bits further down. Of what is given only the first
// dither bits are used, unless that is 0.
type container struct{ bits, guard, dither int }

// full is full scale, just beyond the largest sample.
func (s container) full() int64 { return 1 << (s.bits - 1) }

// nearest is the sample nearest to x re full scale, of two the greater.
func (s container) nearest(x float64) int64 {
	return s.limited(int64(math.Floor(math.Ldexp(math.Max(-1, math.Min(1, x)), s.bits-1) + 0.5)))
}

func (s container) limited(v int64) int64 { return max(-s.full(), min(s.full()-1, v)) }

// taken is a sample at the left of a word.
func (s container) taken(v int64) int64 { return s.limited(v) << (32 - s.bits) }

// given is the sample nearest to a word of the inside, of two the greater, limited. Where the
// word has fewer bits below full scale than a sample, the last of the sample's are zero.
func (s container) given(v int64) int64 {
	drop := s.dropped()
	if drop > 0 {
		return s.limited((v + 1<<(drop-1)) >> drop)
	}
	full := s.full() >> -drop
	return max(-full, min(full-1, v)) << -drop
}

// dropped is how many bits a word of the inside has more than a sample.
func (s container) dropped() int { return 32 - s.bits - s.guard }

// rounding is the noise of what makes samples over that of y: the square of what their
// last bits are apart by, three times that with dither.
func (s container) rounding() float64 {
	if s.dither > 0 {
		return 3 * math.Ldexp(1, 2*(32-s.dither-s.guard))
	}
	if drop := 32 - s.bits - s.guard; drop > 0 {
		return math.Ldexp(1, 2*drop)
	}
	return 0
}
