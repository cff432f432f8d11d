package number

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"bandwright/biquad"
)

// Dither: samples are rounded to the words of a converter, fewer bits than are computed
// with, after the difference of two numbers has been added, each spread evenly over the
// distance of two such words. It is triangular, two distances wide, which makes the mean
// and the mean square of what is then wrong independent of the signal: 0 and a quarter of
// the distance's square, a sixth of it of the dither and a twelfth of the rounding.
// R. A. Wannamaker, S. P. Lipshitz, J. Vanderkooy and J. N. Wright, A theory of
// nonsubtractive dither, IEEE Trans. Signal Processing 48(2), 2000 (cited from memory;
// dither_test.go works both moments out for every value by trying all numbers).
//
// The numbers are the first and the last bits of one word of a generator a sample and
// output: G. Marsaglia, Xorshift RNGs, J. Statistical Software 8(14), 2003, the one of 32
// bits with shifts by 13, 17 and 5 (from memory), whose period is all 2³² - 1 words but 0: dither_test.go
// checks that by the order of its matrix.

// LeastDither and MostDither are the bits of a converter's words that there is dither for:
// half of 32 at least, so that two numbers come from one word, and no more than samples of
// any format have.
const LeastDither, MostDither = 16, 24

// Ditherable reports that the format's samples can be rounded to fewer bits with dither:
// that of fixed point.
func (f Format) Ditherable() bool { return f.dithered != nil }

// Dithered is the format whose outputs are rounded to words of so many bits, LeastDither
// to MostDither, with triangular dither; without dither where bits is 0. A format that is
// not Ditherable stays as it is.
func (f Format) Dithered(bits int) Format {
	if f.dithered == nil {
		return f
	}
	return f.dithered(bits)
}

// DitherDBFS is the noise of rounding to a converter's words of so many bits in the band loHz to
// hiHz (Hz, hiHz no more than half the rate) in dB re the RMS of a full-scale sine: of
// dither alone, and with the rounding.
func DitherDBFS(bits int, rateHz, loHz, hiHz float64) (alone, all float64) {
	distance := math.Ldexp(1, 1-bits)
	share := (hiHz - loHz) / (rateHz / 2)
	level := func(power float64) float64 { return biquad.GainDB(distance * math.Sqrt(2*power*share)) }
	return level(1.0 / 6), level(1.0 / 4)
}

// seedStep spreads the words that outputs begin at: 2³² over the golden ratio, odd.
const seedStep = 0x9e3779b9

// FirstSeed is the word that output k of all channels, counted from 0, begins at after a
// reset: never 0, and another one for each.
func FirstSeed(k int) uint32 { return seedStep * uint32(k+1) }

// stirred is the generator's next word.
func stirred(seed uint32) uint32 {
	seed ^= seed << 13
	seed ^= seed >> 17
	return seed ^ seed<<5
}

// kernel is that of fixed point, with dither where there is some.
func (s container) kernel() Kernel {
	k := fixedKernel
	if s.dither > 0 {
		k.Seed = Variable{Name: "seed", Type: CType{"uint32_t", 4}}
		k.Give = Program{
			{To: "seed", Is: "stirred(seed)"},
			{To: "out", Is: "dithered(x, seed)"},
		}
	}
	return k
}

// dithered is a word of the inside as a sample of the first dither bits.
func (s container) dithered(v int64, seed uint32) int64 {
	drop := 32 - s.dither
	high, low := int64(seed>>(32-drop)), int64(seed&(1<<drop-1))
	v = (v<<s.guard + high - low + 1<<(drop-1)) >> drop
	full := int64(1) << (s.dither - 1)
	return max(-full, min(full-1, v)) << (s.bits - s.dither)
}

const stirredInC = `/* The next word of the dither's generator: xorshift, 32 bits. */
static inline uint32_t STEM_stirred(uint32_t seed)
{
    uint32_t next = seed;

    next ^= next << 13;
    next ^= next >> 17;
    next ^= next << 5;
    return next;
}`

// ditheredInC is dithered.
func (s container) ditheredInC() string {
	drop := 32 - s.dither
	full, times := int64(1)<<(s.dither-1), ""
	if s.bits > s.dither {
		times = fmt.Sprintf(" * %d", 1<<(s.bits-s.dither))
	}
	return strings.NewReplacer("WIDTH", strconv.Itoa(s.dither), "MASK", fmt.Sprintf("0x%xu", 1<<drop-1),
		"FULL", strconv.FormatInt(full, 10), "LAST", strconv.FormatInt(full-1, 10), "GUARD", strconv.FormatInt(1<<s.guard, 10),
		"HALF", strconv.FormatInt(1<<(drop-1), 10), "DROP", strconv.Itoa(drop), "BACK", strconv.FormatInt(1<<(63-drop), 10),
		"TIMES", times).Replace(ditheredText)
}

const ditheredText = `/* A word as a sample whose first WIDTH bits count: the difference of the seed's first and last DROP
 * bits is added, then it is the nearest, of two the greater, limited. */
static inline int32_t STEM_dithered(int32_t v, uint32_t seed)
{
    const int64_t added = (int64_t)(seed >> WIDTH) - (int64_t)(seed & MASK) + HALF;
    const int64_t wide = ((int64_t)v * GUARD) + added;
    const int64_t near = (int64_t)(((uint64_t)wide + 0x8000000000000000u) >> DROP) - BACK;
    int32_t out = -FULL;

    if (near > LAST) {
        out = LAST;
    } else if (near > -FULL) {
        out = (int32_t)near;
    } else {
        /* the least there is */
    }
    return outTIMES;
}`
