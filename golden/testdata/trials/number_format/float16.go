package number

import (
	"math"

	"bandwright/biquad"
)

// float16Format has the words of IEEE 754 binary16. Not every compiler computes
// in them, so C holds each in a float, computes in float and rounds the result of
// every operation to a word; the simulation does so in float64. Both have two
// bits more than twice as many as a word, which makes the result that of
// binary16 itself (S. Figueroa, When is double rounding innocuous?, ACM SIGNUM
// Newsletter 30(3), 1995).
var float16Format = described(Format{
	Name:         "float16",
	Doc:          "16-bit IEEE 754 floating point, held in 32 bits",
	Forms:        []biquad.Form{biquad.Delta, biquad.Direct},
	Round:        half,
	Stored:       Stored{Bits: 32, Float: true},
	UnitRoundOff: 1.0 / (1 << 11),
	rounding:     relative,
	Kernel:       float16Kernel(),
	C:            inFloat16(),
}, arithmetic[float64]{
	word:    half,
	sample:  half,
	value:   func(v float64) float64 { return v },
	row:     native(64, "", doubleSize).row,
	size:    func(v float64) uint32 { return singleSize(float32(v)) },
	round:   half,
	calls:   map[string]call[float64]{"half": func(a, _ float64) float64 { return half(a) }},
	literal: func(v float64) string { return decimal(v, 32) + "f" },
})

// float16Kernel also rounds the samples that it is given.
func float16Kernel() Kernel {
	k := floating
	k.Take = Program{{To: "x", Is: "half(in)"}}
	return k
}

// inFloat16 needs no guard against fusing: a function stands between a product
// and its sum.
func inFloat16() C {
	c := inFloating(single, "half precision, held in single", singleOnly, sizeOfSingle)
	c.Before, c.Within, c.After = singleOnly, "", ""
	c.Round, c.Functions = "half", []CFunction{{"half", halfInC}}
	return c
}

// half is the word of binary16 nearest to x, of two the even one. Words from
// 2⁻¹⁴ up have 11 bits; below, all are as far apart as just above it; from 65520
// up the nearest is infinite.
func half(x float64) float64 {
	_, exponent := math.Frexp(x)
	apart := math.Ldexp(1, max(exponent, -13)-11)
	x = math.RoundToEven(x/apart) * apart
	if math.Abs(x) >= 1<<16 {
		return math.Copysign(math.Inf(1), x)
	}
	return x
}

// halfInC is half. Below 2⁻¹⁴ words are as far apart as float's are from a half
// to 1; from there up 13 of float's bits go.
const halfInC = `/* The half-precision number nearest to x, of two the even one. */
static inline float STEM_half(float x)
{
    union {
        float number;
        uint32_t bits;
    } w;
    uint32_t sign;

    w.number = x;
    sign = w.bits & 0x80000000u;
    w.bits -= sign;
    if (w.bits > 0x7f800000u) {
        /* not a number */
    } else if (w.bits >= 0x477ff000u) {
        w.bits = 0x7f800000u;
    } else if (w.bits < 0x38800000u) {
        w.number = (w.number + 0.5f) - 0.5f;
    } else {
        w.bits = (w.bits + 0x0fffu + ((w.bits >> 13) & 1u)) & ~(uint32_t)0x1fffu;
    }
    w.bits |= sign;
    return w.number;
}`
