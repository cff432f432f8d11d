package discretize

import (
	"math"
	"slices"
)

// systemModel is a system of ways under fit, with the delay that they share.
type systemModel struct {
	ways []*wayModel
	tau  float64 // samples; the last parameter
	off  []int   // first parameter of each way
	n    int
}

func systemModelOf(ways []*wayModel, tau float64) *systemModel {
	c := &systemModel{ways: ways, tau: tau}
	for _, w := range ways {
		c.off = append(c.off, c.n)
		c.n += w.n
	}
	c.off = append(c.off, c.n)
	c.n++
	return c
}

func (c *systemModel) size() int { return c.n }

func (c *systemModel) moved(x []float64) model {
	scale := 1.0
	for i, w := range c.ways {
		for _, ix := range w.index {
			for _, k := range ix[1] {
				if k >= 0 {
					scale = min(scale, longestStep/max(longestStep, math.Abs(x[c.off[i]+k])))
				}
			}
		}
	}
	m := &systemModel{tau: c.tau + scale*x[c.n-1], off: c.off, n: c.n}
	for i, w := range c.ways {
		m.ways = append(m.ways, w.moved(x[c.off[i]:], scale))
	}
	return m
}

// minus is the step that moves b to c, of the same structure.
func (c *systemModel) minus(b *systemModel) []float64 {
	x := make([]float64, c.n)
	for i, w := range c.ways {
		o := c.off[i]
		x[o] = w.gainDB - b.ways[i].gainDB
		for j, ix := range w.index {
			for k := range ix[0] {
				if ix[0][k] >= 0 {
					x[o+ix[0][k]] = w.ps[j].n[k] - b.ways[i].ps[j].n[k]
				}
				if ix[1][k] >= 0 {
					x[o+ix[1][k]] = math.Log(w.ps[j].d[k] / b.ways[i].ps[j].d[k])
				}
			}
		}
	}
	x[c.n-1] = c.tau - b.tau
	return x
}

// lengthened are starts for a fit with one more section in each of some ways:
// the model with poles and zeros that cancel, and, where every way has one
// more, with a section that only delays, by which τ grows.
func (c *systemModel) lengthened(ways []int) []*systemModel {
	var out []*systemModel
	add := func(p planar, tau float64) {
		vs := slices.Clone(c.ways)
		for _, i := range ways {
			// The first section's gain is one, as that of the others.
			v := *vs[i]
			g, negative := v.gainDB, v.negative
			v.gainDB, v.negative = 0, false
			v = *wayModelOf(append(v.planars(), p), 1)
			v.gainDB, v.negative = v.gainDB+g, v.negative != negative
			vs[i] = &v
		}
		out = append(out, systemModelOf(vs, c.tau+tau))
	}
	for _, d := range cancelling {
		add(planar{n: d, d: d}, 0)
	}
	if len(ways) == len(c.ways) {
		for k, n := range delaying {
			add(planar{n: n, d: cancelling[0]}, float64(k+1))
		}
	}
	return out
}

// Where the sections of lengthened lie: double roots at z = 0, -0.6 and 1/3;
// and, above a double pole at z = 0, the numerators of one and of two samples.
var (
	cancelling = [...][3]float64{{1, 2, 1}, {16, 8, 1}, {0.25, 1, 1}}
	delaying   = [...][3]float64{{1, 0, -1}, {1, -2, 1}}
)
