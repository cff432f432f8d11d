package acoustic

import (
	"fmt"
	"math"
	"strconv"

	"bandwright/biquad"
	"bandwright/compiler/words"
)

// Excess is where something of a way passes its limit, for a sine of so much below full
// scale at the input.
type Excess struct {
	LowHz, HighHz float64 // the lowest and the highest frequency at which it does
	ToLowest      bool    // down to the lowest that is looked at
}

// excess is where levels over frequency, times gain, pass a limit; false where nowhere.
func excess(hz, x []float64, gain, limit float64) (out Excess, any bool) {
	for i, v := range x {
		if v*gain > limit {
			if !any {
				out.LowHz, out.ToLowest, any = hz[i], i == 0, true
			}
			out.HighHz = hz[i]
		}
	}
	return out, any
}

// String is "below 54 Hz" or "between 40 Hz and 54 Hz".
func (e Excess) String() string {
	high := words.Hz(words.Round(e.HighHz, 2))
	switch {
	case e.ToLowest:
		return "below " + high
	case e.HighHz/e.LowHz < 1.05:
		return "at " + high
	}
	return "between " + words.Hz(words.Round(e.LowHz, 2)) + " and " + high
}

// highPasses are the orders that a remedy tries, with their names.
var highPasses = []string{1: "first", 2: "second", 3: "third", 4: "fourth"}

// butterworth is the gain of a high-pass.
func butterworth(order int, at, hz float64) float64 {
	x := 1.0
	for range order {
		x *= at / hz
	}
	return 1 / math.Hypot(1, x)
}

// HoldsDB is the level re full scale (dB, rounded down to a tenth) at which x keeps its
// limit at all frequencies.
func HoldsDB(x []float64, limit float64) float64 {
	most := 0.0
	for _, v := range x {
		most = math.Max(most, v)
	}
	if most == 0 {
		return 0
	}
	return math.Floor(biquad.GainDB(limit/most)*10) / 10
}

// HighPass is a Butterworth high-pass.
type HighPass struct {
	Order int
	AtHz  float64
}

// String is "a first-order high-pass at 24 Hz".
func (h HighPass) String() string {
	return fmt.Sprintf("a %s-order high-pass at %s", highPasses[h.Order], words.Hz(h.AtHz))
}

// Line is it as a spec has it.
func (h HighPass) Line() string {
	return fmt.Sprintf("high-pass: {family: butterworth, order: %d, at: %s}", h.Order, words.Hz(h.AtHz))
}

// HighPasses are those with which x over frequency, at so many dB re full scale, keeps a limit, one of each order that does, the
// least order first: each with the lowest corner, to two digits, that does, and none higher than where x now passes the limit.
// levelDB is how loud the way is: none where it is not heard an octave above.
func HighPasses(hz, x, levelDB []float64, atDB, limit float64) (out []HighPass) {
	gain := biquad.FromDB(atDB)
	over, any := excess(hz, x, gain, limit)
	if !any || 2*over.HighHz > topOf(hz, levelDB) {
		return nil
	}
	keeps := func(order int, at float64) bool {
		for i, v := range x {
			if v*gain*butterworth(order, at, hz[i]) > limit {
				return false
			}
		}
		return true
	}
	for order := 1; order < len(highPasses); order++ {
		at := over.HighHz
		if !keeps(order, at) {
			continue
		}
		low := hz[0]
		for range 40 {
			if mid := math.Sqrt(low * at); keeps(order, mid) {
				at = mid
			} else {
				low = mid
			}
		}
		// As it is printed it has to keep it too.
		step, _ := strconv.ParseFloat("1e"+strconv.Itoa(int(math.Floor(math.Log10(at)))-1), 64)
		at = math.Ceil(at/step-1e-9) * step
		if !keeps(order, at) {
			at += step
		}
		out = append(out, HighPass{order, words.Round(at, 2)})
	}
	return out
}

// topOf is up to where a level is within 6 dB of its peak.
func topOf(hz, db []float64) float64 {
	top := 0.0
	for i, most := 0, peak(db); i < len(db); i++ {
		if db[i] >= most-6 {
			top = hz[i]
		}
	}
	return top
}

// Passes says where x passes a limit at so many dB re full scale; "" where it does not.
func Passes(hz, x []float64, atDB, limit float64) string {
	e, any := excess(hz, x, biquad.FromDB(atDB), limit)
	if !any {
		return ""
	}
	return e.String()
}
