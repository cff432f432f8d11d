package page

import (
	"fmt"
	"math"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/result"
)

// airWay is a way of the air with its place among those of the page.
type airWay struct {
	*result.AirWay
	way int
}

// airWays are the ways that are told in the air.
func (p *Paper) airWaysOf(air *result.Air) (out []airWay) {
	for i := range air.Ways {
		if way := slices.Index(p.curves.ways, air.Ways[i].Way); way >= 0 {
			out = append(out, airWay{&air.Ways[i], way})
		}
	}
	return out
}

// picks says whether a combination has the choices that a setting of the index names.
func (p *Paper) picks(setting map[string]string, c biquad.Combination) bool {
	for i, s := range p.Settings {
		if choice, ok := setting[s.Name]; ok && choice != s.Choices[c[i]] {
			return false
		}
	}
	return true
}

// heardAs is a realisation of the page as it is heard; nil of one that is not.
func (p *Paper) heardAs(air *result.Air, made int) *result.AirOf {
	for i := range air.Heard {
		if h := &air.Heard[i]; made == wantedLine && i == 0 || made >= 0 && h.Realisation == p.curves.made[made].Name() {
			return h
		}
	}
	return nil
}

// inAir is the level of a way in a realisation, or what follows it from setting to setting (pick): a realisation that has
// no levels of its own in each setting has those of the prototype and its own departure from them.
func (p *Paper) inAir(air *result.Air, way, made int, pick func(*result.AirOfWay) []float64) *own {
	find := func(h *result.AirOf) *result.AirOfWay {
		if h == nil {
			return nil
		}
		i := slices.IndexFunc(h.Ways, func(w result.AirOfWay) bool { return w.Way == p.curves.ways[way] })
		if i < 0 || len(h.Ways[i].Settings) == 0 || len(h.Ways[i].Settings[0].LevelDB) == 0 {
			return nil
		}
		return &h.Ways[i]
	}
	w, departs := find(p.heardAs(air, made)), false
	if w == nil {
		w, departs = find(&air.Heard[0]), made != wantedLine
	}
	if w == nil {
		return nil
	}
	o := ownIn(p.Subject().WayAxes[way], len(p.Settings), func(c biquad.Combination) (hz, db []float64) {
		for i := range w.Settings {
			if x := &w.Settings[i]; p.picks(x.Setting, c) && len(x.LevelDB) > 0 {
				return air.Hz[:len(x.LevelDB)], x.LevelDB
			}
		}
		return nil, nil
	})
	if departs {
		o.add = &[2]int{way, made}
	}
	if pick != nil {
		if o.from = pick(w); o.from == nil {
			return nil
		}
	}
	return o
}

// togetherIn is a series of all ways together in a realisation.
func (p *Paper) togetherIn(air *result.Air, made int, pick func(*result.AirTold) []float64) *own {
	h := p.heardAs(air, made)
	if h == nil {
		return nil
	}
	told := air.In(h)
	if len(told) == 0 || pick(&told[0]) == nil {
		return nil
	}
	return ownIn(p.Subject().AllAxes, len(p.Settings), func(c biquad.Combination) (hz, y []float64) {
		for i := range told {
			if p.picks(told[i].Setting, c) {
				y = pick(&told[i])
				return air.Hz[:len(y)], y
			}
		}
		return nil, nil
	})
}

// realised are the lines of prototype, digital filters and board, of what of makes of each; lines that are nowhere are
// left out.
func (p *Paper) realised(of func(made int) *own) (out []line) {
	if o := of(wantedLine); o != nil {
		out = append(out, line{made: wantedLine, class: "wanted", name: "wanted", shown: true, own: []*own{o}})
	}
	digital := line{made: 0, class: "digital", name: "digital", shown: true}
	for made := range p.asked() {
		digital.own = append(digital.own, of(made))
	}
	if slices.ContainsFunc(digital.own, func(o *own) bool { return o != nil }) {
		out = append(out, digital)
	}
	if board := len(p.curves.made) - 1; board >= 0 && p.curves.made[board].board {
		if o := of(board); o != nil {
			out = append(out, line{made: board, class: "board", name: "board", shown: true, own: []*own{o}})
		}
	}
	return out
}

// most is the greatest value of lines in any settings, departures left out; -Inf of none.
func most(lines []line) float64 {
	top := math.Inf(-1)
	for _, l := range lines {
		for _, o := range l.own {
			if o == nil {
				continue
			}
			for _, y := range o.y {
				for i, v := range y {
					if o.from != nil {
						v = o.from[i] * biquad.FromDB(v-o.y[0][i])
					}
					top = math.Max(top, v)
				}
			}
		}
	}
	return top
}

// apartSaid says by how much sums of digital filters may be off that are the prototype's.
func (p *Paper) apartSaid(air *result.Air) string {
	far, borrowed := 0.0, false
	for made := range p.asked() {
		if h := p.heardAs(air, made); h != nil && h.Settings == nil && h.ApartDB != nil {
			far, borrowed = math.Max(far, *h.ApartDB), true
		}
	}
	if !borrowed {
		return ""
	}
	return fmt.Sprintf(" Of all ways together the digital line is the prototype's, from which no series of the filters is further than %.2g dB in any setting.", far)
}
