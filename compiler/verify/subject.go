package verify

import (
	"math"
	"slices"

	"bandwright/biquad"
)

// Subject is what is being judged: the ideal, and what is common to all
// realisations of it.
type Subject struct {
	Settings []Setting
	Ways     []string
	// Prototype is the ideal.
	Prototype Realisation
	// WayAxes are the settings that each way depends on, common filters
	// included; AllAxes those of any way.
	WayAxes [][]biquad.Axis
	AllAxes []biquad.Axis
	// SplitAxes are the settings of the ways' own filters, without the common
	// ones: where the ways cancel depends on these.
	SplitAxes []biquad.Axis
	// Only are the combinations to look at, in order; nil for all. Note says so
	// in findings.
	Only []Combination
	Note string
	// SpreadS is the greatest difference of pure delay between two ways (s).
	SpreadS float64
}

// Ideal is the prototype as a Realisation.
type Ideal struct {
	System biquad.System[biquad.Analog]
	paths  []biquad.Cascade[biquad.Analog]
}

// NewIdeal prepares a prototype for judging.
func NewIdeal(s biquad.System[biquad.Analog]) *Ideal {
	p := &Ideal{System: s}
	for k := range s.Ways {
		p.paths = append(p.paths, s.Path(k))
	}
	return p
}

// Name is "prototype".
func (p *Ideal) Name() string { return "prototype" }

// CommonDelayS is zero: the prototype is what delays are counted from.
func (p *Ideal) CommonDelayS() float64 { return 0 }

// On prepares the prototype's responses at hz (Hz).
func (p *Ideal) On(hz []float64) Responder {
	return EachWay(len(p.paths), func(way int) *biquad.Responder { return biquad.OnAnalog(p.paths[way], hz) })
}

// Near prepares the prototype's responses at a few frequencies hz (Hz).
func (p *Ideal) Near(hz []float64) Responder {
	return Direct(func(dst []complex128, way int, c Combination) { biquad.AnalogAt(dst, p.paths[way], c, hz) })
}

// Landmarks are the poles, zeros and corners of a way.
func (p *Ideal) Landmarks(way int) []Landmark {
	var out []Landmark
	for _, s := range p.paths[way].Slots {
		for _, a := range s.Alt {
			if a.Order() == 0 {
				continue
			}
			out = append(out, Landmark{Hz: a.Keep / (2 * math.Pi)}, Landmark{Hz: a.W0 / (2 * math.Pi)})
			for _, r := range append(a.Poles(), a.Zeros()...) {
				out = append(out, Landmark{magnitude(r) / (2 * math.Pi), magnitude(r) / (2 * math.Abs(real(r)))})
			}
		}
	}
	return out
}

// responders makes each way's responder when it is first asked.
type responders struct {
	ways []*biquad.Responder
	make func(way int) *biquad.Responder
}

// EachWay responds by a responder for each of n ways, made when it is first
// asked: a zoom looks at one way of many.
func EachWay(n int, of func(way int) *biquad.Responder) Responder {
	return &responders{ways: make([]*biquad.Responder, n), make: of}
}

// Response implements Responder.
func (r *responders) Response(dst []complex128, way int, c Combination) {
	if r.ways[way] == nil {
		r.ways[way] = r.make(way)
	}
	r.ways[way].Response(dst, c)
}

func magnitude(z complex128) float64 { return math.Hypot(real(z), imag(z)) }

// choices spells out a combination for the settings in axes.
func (s *Subject) choices(axes []biquad.Axis, c Combination) []Choice {
	out := []Choice{}
	for _, ax := range axes {
		set := s.Settings[ax.Setting]
		out = append(out, Choice{set.Name, set.Choices[c[ax.Setting]]})
	}
	return out
}

// Choices spells out the combination of a case, for the settings that its way depends on.
func (s *Subject) Choices(c Case) []Choice { return s.choices(s.WayAxes[c.Way], c.C) }

// touches reports whether c leaves every setting outside axes at its default,
// so that each distinct combination of axes is met once among all.
func touches(axes []biquad.Axis, c Combination) bool {
	for k, v := range c {
		if v != 0 && !slices.ContainsFunc(axes, func(a biquad.Axis) bool { return a.Setting == k }) {
			return false
		}
	}
	return true
}

// Cases are, for each way, one without a combination and then every combination
// of its own settings that is to be looked at.
func (s *Subject) Cases() []Case {
	var out []Case
	for way, axes := range s.WayAxes {
		out = append(out, Case{Way: way})
		seen := map[string]bool{}
		s.each(axes, func(c Combination) {
			own := make(Combination, len(c))
			for _, ax := range axes {
				own[ax.Setting] = c[ax.Setting]
			}
			if !seen[string(own)] {
				seen[string(own)] = true
				out = append(out, Case{way, own})
			}
		})
	}
	return out
}

// ChoicesOfAll spells out a combination for the settings that any way depends on.
func (s *Subject) ChoicesOfAll(c Combination) []Choice { return s.choices(s.AllAxes, c) }

// Combinations calls f with every combination of all settings that is to be looked at; f
// must not keep the slice.
func (s *Subject) Combinations(f func(Combination)) { s.each(s.AllAxes, f) }

// Splits calls f with every combination of the settings of the ways' own filters that is to be
// looked at, each once and the other settings at their default; f must not keep the slice.
func (s *Subject) Splits(f func(Combination)) {
	seen := map[string]bool{}
	own := make(Combination, len(s.Settings))
	s.each(s.SplitAxes, func(c Combination) {
		for _, ax := range s.SplitAxes {
			own[ax.Setting] = c[ax.Setting]
		}
		if !seen[string(own)] {
			seen[string(own)] = true
			f(own)
		}
	})
}

// ChoicesOfSplit spells out a combination of Splits.
func (s *Subject) ChoicesOfSplit(c Combination) []Choice { return s.choices(s.SplitAxes, c) }

// each calls f with every combination of the settings in axes that is to be
// looked at.
func (s *Subject) each(axes []biquad.Axis, f func(Combination)) {
	if s.Only == nil {
		biquad.Each(axes, len(s.Settings), f)
		return
	}
	for _, c := range s.Only {
		f(c)
	}
}
