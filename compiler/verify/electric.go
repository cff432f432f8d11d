package verify

import (
	"math"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/parallel"
)

// Circuit is a realisation that has noise, offsets and limits in volts.
type Circuit interface {
	// Electric measures a way in one combination, between two frequencies (Hz) where
	// it is about signals. It may be called from several goroutines.
	Electric(way int, c Combination, lowHz, highHz float64) (Electric, error)
	// InputV is the level (V RMS) that the input is made for.
	InputV() float64
}

// Electric is what a way of a circuit does beside its response; see Figures.
type Electric struct {
	NoiseV, NoiseAV, OffsetV float64
	ClipV, ClipHz            float64 // ClipV is 0 where nothing clips
}

// zeroDBu is 0 dBu in V: 1 mW in 600 ohm.
var zeroDBu = math.Sqrt(0.6)

// DBu is a voltage (V RMS, > 0) in dBu.
func DBu(v float64) float64 { return biquad.GainDB(v / zeroDBu) }

// electric judges noise and headroom of a circuit, way by way.
func (j *judge) electric(circuit Circuit) {
	type task struct {
		way     int
		c       Combination
		setting []Choice
		Electric
		err error
	}
	var all []task
	for way, axes := range j.s.WayAxes {
		seen := map[string]bool{}
		add := func(c Combination) {
			own := make(Combination, len(c))
			for _, ax := range axes {
				own[ax.Setting] = c[ax.Setting]
			}
			if !seen[string(own)] {
				seen[string(own)] = true
				all = append(all, task{way: way, c: own, setting: j.s.choices(axes, own)})
			}
		}
		if j.s.Only != nil {
			for _, c := range j.s.Only {
				add(c)
			}
		} else {
			biquad.Each(axes, len(j.s.Settings), add)
		}
	}
	parallel.Each(len(all), func(i int) {
		t := &all[i]
		t.Electric, t.err = circuit.Electric(t.way, t.c, j.p.LowHz, j.p.HighHz)
	})
	for way := range j.s.Ways {
		f := &j.figures[way]
		noise := Finding{}
		room := Finding{}
		worse := func(e *Extreme, v, hz float64, t *task) {
			if !e.Known || v > e.Value {
				*e = Extreme{Known: true, Value: v, AtHz: hz, Setting: slices.Clone(t.setting)}
			}
		}
		var clip Extreme // reciprocal
		for i := range all {
			t := &all[i]
			if t.way != way || t.err != nil {
				continue // equations without a solution break the magnitude's promise
			}
			worse(&f.NoiseV, t.NoiseV, 0, t)
			worse(&f.NoiseAV, t.NoiseAV, 0, t)
			worse(&f.OffsetV, t.OffsetV, 0, t)
			noise.Of++
			if t.NoiseV > 0 && DBu(t.NoiseV) > j.p.BoardNoiseDBu.Value {
				noise.Broken++
			}
			if t.ClipV > 0 {
				worse(&clip, 1/t.ClipV, t.ClipHz, t)
				room.Of++
				if j.level(circuit, t.ClipV) > 0-j.p.BoardHeadroomDB.Value+sameLevel {
					room.Broken++
				}
			}
		}
		if clip.Known {
			f.ClipV = clip
			f.ClipV.Value = 1 / clip.Value
		}
		if j.p.BoardNoiseDBu.On && f.NoiseV.Known && f.NoiseV.Value > 0 {
			g := j.finding("board-noise", "dBu", f.Way, f.NoiseV)
			g.Limit, g.Worst = j.p.BoardNoiseDBu.Value, DBu(f.NoiseV.Value)
			g.Broken, g.Of, g.Kept = noise.Broken, noise.Of, noise.Broken == 0
			j.add(g)
		}
		if j.p.BoardHeadroomDB.On && f.ClipV.Known {
			g := j.finding("board-headroom", "dB", f.Way, f.ClipV)
			g.Limit, g.Worst = 0-j.p.BoardHeadroomDB.Value, j.level(circuit, f.ClipV.Value)
			g.Broken, g.Of, g.Kept = room.Broken, room.Of, room.Broken == 0
			j.add(g)
		}
	}
}

// level is the level (dB re clipping) of the op-amp nearest to it for a sine of the
// input's level.
func (j *judge) level(c Circuit, clipV float64) float64 { return biquad.GainDB(c.InputV() / clipV) }
