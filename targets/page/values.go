package page

import (
	"math"
	"math/cmplx"

	"bandwright/biquad"
	"bandwright/compiler/verify"
)

// The kinds of strips. The script has the same names and works them out in any settings; here they are in
// the default ones.
const (
	levelKind      = "level"       // dB, of the prototype or what is made of it
	errorKind      = "error"       // dB, where it is judged
	phaseKind      = "phase"       // degrees, without pure delay
	phaseErrorKind = "phase-error" // degrees, where a neighbour is near
	delayKind      = "delay"       // s
	delayErrorKind = "delay-error" // s
	sumKind        = "sum"         // dB
	sumErrorKind   = "sum-error"   // dB
	betweenKind    = "between"     // dB, of the board over the digital realisation that is drawn, where both are judged
	timeKind       = "time"        // over time, in the default settings
	movedKind      = "moved"       // dB, a realisation over what was accepted in its place, where it is judged
	turnedKind     = "turned"      // degrees, the same
	sumMovedKind   = "sum-moved"   // dB, the same
)

// delayDownTo and sumDownTo are how far down delays and sums are compared (dB), as verification does.
const delayDownTo, sumDownTo = -20, -20

// slackDB is what levels at the edge of a domain may miss it by: the script has them in words of 32 bits.
const slackDB = 1e-4

// phaseDownTo is how far down phase is drawn (dB).
const phaseDownTo = -50

// base is a quantity of a way in the default settings; made is wantedLine or a realisation, of which it is the departure.
func (p *Paper) base(quantity, way, made int) []float64 {
	switch {
	case made == wantedLine:
		return p.curves.ideal[way][quantity].Base
	case made < wantedLine:
		return p.curves.before[beforeLine-made].base[way][quantity]
	}
	return p.curves.made[made].ways[way][quantity].Base
}

// values are those of a strip in the default settings.
func (p *Paper) values(kind string, way, made int) []float64 {
	out := make([]float64, len(p.curves.hz))
	for i := range out {
		out[i] = p.value(kind, way, made, i)
	}
	return out
}

func (p *Paper) value(kind string, way, made, i int) float64 {
	total := func(quantity int) float64 {
		v := p.base(quantity, way, wantedLine)[i]
		if made != wantedLine {
			v += p.base(quantity, way, made)[i]
		}
		return v
	}
	within := func(quantity int, inside bool) float64 {
		if f := p.curves.hz[i]; !inside || f < p.Promises.LowHz || f > p.highHz(made) {
			return math.NaN()
		}
		return p.base(quantity, way, made)[i]
	}
	switch kind {
	case levelKind:
		return total(magnitudeQ)
	case errorKind:
		return within(magnitudeQ, p.level(way, i) >= p.downTo(made)-slackDB)
	case betweenKind:
		return p.value(errorKind, way, made, i) - p.value(errorKind, way, 0, i)
	case phaseKind:
		if p.level(way, i) < phaseDownTo-slackDB {
			return math.NaN()
		}
		return wrapped(total(phaseQ) + 360*math.Mod(p.curves.hz[i]*p.curves.delayS[way], 1))
	case phaseErrorKind:
		return within(phaseQ, p.level(way, i) >= p.downTo(made)-slackDB && p.near(way, i))
	case delayKind:
		if p.level(way, i) < 2*delayDownTo-slackDB {
			return math.NaN()
		}
		return total(delayQ)
	case delayErrorKind:
		return within(delayQ, p.level(way, i) >= delayDownTo-slackDB)
	case movedKind:
		return p.value(errorKind, way, made, i) - p.base(magnitudeQ, way, p.was(made))[i]
	case turnedKind:
		return wrapped(p.value(phaseErrorKind, way, made, i) - p.base(phaseQ, way, p.was(made))[i])
	case sumMovedKind:
		if math.IsNaN(p.sum(sumErrorKind, made, i)) {
			return math.NaN()
		}
		return p.sum(sumKind, made, i) - p.sum(sumKind, p.was(made), i)
	}
	return p.sum(kind, made, i)
}

// sum is the level of the ways together (dB), or what became of it.
func (p *Paper) sum(kind string, made, i int) float64 {
	var want, got complex128
	size := 0.0
	for way := range p.curves.ways {
		db, deg := p.base(magnitudeQ, way, wantedLine)[i], p.base(phaseQ, way, wantedLine)[i]
		want += polar(db, deg)
		size += biquad.FromDB(db)
		if made != wantedLine {
			got += polar(db+p.base(magnitudeQ, way, made)[i], deg+p.base(phaseQ, way, made)[i])
		}
	}
	if kind == sumKind {
		if made == wantedLine {
			got = want
		}
		if cmplx.IsNaN(got) {
			return math.NaN()
		}
		return math.Max(leastDB, biquad.DB(got))
	}
	f := p.curves.hz[i]
	if f < p.Promises.LowHz || f > p.highHz(made) || biquad.DB(want)-biquad.GainDB(size) < sumDownTo-slackDB || biquad.GainDB(size)-p.peak(len(p.curves.ways)) < p.downTo(made)-slackDB {
		return math.NaN()
	}
	return biquad.DB(got) - biquad.DB(want)
}

// polar is a response of a level (dB) and an angle (degrees).
func polar(db, deg float64) complex128 {
	s, c := math.Sincos(deg * math.Pi / 180)
	return complex(biquad.FromDB(db), 0) * complex(c, s)
}

func wrapped(deg float64) float64 { return deg - 360*math.Round(deg/360) }

// level is a way's prototype re its peak in the band (dB).
func (p *Paper) level(way, i int) float64 {
	return p.base(magnitudeQ, way, wantedLine)[i] - p.peak(way)
}

// peak is the greatest level of a way in the band (dB), or of the ways' magnitudes together.
func (p *Paper) peak(way int) float64 {
	if p.peaks == nil {
		p.peaks = make([]float64, len(p.curves.ways)+1)
		for way := range p.peaks {
			most := math.Inf(-1)
			for i, f := range p.curves.hz {
				if f < p.Promises.LowHz || f > p.Promises.HighHz {
					continue
				}
				v := 0.0
				if way < len(p.curves.ways) {
					v = p.base(magnitudeQ, way, wantedLine)[i]
				} else {
					for k := range p.curves.ways {
						v += biquad.FromDB(p.base(magnitudeQ, k, wantedLine)[i])
					}
					v = biquad.GainDB(v)
				}
				most = math.Max(most, v)
			}
			p.peaks[way] = most
		}
	}
	return p.peaks[way]
}

// near says whether a neighbour is within 20 dB of a way.
func (p *Paper) near(way, i int) bool {
	return biquad.NeighbourMarginDB(biquad.NeighbourDB+slackDB, way, len(p.curves.ways), func(n int) float64 {
		return p.base(magnitudeQ, n, wantedLine)[i] - p.base(magnitudeQ, way, wantedLine)[i]
	}) >= 0
}

// downTo is how far below a way's peak a realisation is judged (dB, < 0).
func (p *Paper) downTo(made int) float64 {
	if made != wantedLine {
		if s, ok := p.curves.made[made].Realisation.(verify.Strays); ok {
			return math.Max(s.DownToDB(), p.Promises.DownToDB)
		}
	}
	return p.Promises.DownToDB
}

// highHz is up to where a realisation is judged.
func (p *Paper) highHz(made int) float64 {
	rate := 0.0
	if made != wantedLine {
		if s, ok := p.curves.made[made].Realisation.(verify.Sampled); ok {
			rate = s.RateHz()
		}
	}
	_, hi, _ := p.Promises.Band(rate)
	return hi
}

// data is what the script works with.
func (p *Paper) data() any {
	type wayData map[string]packed
	type realisation struct {
		Name   string    `json:"name"`
		Short  string    `json:"short"`
		Board  bool      `json:"board"`
		HighHz float64   `json:"high_hz"`
		DownTo float64   `json:"down_to_db"`
		Ways   []wayData `json:"ways"`
	}
	type accepted struct {
		Of    int       `json:"of"`
		Moved []wayData `json:"moved"`
	}
	type setting struct {
		Name    string   `json:"name"`
		Choices []string `json:"choices"`
	}
	ways := func(all [][quantities]series) (out []wayData) {
		for _, w := range all {
			d := wayData{}
			for q, s := range w {
				if s.Base != nil {
					d[quantityNames[q]] = s.pack()
				}
			}
			out = append(out, d)
		}
		return out
	}
	out := struct {
		Hz       string        `json:"hz"` // as words of 64 bits
		Settings []setting     `json:"settings"`
		Ways     []string      `json:"ways"`
		DelayS   []float64     `json:"delay_s"`
		LowHz    float64       `json:"low_hz"`
		HighHz   float64       `json:"high_hz"`
		DownTo   float64       `json:"down_to_db"`
		Near     float64       `json:"near_db"`
		Ideal    []wayData     `json:"ideal"`
		Made     []realisation `json:"made"`
		Before   []accepted    `json:"before"`
		Left     float64       `json:"left"`
		Right    float64       `json:"right"`
		Height   float64       `json:"height"`
		Lists    []string      `json:"lists"`
		Own      []packedOwn   `json:"own"`
		Time     *timeData     `json:"time"`
	}{Hz: words64(p.curves.hz), Ways: p.curves.ways, DelayS: p.curves.delayS, LowHz: p.Promises.LowHz, HighHz: p.Promises.HighHz,
		DownTo: p.Promises.DownToDB, Near: biquad.NeighbourDB, Ideal: ways(p.curves.ideal), Left: plotLeft, Right: plotRight, Height: stripHeight,
		Settings: []setting{}, Made: []realisation{}, Before: []accepted{}, Lists: p.lists, Own: p.owns, Time: p.timeData()}
	for _, s := range p.Settings {
		out.Settings = append(out.Settings, setting(s))
	}
	for i, m := range p.curves.made {
		out.Made = append(out.Made, realisation{m.Name(), m.short, m.board, p.highHz(i), p.downTo(i), ways(m.ways)})
	}
	for _, b := range p.curves.before {
		out.Before = append(out.Before, accepted{b.of, ways(b.moved)})
	}
	return out
}
