package compare

import (
	"fmt"
	"math"
	"slices"

	"bandwright/compiler/result"
	"bandwright/compiler/words"
)

const (
	noiseStepDB    = 1.0 // noise that changed by less is told by nobody's ear
	headroomStepDB = 0.1
	quietDBFS      = -180.0 // below every converter, by far
)

// cost is what one way needs or leaves: sections, noise, headroom, latency.
type cost struct {
	way, what string
	grew      float64
	change    Change
}

// costs adds what the ways need and leave, the greatest change of each.
func (c *comparison) costs() {
	var found []cost
	note := func(way, what string, grew float64, beyond bool, text string) {
		x := cost{way, what, math.Abs(grew), Change{Kind: OfFigure, Way: way, Beyond: beyond, Sentence: way + ": " + text}}
		i := slices.IndexFunc(found, func(y cost) bool { return y.way == way && y.what == what })
		switch {
		case i < 0:
			found = append(found, x)
		case x.grew > found[i].grew:
			found[i] = x
		}
	}
	went := func(what, from, to string) string { return fmt.Sprintf("the %s went from %s to %s", what, from, to) }
	c.pairs(func(o, n *result.AcceptedDigital) {
		name := " at " + words.Rate(n.RateHz) + " " + n.Format
		for _, w := range n.Ways {
			k := o.Way(w.Way)
			if k < 0 {
				continue
			}
			was := o.Ways[k]
			if was.Biquads != w.Biquads {
				note(w.Way, "sections", float64(w.Biquads-was.Biquads), false, fmt.Sprintf("%s instead of %d%s", words.Count(w.Biquads, "section", "sections"), was.Biquads, name))
			}
			if d := w.NoiseDBFS - was.NoiseDBFS; math.Abs(d) >= noiseStepDB && math.Max(was.NoiseDBFS, w.NoiseDBFS) > quietDBFS {
				note(w.Way, "noise", d, false, went("noise", words.Level(was.NoiseDBFS, "dBFS"), words.Level(w.NoiseDBFS, "dBFS"))+name)
			}
			if d := w.HeadroomDB - was.HeadroomDB; math.Abs(d) >= headroomStepDB {
				note(w.Way, "headroom", d, false, went("headroom", words.Level(was.HeadroomDB, "dB"), words.Level(w.HeadroomDB, "dB"))+name)
			}
			// What the common delay moved is said already; a latency is never
			// less than nothing.
			d := w.LatencyS - was.LatencyS
			said := math.Max(0, n.CommonDelayS) - math.Max(0, o.CommonDelayS)
			if math.Abs(d) > c.tol.DelayS && math.Abs(d-said) > c.tol.DelayS {
				note(w.Way, "latency", d, true, went("latency", words.Seconds(was.LatencyS), words.Seconds(w.LatencyS))+name)
			}
		}
	})
	for _, x := range found {
		c.add(x.change)
	}
}
