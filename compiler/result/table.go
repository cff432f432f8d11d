package result

import (
	"maps"
	"math"
	"math/cmplx"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/verify"
)

// Table is the response of every way: of the float64 reference at one rate, in
// every combination of the settings that the way depends on where there are 16
// or fewer, otherwise in the default and with each choice alone. It is there to be
// read: responses are compared by the coefficients.
type Table struct {
	RateHz float64    `json:"rate_hz"`
	Hz     []float64  `json:"hz"` // a third of an octave apart, from the lower end of the band on
	Rows   []TableRow `json:"rows"`
}

// TableRow is one way in one combination. The phase is without the common
// delay; below -120 dB both read as nothing: -120 and 0.
type TableRow struct {
	Way     string            `json:"way"`
	Setting map[string]string `json:"setting"`
	DB      []float64         `json:"db"`  // to 0.001
	Deg     []float64         `json:"deg"` // to 0.01
}

const (
	tablePerOctave    = 3
	tableCombinations = 16
	tableFloorDB      = -120
)

// digitalTable evaluates a realisation over the band (Hz).
func (a *Accepted) digitalTable(d *AcceptedDigital, band [2]float64) Table {
	hi := math.Min(band[1], verify.TopOfRate*d.RateHz)
	t := Table{RateHz: d.RateHz, Rows: []TableRow{}}
	for _, f := range biquad.Octaves(band[0], hi, tablePerOctave) {
		t.Hz = append(t.Hz, digits(f, 5))
	}
	for k := range d.Ways {
		axes := d.axes(k, a.Settings)
		combos := singly(axes)
		if count(axes, tableCombinations) <= tableCombinations {
			combos = Combinations(axes, tableCombinations)
		}
		for _, c := range combos {
			t.Rows = append(t.Rows, tableRow(d.Ways[k].Way, c, d.Response(k, c, t.Hz)))
		}
	}
	return t
}

// tableRow writes a response as a row.
func tableRow(way string, setting map[string]string, h []complex128) TableRow {
	row := TableRow{Way: way, Setting: setting}
	for _, v := range h {
		db, deg := math.Max(tableFloorDB, biquad.DB(v)), math.Atan2(imag(v), real(v))*180/math.Pi
		if db == tableFloorDB {
			deg = 0
		}
		row.DB, row.Deg = append(row.DB, step(db, 1000)), append(row.Deg, step(deg, 100))
	}
	return row
}

// axes are the settings that way k depends on.
func (d *AcceptedDigital) axes(k int, settings []Setting) []Setting {
	used := map[string]bool{}
	for _, c := range []AcceptedChain{d.Common, d.Ways[k]} {
		for _, s := range c.Coefficients {
			for name := range s.When {
				used[name] = true
			}
		}
	}
	var out []Setting
	for _, s := range settings {
		if used[s.Name] {
			out = append(out, s)
		}
	}
	return out
}

// Combinations are all choices of the axes, by name, where there are no more
// than most, else the default and all choices of every two of the axes with the
// default of the others. The default comes first.
func Combinations(axes []Setting, most int) []map[string]string {
	if count(axes, most) > most {
		return pairwise(axes)
	}
	out := []map[string]string{{}}
	for _, s := range slices.Backward(axes) {
		before := out
		out = nil
		for _, c := range s.Choices {
			for _, m := range before {
				out = append(out, but(m, s.Name, c))
			}
		}
	}
	return out
}

// count is how many combinations axes have, as far as that is up to most.
func count(axes []Setting, most int) int {
	n := 1
	for _, s := range axes {
		n = min(n*len(s.Choices), most+1)
	}
	return n
}

// pairwise are the default of the axes, each choice alone, and every two together.
func pairwise(axes []Setting) []map[string]string {
	out := singly(axes)
	base := out[0]
	for i, s := range axes {
		for _, x := range s.Choices[1:] {
			for _, t := range axes[i+1:] {
				for _, y := range t.Choices[1:] {
					out = append(out, but(but(base, s.Name, x), t.Name, y))
				}
			}
		}
	}
	return out
}

// singly are the default of the axes and each choice alone.
func singly(axes []Setting) []map[string]string {
	base := map[string]string{}
	for _, s := range axes {
		base[s.Name] = s.Choices[0]
	}
	out := []map[string]string{base}
	for _, s := range axes {
		for _, c := range s.Choices[1:] {
			out = append(out, but(base, s.Name, c))
		}
	}
	return out
}

// but is a combination with another choice of one setting.
func but(m map[string]string, name, choice string) map[string]string {
	out := maps.Clone(m)
	out[name] = choice
	return out
}

// Response is way k at hz (Hz), common part, polarity and whole delays
// included, the common delay taken out, computed from the words alone.
func (d *AcceptedDigital) Response(k int, choices map[string]string, hz []float64) []complex128 {
	c := biquad.Cascade[biquad.Digital]{Gain: 1}
	for _, part := range []*AcceptedChain{&d.Common, &d.Ways[k]} {
		c.Gain *= part.Gain * float64(part.Polarity)
		c.DelayS += float64(part.DelaySamples) / d.RateHz
		for _, s := range part.Coefficients {
			if s.Applies(choices) {
				form, _ := biquad.FormNamed(s.Form)
				c.Slots = append(c.Slots, biquad.Fixed(biquad.Digital{Form: form, B: [3]float64(s.B), A: [3]float64(s.A)}))
			}
		}
	}
	out := make([]complex128, len(hz))
	biquad.DigitalAt(out, c, nil, d.RateHz, hz)
	for i, f := range hz {
		out[i] *= cmplx.Conj(biquad.Delay(f, d.CommonDelayS))
	}
	return out
}

// Applies reports whether the section is there in a combination by name.
func (s AcceptedSection) Applies(choices map[string]string) bool { return holds(s.When, choices) }

func holds(when map[string][]string, choices map[string]string) bool {
	for setting, allowed := range when {
		if !slices.Contains(allowed, choices[setting]) {
			return false
		}
	}
	return true
}

// Way is the place of a way by name, -1 where the realisation has none.
func (d *AcceptedDigital) Way(name string) int {
	return slices.IndexFunc(d.Ways, func(c AcceptedChain) bool { return c.Way == name })
}
