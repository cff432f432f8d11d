package result

import (
	"math"

	"bandwright/compiler"
	"bandwright/compiler/acoustic"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// Air is what drivers and amplifiers make of the realisations. All series are over Hz, all
// levels those of the largest sine at the input, dB re 20 µPa at 1 m in free field.
type Air struct {
	Hz []float64 `json:"hz"` // a sixth of an octave apart, from 5 Hz
	// FullScaleV is the largest sine at the prototype's input in the default setting (V RMS).
	FullScaleV float64  `json:"full_scale_v"`
	Ways       []AirWay `json:"ways"`
	// Crossings are those of the prototype in the default setting.
	Crossings []AirMeets `json:"crossings"`
	Heard     []AirOf    `json:"realisations"`
	// PowerDB is the mean level of all directions and IndexDB the level on the axis above it,
	// of the prototype in the default setting; absent where a way is not known off the axis.
	PowerDB []float64 `json:"power_db,omitempty"`
	IndexDB []float64 `json:"index_db,omitempty"`
	// Reflections are those of the room at the listener; absent without a room.
	Reflections []AirReflection `json:"reflections,omitempty"`
}

// AirReflection is a surface's, once reflected and without loss, of the left or the right
// loudspeaker.
type AirReflection struct {
	Side    string  `json:"side"`
	Surface string  `json:"surface"`
	DelayMS float64 `json:"delay_ms"` // behind the direct sound
	PathM   float64 `json:"path_m"`
	Degrees float64 `json:"degrees"` // off the loudspeaker's axis, at which it leaves
	// DistanceDB is its level re the direct sound by distance alone, LevelDB with each way's
	// pattern at LevelHz; ways whose pattern is not known are absent.
	DistanceDB float64              `json:"distance_db"`
	LevelHz    []float64            `json:"level_hz"`
	LevelDB    map[string][]float64 `json:"level_db"`
}

// AirWay is what no setting changes of a way with a driver.
type AirWay struct {
	Way string `json:"way"`
	// Drivers is how many there are, which count as one place: beside the axis that holds in the plane at
	// right angles to their line, the index and the power are those of one place. Absent for one.
	Drivers int `json:"drivers,omitempty"`
	// ResonanceHz and ResonanceQ are those of a model in a box without a port, or in none.
	ResonanceHz float64 `json:"resonance_hz,omitempty"`
	ResonanceQ  float64 `json:"resonance_q,omitempty"`
	// ExcursionMM is how far the cone may move to one side, peak; AmplifierV and AmplifierA
	// (RMS) are what the amplifier gives. Absent where the spec does not say.
	ExcursionMM float64 `json:"excursion_limit_mm,omitempty"`
	AmplifierV  float64 `json:"amplifier_v,omitempty"`
	AmplifierA  float64 `json:"amplifier_a,omitempty"`
	// LeastOhm is the least magnitude of the load.
	LeastOhm *AirPlace `json:"least_ohm,omitempty"`
	// BeamsHz is where ka = 1; FigureOfEightToHz where a dipole departs by 1 dB from a figure of eight.
	BeamsHz           float64 `json:"beams_hz,omitempty"`
	FigureOfEightToHz float64 `json:"figure_of_eight_to_hz,omitempty"`
	// IndexDB is the directivity index, OffAxis levels re the axis; absent where they are not known.
	IndexDB []float64  `json:"index_db,omitempty"`
	OffAxis []AirAngle `json:"off_axis,omitempty"`
	// CoilDC is what the board's DC makes of the coil.
	CoilDC *AirDC   `json:"coil_dc,omitempty"`
	Notes  []string `json:"notes,omitempty"`
}

// AirPlace is a value with its frequency and, where one belongs to it, the setting.
type AirPlace struct {
	Value   float64           `json:"value"`
	Hz      float64           `json:"hz"`
	Setting map[string]string `json:"setting,omitempty"`
}

// AirAngle is a level re the axis, at least -60 dB.
type AirAngle struct {
	Degrees float64   `json:"degrees"`
	DB      []float64 `json:"db"`
}

// AirDC is direct voltage at a way's coils, the heat of it, and how far the cone stands out.
type AirDC struct {
	V  float64 `json:"v"`
	W  float64 `json:"w"`
	MM float64 `json:"mm"`
}

// AirMeets is where two neighbouring ways are equally loud on the axis, and how much louder
// the upper one is off it. Setting is that of the settings of the ways' own filters; absent without any.
type AirMeets struct {
	Lower      string             `json:"lower"`
	Upper      string             `json:"upper"`
	Hz         float64            `json:"hz"`
	MismatchDB map[string]float64 `json:"mismatch_db"` // by degrees
	Setting    map[string]string  `json:"setting,omitempty"`
}

// AirOf is one realisation.
type AirOf struct {
	Realisation string     `json:"realisation"`
	TopHz       float64    `json:"top_hz"` // up to where it responds
	Ways        []AirOfWay `json:"ways"`
	// SumDB is the sum on the axis, MaximumDB the most before something reaches its limit,
	// which LimitedBy names; in the default setting.
	SumDB     []float64 `json:"sum_db,omitempty"`
	MaximumDB []float64 `json:"maximum_db,omitempty"`
	LimitedBy []string  `json:"limited_by,omitempty"`
	// Departure is the greatest of the sum from its mean level.
	Departure *AirPlace `json:"departure_db,omitempty"`
	// Crossings are where neighbouring ways are equally loud, in each combination of the ways' own settings.
	Crossings []AirMeets `json:"crossings,omitempty"`
	// ApartDB is the greatest difference of any series from the prototype's in any setting that is
	// told, as far down as 60 dB below its peak: up to 0.1 dB those of the prototype hold, and settings
	// have no series of their own here. Absent where it has other combinations than the prototype.
	ApartDB *float64 `json:"apart_db,omitempty"`
	// Settings are what all ways make together in each combination of all settings: up to 24 of
	// them, of more the default and each choice by itself. Of digital realisations at one rate the first has them.
	Settings []AirTold `json:"settings,omitempty"`
}

// AirTold is what all ways make together in one combination of the settings.
type AirTold struct {
	Setting map[string]string `json:"setting"`
	// SumDB is the sum on the axis, MaximumDB the most before something reaches its limit: absent
	// where that is the sum, as nothing does. LimitedBy says what does from where to where.
	SumDB     []float64      `json:"sum_db"`
	MaximumDB []float64      `json:"maximum_db,omitempty"`
	LimitedBy []AirLimitedBy `json:"limited_by"`
	// PowerDB is the mean level of all directions: the directivity index is SumDB less that. Absent
	// where a way is not known off the axis.
	PowerDB []float64 `json:"power_db,omitempty"`
}

// AirLimitedBy is what limits the level from the first to the last of neighbouring frequencies.
type AirLimitedBy struct {
	By     string  `json:"by"`
	FromHz float64 `json:"from_hz"`
	ToHz   float64 `json:"to_hz"`
}

// AirOfWay is a way of it: series in the default setting, the greatest of any setting, and
// each setting. Of digital realisations at one rate only the first has series.
type AirOfWay struct {
	Way         string    `json:"way"`
	LevelDB     []float64 `json:"level_db,omitempty"`
	ExcursionMM []float64 `json:"excursion_mm,omitempty"`
	V           []float64 `json:"v,omitempty"`
	A           []float64 `json:"a,omitempty"`
	MostMM      *AirPlace `json:"most_mm,omitempty"`
	MostV       *AirPlace `json:"most_v,omitempty"`
	MostA       *AirPlace `json:"most_a,omitempty"`
	Settings    []AirCase `json:"settings"`
}

// AirCase is what a way takes in one combination of its settings, and the levels re full
// scale up to which that is within its limits; absent where there is no limit.
type AirCase struct {
	Setting          map[string]string `json:"setting"`
	MM               float64           `json:"mm"`
	V                float64           `json:"v"`
	A                float64           `json:"a"`
	ExcursionHoldsDB *float64          `json:"excursion_holds_db,omitempty"`
	AmplifierHoldsDB *float64          `json:"amplifier_holds_db,omitempty"`
	// LevelDB is the level on the axis, for up to 24 combinations, of more for the default and each
	// choice by itself; excursion, volts and amperes follow it from setting to setting.
	LevelDB []float64 `json:"level_db,omitempty"`
}

// alikeDB is up to where a realisation's series in each setting are those of the prototype.
const alikeDB = 0.1

// mostAirCases is of how many combinations a way's are listed each.
const mostAirCases = 64

// airOf is the air of a build, nil without drivers.
func airOf(b *compiler.Build) *Air {
	a := b.Air
	if a == nil {
		return nil
	}
	hz, at := a.Shown()
	out := &Air{Hz: four(hz), FullScaleV: words.Round(a.FullV, 6), Ways: airWays(b)}
	usual := &a.Heard[0].Settings[0]
	out.PowerDB, out.IndexDB, out.Crossings = hundredth(usual.PowerDB), hundredth(usual.IndexDB), airMeets(a.Heard[0].Crossed[:1])
	for _, r := range a.Reflections {
		x := AirReflection{r.Side, r.Surface, words.Round(r.DelayS*1e3, 4), words.Round(r.PathM, 4), words.Round(r.Degrees, 4), toHundredth(r.DistanceDB), acoustic.RoomHz, map[string][]float64{}}
		for k, db := range r.LevelDB {
			if db != nil {
				x.LevelDB[a.System.Ways[k].Name] = hundredth(db)
			}
		}
		out.Reflections = append(out.Reflections, x)
	}
	shown := map[float64]bool{}
	for i, h := range a.Heard {
		apart := h.Apart(a.Heard[0])
		like := i > 0 && apart <= alikeDB
		x := AirOf{Realisation: h.Realisation, TopHz: words.Round(h.TopHz, 4), Ways: []AirOfWay{}}
		series := at
		if shown[h.RateHz] {
			series = nil
		} else {
			usual := &h.Settings[0]
			x.SumDB, x.MaximumDB, x.LimitedBy = hundredth(usual.SumDB), hundredth(usual.MaximumDB), usual.By
			for i := range h.Settings {
				if like {
					break
				}
				x.Settings = append(x.Settings, airTold(out.Hz, &h.Settings[i]))
			}
		}
		if i > 0 && !math.IsInf(apart, 1) {
			apart = words.Round(apart, 3)
			x.ApartDB = &apart
		}
		x.Crossings = airMeets(h.Crossed[:min(len(h.Crossed), mostAirCases)])
		shown[h.RateHz] = h.RateHz > 0
		if h.Sum.Known {
			x.Departure = &AirPlace{toHundredth(h.Sum.Value), words.Round(h.Sum.AtHz, 4), setting(h.Sum.With)}
		}
		for k := range h.Ways {
			if a.System.Ways[k].Source != nil {
				x.Ways = append(x.Ways, airOfWay(&a.System.Ways[k], &h.Ways[k], series, !like))
			}
		}
		out.Heard = append(out.Heard, x)
	}
	return out
}

// airMeets are the meetings of combinations.
func airMeets(all []acoustic.Crossed) []AirMeets {
	out := []AirMeets{}
	for _, c := range all {
		for _, m := range c.Meetings {
			x := AirMeets{m.Lower, m.Upper, words.Round(m.Hz, 4), map[string]float64{}, setting(c.With)}
			for i, db := range m.MismatchDB {
				x.MismatchDB[words.Exact(acoustic.Angles[i])] = toHundredth(db)
			}
			out = append(out, x)
		}
	}
	return out
}

// airTold is what all ways make together in a combination.
func airTold(hz []float64, t *acoustic.Told) AirTold {
	out := AirTold{Setting: setting(t.With), SumDB: hundredth(t.SumDB), PowerDB: hundredth(t.PowerDB), LimitedBy: []AirLimitedBy{}}
	for i, by := range t.By {
		if by == acoustic.FullScale {
			continue
		}
		if i > 0 && by == t.By[i-1] {
			out.LimitedBy[len(out.LimitedBy)-1].ToHz = hz[i]
			continue
		}
		out.LimitedBy = append(out.LimitedBy, AirLimitedBy{by, hz[i], hz[i]})
	}
	if len(out.LimitedBy) > 0 {
		out.MaximumDB = hundredth(t.MaximumDB)
	}
	return out
}

// airWays are the ways that have a driver.
func airWays(b *compiler.Build) []AirWay {
	a := b.Air
	out := []AirWay{}
	for k := range a.System.Ways {
		w := &a.System.Ways[k]
		if w.Source == nil {
			continue
		}
		x := AirWay{Way: w.Name, ExcursionMM: words.Round(w.LimitM()*1e3, 6), AmplifierV: words.Round(w.LimitV, 4), AmplifierA: words.Round(w.LimitA, 4), Notes: w.Notes}
		if m, ok := w.Source.(*acoustic.Mounted); ok {
			if m.Count() > 1 {
				x.Drivers = m.Count()
			}
			if f, q, ok := m.Resonance(); ok {
				x.ResonanceHz, x.ResonanceQ = words.Round(f, 4), words.Round(q, 4)
			}
		}
		if ohm, f := a.LeastOhm(k); ohm > 0 {
			x.LeastOhm = &AirPlace{Value: words.Round(ohm, 4), Hz: words.Round(f, 4)}
		}
		for _, p := range a.Patterns {
			if p.Way != w.Name {
				continue
			}
			x.BeamsHz, x.IndexDB = words.Round(p.BeamsHz, 4), hundredth(p.IndexDB)
			if !math.IsInf(p.EightToHz, 1) {
				x.FigureOfEightToHz = words.Round(p.EightToHz, 4)
			}
			for i, db := range p.OffDB {
				x.OffAxis = append(x.OffAxis, AirAngle{acoustic.Angles[i], hundredth(db)})
			}
		}
		for _, d := range a.DC {
			if d.Way == w.Name {
				x.CoilDC = &AirDC{words.Round(d.V, 4), words.Round(d.Watt, 4), words.Round(d.ExcursionM*1e3, 4)}
			}
		}
		out = append(out, x)
	}
	return out
}

// airOfWay is a way of a realisation; each: with its levels in each setting.
func airOfWay(w *acoustic.Way, h *acoustic.HeardWay, at []int, each bool) AirOfWay {
	mm := func(x []float64) []float64 {
		out := make([]float64, len(x))
		for i, v := range x {
			out[i] = v * 1e3
		}
		return out
	}
	place := func(e verify.Extreme, times float64) *AirPlace {
		if !e.Known {
			return nil
		}
		return &AirPlace{words.Round(e.Value*times, 4), words.Round(e.AtHz, 4), setting(e.With)}
	}
	out := AirOfWay{Way: w.Name, LevelDB: hundredth(elements(h.LevelDB, at)), ExcursionMM: four(mm(elements(h.ExcursionM, at))), V: four(elements(h.V, at)), A: four(elements(h.A, at)),
		MostMM: place(h.Excursion, 1e3), MostV: place(h.Volts, 1), MostA: place(h.Amperes, 1), Settings: []AirCase{}}
	if len(h.Settings) > mostAirCases {
		return out
	}
	for _, s := range h.Settings {
		c := AirCase{Setting: setting(s.With), MM: words.Round(s.Excursion.Value*1e3, 4), V: words.Round(s.Volts.Value, 4), A: words.Round(s.Amperes.Value, 4)}
		travel, amplifier := w.Holds(s)
		c.ExcursionHoldsDB, c.AmplifierHoldsDB = travel, amplifier
		if at != nil && each {
			c.LevelDB = hundredth(s.LevelDB)
		}
		out.Settings = append(out.Settings, c)
	}
	return out
}

// elements are some elements, as far as there are any.
func elements[T any](x []T, at []int) []T {
	out := []T{}
	for _, i := range at {
		if i < len(x) {
			out = append(out, x[i])
		}
	}
	return out
}

func four(x []float64) []float64 {
	out := make([]float64, len(x))
	for i, v := range x {
		out[i] = words.Round(v, 4)
	}
	return out
}

func hundredth(x []float64) []float64 {
	if x == nil {
		return nil
	}
	out := make([]float64, len(x))
	for i, v := range x {
		out[i] = toHundredth(v)
	}
	return out
}

func toHundredth(x float64) float64 { return math.Round(x*100)/100 + 0 }

// InAir is what drivers and amplifiers make of a build, as its result has it; nil without drivers.
func InAir(b *compiler.Build) *Air { return airOf(b) }

// In is what all ways make together in each setting in a realisation: the prototype's where it is
// like that.
func (a *Air) In(h *AirOf) []AirTold {
	if h.Settings == nil && h.ApartDB != nil && *h.ApartDB <= alikeDB {
		return a.Heard[0].Settings
	}
	return h.Settings
}
