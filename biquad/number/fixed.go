package number

import (
	"math"
	"strconv"

	"bandwright/biquad"
)

// Fixed point: a word is a whole number of 32 bits. Between sections words are
// samples, and full scale is 2³¹ over 2 to the power of GuardBits. Constants have
// fraction bits behind the point. Products have 64 bits, and so have states, so
// that y is all that a section rounds, and sums lose nothing. Nothing saturates
// inside: guardFor proves that it need not. Outputs do.
//
// Every rounding: of constants to the nearest, half away from zero; of y in the direct
// form, of gains and of samples to the nearest, half upwards; of y in the other forms, and of
// what the delta forms shift down, to the next below. (What rounding down leaves is a constant,
// half of a bit, and noise. What those forms make of y's rounding is zero at 0 Hz.)
const (
	fraction = 27
	halfWord = 1 << (fraction - 1)
	greatest = 1<<31 - 1 // and so no -2³¹: every word has its negative
)

// anyGuard is the guard bits of a format that no system has been fitted to: 48 dB.
const anyGuard = 8

// stillWords is below what many words a section's states count as none: rounding lets no
// section with a norm of up to 4 from y's rounding to y hold more, and it is no more than
// its rounding makes of a signal.
const stillWords = 2

// enoughDB is far enough below what the best converters do that the cheaper form
// may stay, for some twenty sections in a row and as many guard bits as any.
const enoughDB = -135

// fixedPoint is a format with samples in such containers.
func fixedPoint(name string, x container) Format {
	bits, guard := x.bits, x.guard
	words := inWords(x, callsOf(x))
	words.natively = nativelyFixed
	return described(Format{
		Name:      name,
		Doc:       strconv.Itoa(bits) + "-bit fixed point, computed in 32-bit words with 64-bit sums",
		Forms:     []biquad.Form{biquad.Direct, biquad.Shaped, biquad.Delta4, biquad.Delta8},
		Round:     func(v float64) float64 { return fixedWord(v, biquad.Direct, 0) },
		Stored:    Stored{Bits: bits},
		EnoughDB:  enoughDB,
		GuardBits: guard,
		// Half of the last bit of a word between sections, re full scale.
		UnitRoundOff: math.Ldexp(1, guard-32),
		rounding:     constant(x.rounding()),
		Kernel:       x.kernel(),
		C:            inFixed(x),
		fixed: fixed{
			Dither:      x.dither,
			coefficient: fixedWord,
			most: func(form biquad.Form, k int) float64 {
				return math.Ldexp(greatest, -fraction-k*form.Shift())
			},
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
		word:   word,
		sample: x.nearest,
		value:  func(v int64) float64 { return math.Ldexp(float64(v), 1-x.bits) },
		row: func(r Row) []int64 {
			s := r.Form.Shift()
			return []int64{word(r.B0), word(math.Ldexp(r.B1, s)), word(math.Ldexp(r.B2, 2*s)), word(math.Ldexp(r.A1, s)), word(math.Ldexp(r.A2, 2*s))}
		},
		calls:   calls,
		literal: func(v int64) string { return strconv.FormatInt(v, 10) },
	}
}

// callsOf are the functions of the programs.
func callsOf(x container) map[string]call[int64] {
	return map[string]call[int64]{
		"times":  func(a, b int64) int64 { return a * b },
		"scale":  func(a, b int64) int64 { return narrow(a * b) },
		"narrow": func(v, _ int64) int64 { return narrow(v) },
		"lower":  func(v, _ int64) int64 { return v >> fraction },
		"left":   func(v, _ int64) int64 { return v & (1<<fraction - 1) },
		"widen":  func(v, _ int64) int64 { return v << fraction },
		"down4":  func(v, _ int64) int64 { return v >> 4 },
		"down8":  func(v, _ int64) int64 { return v >> 8 },
		"taken":  func(v, _ int64) int64 { return x.taken(v) },
		"given":  func(v, _ int64) int64 { return x.given(v) },
		// Of dither.go.
		"stirred":  func(v, _ int64) int64 { return int64(stirred(uint32(v))) },
		"dithered": func(v, seed int64) int64 { return x.dithered(v, uint32(seed)) },
	}
}

// Integers are a section's words as the whole numbers that a fixed-point format holds:
// those of the k-th power are 2 to the power of fractionBits + k times the form's Shift
// for 1. They are false of floating point.
func (f Format) Integers(d biquad.Digital) (b, a [3]int, fractionBits int, ok bool) {
	if f.coefficient == nil {
		return b, a, 0, false
	}
	for k := range d.B {
		bits := fraction + k*d.Form.Shift()
		b[k], a[k] = int(math.Ldexp(d.B[k], bits)), int(math.Ldexp(d.A[k], bits))
	}
	return b, a, fraction, true
}

// fixedWord is the coefficient of the k-th power nearest to v.
func fixedWord(v float64, form biquad.Form, k int) float64 {
	bits := fraction + k*form.Shift()
	return math.Ldexp(math.Round(math.Ldexp(v, bits)), -bits)
}

// narrow is the word nearest to a sum of products, of two the greater.
func narrow(v int64) int64 { return (v + halfWord) >> fraction }

var (
	word32 = CType{"int32_t", 4}
	word64 = CType{"int64_t", 8}
)

// fixedKernel is floating, but that y alone is rounded, and that the feedback's words are
// turned first, as processors add products in one step and subtract them in three. Of
// Shaped, what y leaves out goes into the next p. The delta forms keep in p and q what
// they read shifted down: by 4 bits, all of it; by 8 there would be no room in 64 bits,
// and what is added is shifted down.
var fixedKernel = Kernel{
	Words:  floating.Words,
	States: []Variable{{Name: "p", Type: word64}, {Name: "q", Type: word64}},
	Take:   Program{{To: "x", Is: "taken(in)"}},
	Give:   Program{{To: "out", Is: "given(x)"}},
	Gain:   Program{{To: "x", Is: "scale(gain, x)"}},
	Ready:  Program{{To: "m1", Is: "0 - a1"}, {To: "m2", Is: "0 - a2"}},
	Sections: map[biquad.Form]Program{
		biquad.Direct: {
			{To: "y", Is: "narrow(times(b0, x) + p)"},
			{To: "p", Is: "(q + times(b1, x)) + times(m1, y)"},
			{To: "q", Is: "times(b2, x) + times(m2, y)"},
		},
		biquad.Shaped: {
			{To: "s", Is: "times(b0, x) + p", Type: word64},
			{To: "y", Is: "lower(s)"},
			{To: "p", Is: "((q + times(b1, x)) + times(m1, y)) + left(s)"},
			{To: "q", Is: "times(b2, x) + times(m2, y)"},
		},
		biquad.Delta4: {
			{To: "y", Is: "lower(times(b0, x) + down4(p))"},
			{To: "p", Is: "((p + down4(q)) + times(b1, x)) + times(m1, y)"},
			{To: "q", Is: "(q + times(b2, x)) + times(m2, y)"},
		},
		biquad.Delta8: {
			{To: "y", Is: "lower(times(b0, x) + p)"},
			{To: "p", Is: "p + down8((q + times(b1, x)) + times(m1, y))"},
			{To: "q", Is: "q + down8(times(b2, x) + times(m2, y))"},
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

// stateBits is by how many bits p and q of a form stand above a product of b0.
func stateBits(f biquad.Form) (p, q int) {
	switch f {
	case biquad.Delta4:
		return f.Shift(), 2 * f.Shift()
	case biquad.Delta8:
		return 0, f.Shift()
	}
	return 0, 0
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

// given is the sample nearest to a word of the inside, of two the greater, limited.
func (s container) given(v int64) int64 {
	v <<= s.guard
	if drop := 32 - s.bits; drop > 0 {
		v = (v + 1<<(drop-1)) >> drop
	}
	return s.limited(v)
}

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
