package page

import (
	"math"
	"slices"

	"bandwright/biquad"
)

// run is a line over time that the script works out from the sections, in the settings that are chosen.
type run struct {
	Of    string `json:"of"` // wanted or digital
	Made  int    `json:"made"`
	Way   int    `json:"way"`
	Pulse bool   `json:"pulse,omitempty"`
}

// chain is a cascade for the script.
type chain struct {
	Gain  float64 `json:"gain"`
	Delay float64 `json:"delay"` // of a prototype in seconds, of digital filters in samples
	Slots []place `json:"slots"`
}

// place is a position: of each alternative the numbers, and which one every combination of some settings picks.
// A digital section is its form's origin, b0, b1, b2, a1 and a2; an analog one W0, three of B and three of A.
type place struct {
	Settings []int       `json:"settings,omitempty"`
	Pick     []int       `json:"pick,omitempty"`
	Alt      [][]float64 `json:"alt"`
}

// chained is a cascade with the numbers of its sections.
func chained[S biquad.Section](c biquad.Cascade[S], delay float64, numbers func(S) []float64) chain {
	out := chain{Gain: c.Gain, Delay: delay, Slots: []place{}}
	for i := range c.Slots {
		s := &c.Slots[i]
		x := place{}
		for _, a := range s.By {
			x.Settings = append(x.Settings, a.Setting)
		}
		for _, k := range s.Pick {
			x.Pick = append(x.Pick, int(k))
		}
		for _, alt := range s.Alt {
			x.Alt = append(x.Alt, numbers(alt))
		}
		out.Slots = append(out.Slots, x)
	}
	return out
}

// timeData is what the script works out answers over time from.
type timeData struct {
	LastMS  float64    `json:"last_ms"`
	CloseBy int        `json:"close_by"`
	CloseX  float64    `json:"close_x"`
	CloseY  float64    `json:"close_y"`
	Wanted  []chain    `json:"wanted"`
	Made    []timeMade `json:"made"`
}

type timeMade struct {
	RateHz float64 `json:"rate_hz"`
	Early  float64 `json:"early"` // samples that the realisation is late by
	Ways   []chain `json:"ways"`
}

// timeData is nil of a build without digital realisations.
func (p *Paper) timeData() *timeData {
	asked := p.asked()
	if asked == nil && p.Board == nil || p.about != "" {
		return nil
	}
	out := &timeData{LastMS: lastMS, CloseBy: closeBy, CloseX: closeX, CloseY: closeY}
	if asked == nil { // what is drawn is carried
		return out
	}
	for way := range p.curves.ways {
		path := p.Prototype.Path(way)
		out.Wanted = append(out.Wanted, chained(path, path.DelayS, func(s biquad.Analog) []float64 { return append(append([]float64{s.W0}, s.B[:]...), s.A[:]...) }))
	}
	for _, d := range asked {
		m := timeMade{RateHz: d.RateHz, Early: d.CommonDelayS * d.RateHz}
		for way := range p.curves.ways {
			path := d.System.Path(way)
			m.Ways = append(m.Ways, chained(path, float64(d.DelaySamples(path)), func(s biquad.Digital) []float64 {
				return []float64{s.Form.Origin(), s.B[0], s.B[1], s.B[2], s.A[1], s.A[2]}
			}))
		}
		out.Made = append(out.Made, m)
	}
	return out
}

// reach is between what the step of a way and its slope (1/ms) lie in any settings, at every rate.
func (p *Paper) reach(way int) (step, pulse [2]float64) {
	var rates []float64
	see := func(r *[2]float64, v float64) { r[0], r[1] = math.Min(r[0], v), math.Max(r[1], v) }
	for _, d := range p.asked() {
		if slices.Contains(rates, d.RateHz) { // words of other formats look the same
			continue
		}
		rates = append(rates, d.RateHz)
		path := d.System.Path(way)
		y := make([]float64, int(lastMS/1e3*d.RateHz))
		for _, c := range combinations(biquad.Axes(path), len(p.Settings)) {
			biquad.StepDigital(y, path, c)
			before := 0.0
			for _, v := range y {
				see(&step, v)
				see(&pulse, (v-before)*d.RateHz/1e3)
				before = v
			}
		}
	}
	return step, pulse
}
