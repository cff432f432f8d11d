package page

import (
	"fmt"
	"html/template"
	"math"
	"strings"

	"bandwright/biquad"
	formats "bandwright/biquad/number"
	"bandwright/compiler"
	"bandwright/compiler/words"
)

// mostTogether is how many combinations of settings are looked at one by one; of more, the greatest of each position
// are taken together, which no combination may reach.
const mostTogether = 64

// inner is a place on a way's path through the digital filters, and what a full-scale sine comes to there in the worst
// settings, re full scale.
type inner struct {
	chain, serves    string
	number           int // of the position; 0 of a gain
	peakDB, peakAtHz float64
}

// along are the places on a way's path in a realisation, in the order that kernels run them: the input's gain, the common
// positions, the way's gain and its positions.
func (p *Paper) along(d compiler.Digital, way int) []inner {
	var out []inner
	var slots []biquad.Slot[biquad.Digital]
	arranged := d.System
	if d.Laid == nil {
		arranged = formats.Arranged(arranged)
	}
	w := arranged.Ways[way]
	add := func(chain string, gain float64, list []biquad.Slot[biquad.Digital]) {
		out = append(out, inner{chain: chain, serves: "gain"})
		slots = append(slots, biquad.Slot[biquad.Digital]{Alt: []biquad.Digital{{B: [3]float64{gain}, A: [3]float64{1}}}})
		for i, s := range list {
			out = append(out, inner{chain: chain, number: i + 1, serves: strings.Join(words.Once(s.From), ", ")})
			slots = append(slots, s)
		}
	}
	add("common", d.InputGain*arranged.Common.Gain, arranged.Common.Slots)
	add(w.Name, w.Gain, w.Slots)
	for i := range out {
		out[i].peakDB = math.Inf(-1)
	}
	hz, axes := p.lookedAt(slots, d.RateHz), biquad.Axes(biquad.Cascade[biquad.Digital]{Gain: 1, Slots: slots})
	each := make([][][]float64, len(slots)) // dB of every alternative
	h := make([]complex128, len(hz))
	for i, s := range slots {
		for _, x := range s.Alt {
			biquad.DigitalAt(h, biquad.Cascade[biquad.Digital]{Gain: 1, Slots: []biquad.Slot[biquad.Digital]{{Alt: []biquad.Digital{x}}}}, nil, d.RateHz, hz)
			db := make([]float64, len(h))
			for k, v := range h {
				db[k] = math.Max(leastDB, biquad.DB(v))
			}
			each[i] = append(each[i], db)
		}
	}
	sum := make([]float64, len(hz))
	walk := func(of func(i, k int) float64) {
		clear(sum)
		for i := range slots {
			most := 0
			for k := range sum {
				if sum[k] += of(i, k); sum[k] > sum[most] {
					most = k
				}
			}
			if at, v := vertex(hz, sum, most); v > out[i].peakDB {
				out[i].peakDB, out[i].peakAtHz = v, at
			}
		}
	}
	if biquad.Count(axes) > mostTogether {
		walk(func(i, k int) float64 {
			most := each[i][0][k]
			for _, x := range each[i] {
				most = math.Max(most, x[k])
			}
			return most
		})
		return out
	}
	biquad.Each(axes, len(p.Settings), func(c biquad.Combination) {
		pick := make([]int, len(slots))
		for i := range slots {
			pick[i] = slots[i].Index(c)
		}
		walk(func(i, k int) float64 { return each[i][pick[i]][k] })
	})
	return out
}

// lookedAt are the frequencies that peaks are sought at: from 1 Hz to half the rate, and those of the roots.
func (p *Paper) lookedAt(slots []biquad.Slot[biquad.Digital], rateHz float64) []float64 {
	hz := biquad.Octaves(1, rateHz/2, perOctave)
	for _, s := range slots {
		for _, x := range s.Alt {
			for _, r := range rootsOf(x, rateHz) {
				if r.hz > 1 && r.hz < rateHz/2 {
					hz = append(hz, r.hz)
				}
			}
		}
	}
	return biquad.Ascending(hz, 1e-6)
}

// vertex is the top of the parabola over log frequency through the greatest value and its neighbours.
func vertex(hz, db []float64, most int) (at, v float64) {
	at, v = hz[most], db[most]
	if most == 0 || most == len(hz)-1 {
		return at, v
	}
	a, b := math.Log2(hz[most-1]/at), math.Log2(hz[most+1]/at)
	fa, fb := (db[most-1]-v)/a, (db[most+1]-v)/b
	bend := (fb - fa) / (b - a)
	slope := fa - bend*a
	if !(bend < 0) {
		return at, v
	}
	x := math.Max(a, math.Min(b, -slope/(2*bend)))
	return at * math.Exp2(x), v + slope*x + bend*x*x
}

// loudest is the place inside of the digital filters where a full-scale sine is greatest; ok is false without such.
func (p *Paper) loudest() (x inner, way string, d compiler.Digital, ok bool) {
	asked := p.asked()
	if asked == nil {
		return x, "", d, false
	}
	if p.inner == nil {
		for k := range p.curves.ways {
			p.inner = append(p.inner, p.along(asked[0], k))
		}
	}
	for k, name := range p.curves.ways {
		for _, y := range p.inner[k] {
			if !ok || y.peakDB > x.peakDB {
				x, way, ok = y, name, true
			}
		}
	}
	return x, way, asked[0], ok
}

// name is a place in words: "mid 3: crossovers[0] high-pass", "common gain".
func (x inner) name() string {
	if x.number == 0 {
		return x.chain + " gain"
	}
	return fmt.Sprintf("%s %d: %s", x.chain, x.number, x.serves)
}

// insideSays is the digital half of the chapter's sentence.
func (p *Paper) insideSays() string {
	x, way, d, ok := p.loudest()
	if !ok {
		return ""
	}
	return fmt.Sprintf("In the digital filters at %s a full-scale sine comes to %s at most: on the way to %s behind %s, at %s.", shortName(d), minus(words.DBFS.Measured(x.peakDB)), way,
		strings.Replace(x.name(), ":", ",", 1), words.Hz(words.Round(x.peakAtHz, 3)))
}

// inside lists the places along each way of the first digital realisation, the one with least room named.
func (p *Paper) inside() template.HTML {
	_, _, d, ok := p.loudest()
	if !ok {
		return ""
	}
	type row struct {
		Name, Peak, At, Room string
		Least                bool
	}
	type chain struct {
		Way  string
		Rows []row
	}
	view := struct {
		Of, Holds string
		Chains    []chain
	}{Of: shortName(d), Holds: "Floating point has room for any of that inside; what counts there is the output, which a converter limits."}
	if g := d.Format.GuardBits; g > 0 {
		view.Holds = fmt.Sprintf("Inside, words hold %.1f dB above full scale (%s), and no input within full scale reaches that: see the L1 bounds in NAME.json; the output is limited to full scale.",
			biquad.GainDB(math.Ldexp(1, g)), words.Count(g, "guard bit", "guard bits"))
	}
	for k, name := range p.curves.ways {
		c, least := chain{Way: name}, 0
		places := p.inner[k]
		for i, x := range places {
			if x.peakDB > places[least].peakDB {
				least = i
			}
			c.Rows = append(c.Rows, row{Name: x.name(), Peak: minus(words.DBFS.Measured(x.peakDB)), At: words.Hz(words.Round(x.peakAtHz, 3)), Room: minus(fmt.Sprintf("%.2f dB", 0-x.peakDB))})
		}
		c.Rows[least].Least = true
		view.Chains = append(view.Chains, c)
	}
	return markup(insideTemplate, view)
}

var insideTemplate = parsed(`<h3>Along the digital filters at {{.Of}}</h3>
{{range .Chains}}<h4>{{.Way}}</h4>
<div class="wide"><table><thead><tr><th>behind</th><th class="n">sine</th><th class="n">at</th><th class="n">below full scale</th></tr></thead>
<tbody>{{range .Rows}}<tr><td>{{.Name}}</td><td class="n">{{.Peak}}</td><td class="n">{{.At}}</td><td class="n">{{.Room}}{{if .Least}}, <strong>least</strong>{{end}}</td></tr>
{{end}}</tbody></table></div>
{{end}}<p class="small">What a full-scale sine at the input comes to behind each gain and section, at its worst frequency and in the worst settings, by the response of what runs before it, in the order in which it runs. {{.Holds}}</p>
`)
