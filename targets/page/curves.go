package page

import (
	"maps"
	"math"
	"math/cmplx"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/parallel"
	"bandwright/compiler/verify"
)

// Density of the frequencies that curves are drawn at: three units of the drawing apart. What is narrow, and
// every place that a figure names, is drawn as well.
const (
	perOctave = 24
	narrowQ   = 8
	stepUp    = 1e-5 // relative, to the companion by which delays are differenced
)

// mostWhole is up to how many combinations of settings a board is solved in each: its contacts load what other ways
// hang on as well, and what they add one by one is some 1e-4 dB from all at once.
const mostWhole = 24

// leastDB is how a level of nothing is drawn.
const leastDB = -300.0

// The quantities that are drawn of each way.
const (
	magnitudeQ = iota // dB
	phaseQ            // degrees
	delayQ            // s
	quantities
)

// quantityNames are those of the script.
var quantityNames = [quantities]string{"magnitude", "phase", "delay"}

// curves are all responses at the page's frequencies.
type curves struct {
	hz     []float64
	ways   []string
	delayS []float64 // pure delay of each way (s)
	// ideal is the prototype of each way.
	ideal [][quantities]series
	made  []made
	// before are realisations of an accepted result.
	before []before
}

// made is one realisation: its departure from the prototype, after the common delay.
type made struct {
	verify.Realisation
	board bool
	short string // at the end of a line
	toHz  float64
	ways  [][quantities]series
}

// curvesOf evaluates the prototype and what a build has of realisations that the spec asks for, at
// further frequencies (Hz) as well.
func curvesOf(b *compiler.Build, further []float64) *curves {
	c := &curves{}
	s := b.Subject()
	ideal := verify.NewIdeal(b.Prototype)
	for _, d := range b.Digital {
		if d.Asked {
			c.made = append(c.made, made{Realisation: b.Realisation(d), short: shortName(d), toHz: d.RateHz / 2 / (1 + 2*stepUp)})
		}
	}
	if b.Board != nil {
		c.made = append(c.made, made{Realisation: b.Board, board: true, short: "board", toHz: math.Inf(1)})
	}
	c.frequencies(b, ideal, further)
	axes := make([][][]biquad.Axis, len(b.Prototype.Ways))
	for k, w := range b.Prototype.Ways {
		c.ways = append(c.ways, w.Name)
		c.delayS = append(c.delayS, b.Prototype.Path(k).DelayS)
		for _, slot := range b.Prototype.Path(k).Slots {
			axes[k] = append(axes[k], slot.By)
		}
		for _, d := range b.Digital {
			for _, slot := range d.System.Path(k).Slots {
				axes[k] = append(axes[k], slot.By)
			}
		}
		axes[k] = closed(axes[k])
	}
	each := make([][][]biquad.Axis, len(axes)) // of the board
	for k := range axes {
		each[k] = axes[k]
		if all := s.AllAxes; b.Board != nil && len(all) > 0 && biquad.Count(all) <= mostWhole {
			each[k] = closed([][]biquad.Axis{all})
		}
	}
	grid := append(slices.Clone(c.hz), companions(c.hz)...)
	settings := len(s.Settings)
	want := responsesOf(ideal, grid, axes, settings)
	for k, more := range responsesOf(ideal, grid, each, settings) {
		maps.Copy(want[k], more)
	}
	c.ideal = make([][quantities]series, len(axes))
	for k := range axes {
		c.ideal[k] = decomposed(axes[k], settings, func(x biquad.Combination) [quantities][]float64 {
			return c.absolute(want[k][string(x)])
		})
	}
	parallel.Each(len(c.made), func(i int) {
		m, axes := &c.made[i], axes
		if m.board {
			axes = each
		}
		within, _ := slices.BinarySearchFunc(c.hz, m.toHz, func(a, b float64) int {
			if a <= b {
				return -1
			}
			return 1
		})
		hz := append(slices.Clone(c.hz[:within]), companions(c.hz[:within])...)
		got := responsesOf(m.Realisation, hz, axes, settings)
		m.ways = make([][quantities]series, len(axes))
		for k := range axes {
			m.ways[k] = decomposed(axes[k], settings, func(x biquad.Combination) [quantities][]float64 {
				return c.departure(got[k][string(x)], want[k][string(x)], m.CommonDelayS())
			})
		}
	})
	return c
}

// shortName is a digital realisation at the end of a line.
func shortName(d compiler.Digital) string { return d.Name()[len("digital "):] }

func companions(hz []float64) []float64 {
	out := make([]float64, len(hz))
	for i, f := range hz {
		out[i] = f * (1 + stepUp)
	}
	return out
}

// frequencies are those of the page: an octave beyond the band on both sides, what is
// narrow, and the places of all figures.
func (c *curves) frequencies(b *compiler.Build, ideal *verify.Ideal, further []float64) {
	lo, hi := b.Promises.LowHz/2, b.Promises.HighHz*2
	hz := append(biquad.Octaves(lo, hi, perOctave), b.Promises.LowHz, b.Promises.HighHz)
	add := func(f float64) {
		if f > lo && f < hi {
			hz = append(hz, f)
		}
	}
	for k := range b.Prototype.Ways {
		for _, l := range ideal.Landmarks(k) {
			if l.Q >= narrowQ {
				for _, d := range [...]float64{-0.02, -0.006, -0.002, 0, 0.002, 0.006, 0.02} {
					add(l.Hz * (1 + d))
				}
			}
		}
	}
	for _, f := range further {
		add(f)
	}
	for _, f := range b.Figures {
		for _, x := range []verify.Extreme{f.Magnitude, f.Phase, f.GroupDelay} {
			add(x.AtHz)
		}
	}
	c.hz = biquad.Ascending(hz, 1e-9)
}

// responsesOf are the responses of all ways in each combination that their curves are put together from.
func responsesOf(r verify.Realisation, hz []float64, axes [][][]biquad.Axis, settings int) []map[string][]complex128 {
	on := r.On(hz)
	out := make([]map[string][]complex128, len(axes))
	byCombination := map[string][]int{}
	var order []string
	for k := range axes {
		out[k] = map[string][]complex128{}
		eachOf(axes[k], settings, func(_ int, c biquad.Combination) {
			key := string(c)
			if byCombination[key] == nil {
				order = append(order, key)
			}
			if ways := byCombination[key]; len(ways) == 0 || ways[len(ways)-1] != k {
				byCombination[key] = append(ways, k)
			}
		})
	}
	for _, key := range order { // a board is solved for all ways at once
		for _, k := range byCombination[key] {
			h := make([]complex128, len(hz))
			on.Response(h, k, biquad.Combination(key))
			out[k][key] = h
		}
	}
	return out
}

// absolute are the quantities of a response.
func (c *curves) absolute(h []complex128) (out [quantities][]float64) {
	n := len(c.hz)
	for q := range out {
		out[q] = make([]float64, n)
	}
	for i, f := range c.hz {
		out[magnitudeQ][i] = math.Max(leastDB, biquad.DB(h[i]))
		out[phaseQ][i] = cmplx.Phase(h[i]) * 180 / math.Pi
		out[delayQ][i] = -turn(h[n+i], h[i]) / (2 * math.Pi * f * stepUp)
	}
	return out
}

// departure are those of a response over another, after the common delay (s); NaN where there is none.
func (c *curves) departure(h, want []complex128, delayS float64) (out [quantities][]float64) {
	n, m := len(c.hz), len(h)/2
	for q := range out {
		out[q] = slices.Repeat([]float64{math.NaN()}, n)
	}
	for i, f := range c.hz[:m] {
		if h[i] == 0 || want[i] == 0 {
			out[magnitudeQ][i], out[phaseQ][i], out[delayQ][i] = 0, 0, 0
			continue
		}
		q, next := h[i]/want[i], h[m+i]/want[n+i]
		out[magnitudeQ][i] = biquad.DB(q)
		out[phaseQ][i] = turn(q, biquad.Delay(f, delayS)) * 180 / math.Pi
		out[delayQ][i] = -turn(next, q)/(2*math.Pi*f*stepUp) - delayS
	}
	return out
}

// turn is the angle from b to a (rad).
func turn(a, b complex128) float64 { return cmplx.Phase(a * cmplx.Conj(b)) }
