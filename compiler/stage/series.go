package stage

import (
	"math"
	"slices"
	"strconv"
)

// e24 is one decade of IEC 60063, E24: it rounds to two digits by a rule of its
// own between 27 and 47 and at 82. E12, E6 and E3 are every second, fourth and
// eighth of its values.
var e24 = []int{10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91}

// e192 is one decade of IEC 60063, E192: 100·10^(i/192) rounded, but for 920.
// E96 and E48 are every second and fourth of its values.
var e192 = []int{
	100, 101, 102, 104, 105, 106, 107, 109, 110, 111, 113, 114, 115, 117, 118, 120,
	121, 123, 124, 126, 127, 129, 130, 132, 133, 135, 137, 138, 140, 142, 143, 145,
	147, 149, 150, 152, 154, 156, 158, 160, 162, 164, 165, 167, 169, 172, 174, 176,
	178, 180, 182, 184, 187, 189, 191, 193, 196, 198, 200, 203, 205, 208, 210, 213,
	215, 218, 221, 223, 226, 229, 232, 234, 237, 240, 243, 246, 249, 252, 255, 258,
	261, 264, 267, 271, 274, 277, 280, 284, 287, 291, 294, 298, 301, 305, 309, 312,
	316, 320, 324, 328, 332, 336, 340, 344, 348, 352, 357, 361, 365, 370, 374, 379,
	383, 388, 392, 397, 402, 407, 412, 417, 422, 427, 432, 437, 442, 448, 453, 459,
	464, 470, 475, 481, 487, 493, 499, 505, 511, 517, 523, 530, 536, 542, 549, 556,
	562, 569, 576, 583, 590, 597, 604, 612, 619, 626, 634, 642, 649, 657, 665, 673,
	681, 690, 698, 706, 715, 723, 732, 741, 750, 759, 768, 777, 787, 796, 806, 816,
	825, 835, 845, 856, 866, 876, 887, 898, 909, 920, 931, 942, 953, 965, 976, 988,
}

// series says how each series of IEC 60063 is taken from the two tables.
var series = []struct {
	name  string
	table []int
	step  int
}{
	{"E3", e24, 8}, {"E6", e24, 4}, {"E12", e24, 2}, {"E24", e24, 1},
	{"E48", e192, 4}, {"E96", e192, 2}, {"E192", e192, 1},
}

// Decade lists the values of a series (E3 to E192) in one decade, as whole
// numbers of two digits up to E24 and of three digits above; nil for another
// name. Source: IEC 60063.
func Decade(name string) []int {
	for _, s := range series {
		if s.name != name {
			continue
		}
		var out []int
		for i := 0; i < len(s.table); i += s.step {
			out = append(out, s.table[i])
		}
		return out
	}
	return nil
}

// The powers of ten between which values exist: far outside of what is sold.
const firstDecade, lastDecade = -15, 12

// edge is the relative difference by which a value may miss the end of a range
// that was meant to include it: rounding of a scaled number.
const edge = 1e-9

// Values lists the values of the union of series (IEC 60063), or of a list where
// no series are named, from a smallest to a largest value inclusive: ascending,
// each once. Units are those of the arguments, ohm or farad. Values of a series
// are the decimals that read back shortest, 4.7e-9 and not 4.7·1e-9.
func Values(names []string, list []float64, from, to float64) []float64 {
	inside := func(v float64) bool { return v >= from*(1-edge) && v <= to*(1+edge) }
	var out []float64
	for _, name := range names {
		for _, m := range Decade(name) {
			for ten := firstDecade; ten <= lastDecade; ten++ {
				v, err := strconv.ParseFloat(strconv.Itoa(m)+"e"+strconv.Itoa(ten), 64)
				if err == nil && inside(v) {
					out = append(out, v)
				}
			}
		}
	}
	if len(names) == 0 {
		for _, v := range list {
			if v > 0 && !math.IsInf(v, 0) && inside(v) {
				out = append(out, v)
			}
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}
