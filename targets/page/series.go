package page

import (
	"cmp"
	"encoding/base64"
	"encoding/binary"
	"math"
	"slices"

	"bandwright/biquad"
)

// series is a quantity over the page's frequencies in every combination of settings: what it is
// in the default one, and what other choices add. Decibels, angles and delays of filters in series
// add up, so that a few series stand for all combinations.
type series struct {
	Base []float64
	By   []addition
}

// addition is what the choices of some settings add: one series for every combination of their
// choices, in the order of biquad.Slot.Pick, nil where that adds nothing.
type addition struct {
	Axes []biquad.Axis
	Alt  [][]float64
}

// closed are the sets of settings that positions hang on, each once and with what any two have in common,
// small ones first. Then what belongs to each set alone is found by taking away what belongs to its parts.
func closed(sets [][]biquad.Axis) [][]biquad.Axis {
	var out [][]biquad.Axis
	add := func(s []biquad.Axis) {
		if len(s) > 0 && !slices.ContainsFunc(out, func(o []biquad.Axis) bool { return slices.Equal(o, s) }) {
			out = append(out, s)
		}
	}
	for _, s := range sets {
		s = slices.Clone(s)
		slices.SortFunc(s, func(a, b biquad.Axis) int { return cmp.Compare(a.Setting, b.Setting) })
		add(s)
	}
	for i := 0; i < len(out); i++ {
		for j := range i {
			var both []biquad.Axis
			for _, a := range out[i] {
				if slices.Contains(out[j], a) {
					both = append(both, a)
				}
			}
			add(both)
		}
	}
	slices.SortStableFunc(out, func(a, b []biquad.Axis) int { return cmp.Compare(len(a), len(b)) })
	return out
}

// eachOf calls f with the default combination (set -1) and every combination of the settings of each set, the
// others at their default.
func eachOf(sets [][]biquad.Axis, settings int, f func(set int, c biquad.Combination)) {
	f(-1, make(biquad.Combination, settings))
	for i, axes := range sets {
		biquad.Each(axes, settings, func(c biquad.Combination) { f(i, c) })
	}
}

// index is the place of a combination among those of some settings, in mixed radix, the last one fastest.
func index(axes []biquad.Axis, c biquad.Combination) int {
	i := 0
	for _, a := range axes {
		i = i*a.Choices + int(c[a.Setting])
	}
	return i
}

// decomposed are the quantities of a way, taken apart by what belongs to which settings.
func decomposed(sets [][]biquad.Axis, settings int, of func(biquad.Combination) [quantities][]float64) (out [quantities]series) {
	base := of(make(biquad.Combination, settings))
	for q := range out {
		out[q].Base = base[q]
		for _, axes := range sets {
			out[q].By = append(out[q].By, addition{axes, make([][]float64, biquad.Count(axes))})
		}
	}
	eachOf(sets, settings, func(set int, c biquad.Combination) {
		if set < 0 || index(sets[set], c) == 0 {
			return
		}
		whole := of(c)
		for q := range out {
			known := out[q].at(c) // by the parts of this set that are known already
			for i, x := range whole[q] {
				x -= known[i]
				if q == phaseQ {
					x -= 360 * math.Round(x/360)
				}
				whole[q][i] = x
			}
			if slices.ContainsFunc(whole[q], func(x float64) bool { return math.Abs(x) > 1e-9 }) {
				out[q].By[set].Alt[index(sets[set], c)] = whole[q]
			}
		}
	})
	return out
}

// at is a series in one combination.
func (s series) at(c biquad.Combination) []float64 {
	out := slices.Clone(s.Base)
	for _, a := range s.By {
		for i, x := range a.Alt[index(a.Axes, c)] {
			out[i] += x
		}
	}
	return out
}

// packed is a series for the script.
type packed struct {
	Base string        `json:"base"`
	By   []packedShare `json:"by,omitempty"`
}

type packedShare struct {
	Settings []int    `json:"settings"`
	Alt      []string `json:"alt"` // "" for what adds nothing
}

// pack writes a series as words of 32 bits, little-endian, in base64.
func (s series) pack() packed {
	out := packed{Base: words32(s.Base)}
	for _, a := range s.By {
		if !slices.ContainsFunc(a.Alt, func(x []float64) bool { return x != nil }) {
			continue
		}
		share := packedShare{}
		for _, x := range a.Axes {
			share.Settings = append(share.Settings, x.Setting)
		}
		for _, x := range a.Alt {
			share.Alt = append(share.Alt, words32(x))
		}
		out.By = append(out.By, share)
	}
	return out
}

// words32 are numbers as words of 32 bits in base64.
func words32(x []float64) string {
	var bytes []byte
	for _, v := range x {
		bits := math.Float32bits(float32(v))
		if math.IsNaN(v) {
			bits = 0x7fc00000 // the same on every processor
		}
		bytes = binary.LittleEndian.AppendUint32(bytes, bits)
	}
	return base64.StdEncoding.EncodeToString(bytes)
}

// words64 are numbers as words of 64 bits, little-endian, in base64.
func words64(x []float64) string {
	var bytes []byte
	for _, v := range x {
		bytes = binary.LittleEndian.AppendUint64(bytes, math.Float64bits(v))
	}
	return base64.StdEncoding.EncodeToString(bytes)
}
