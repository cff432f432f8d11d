package compare

import (
	"slices"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/language"
	"bandwright/compiler/result"
	"bandwright/compiler/words"
)

// scope is where two loudspeakers are compared: the combinations of settings
// that both offer, and frequencies over both promised bands, all that is heard
// included.
type scope struct {
	tol    Tolerances
	downTo float64 // dB, how far below its peak a way still counts
	hz     []float64
	combos []combination
	// nearOnly leaves out phase where no neighbour is near in level, as promises of
	// realisations do.
	nearOnly bool
}

// combination is one of the choices that both offer, the default first.
type combination struct {
	joint biquad.Combination // in the settings of both prototypes; empty where they are not known
	// old and new are by name, for each side with the default of a setting that
	// only it has.
	old, new map[string]string
}

const (
	scopePerOctave = 48
	// mostCombinations is up to how many combinations of settings are compared all,
	// as many as a board is analysed in; of more every two settings together.
	mostCombinations = 64
	// usualLowHz and usualHighHz (Hz) are compared whatever is promised.
	usualLowHz, usualHighHz = 20, 20e3
	// heardDB is how far below its peak a way, or the sum below the ways'
	// magnitudes, is compared first (dB): lower it neither sums nor is heard.
	heardDB = -20.0
	// leastDB, leastDeg and leastS are the changes that are told: what the
	// tables resolve.
	leastDB, leastDeg, leastS = 0.001, 0.01, 1e-9
	// littleDB and littleDeg are what arithmetic leaves of a response that did not change at all.
	littleDB, littleDeg = 1e-9, 1e-7
)

// share finds the combinations that both offer, of the settings that either
// prototype depends on; of all where they are not known.
func (c *comparison) share() {
	var joint []language.Setting
	var axes []biquad.Axis
	if c.from != nil {
		joint, axes = c.to.Spec.Settings, append(c.from.Prototype.Axes(), c.to.Prototype.Axes()...)
	}
	matters := func(name string) bool {
		return c.from == nil || slices.ContainsFunc(axes, func(a biquad.Axis) bool { return joint[a.Setting].Name == name })
	}
	var shared []result.Setting
	for _, s := range c.old.Settings {
		if both := c.both(s.Name); both != nil && matters(s.Name) {
			shared = append(shared, result.Setting{Name: s.Name, Choices: both})
		}
	}
	for _, m := range result.Combinations(shared, mostCombinations) {
		at := combination{make(biquad.Combination, len(joint)), named(m, c.old.Settings), named(m, c.new.Settings)}
		for i, s := range joint {
			if k := slices.IndexFunc(s.Choices, func(v *language.Value) bool { return v.Text == m[s.Name] }); k > 0 {
				at.joint[i] = uint8(k)
			}
		}
		c.combos = append(c.combos, at)
	}
}

// both are the choices of a setting that both results have, as the old one
// orders them.
func (c *comparison) both(name string) (out []string) {
	choices := func(a *result.Accepted) []string {
		for _, s := range a.Settings {
			if s.Name == name {
				return s.Choices
			}
		}
		return nil
	}
	new := choices(c.new)
	for _, x := range choices(c.old) {
		if slices.Contains(new, x) {
			out = append(out, x)
		}
	}
	return out
}

// named is a combination of shared settings in all that one side has.
func named(shared map[string]string, settings []result.Setting) map[string]string {
	m := map[string]string{}
	for _, s := range settings {
		m[s.Name] = s.Choices[0]
		if x, ok := shared[s.Name]; ok {
			m[s.Name] = x
		}
	}
	return m
}

// narrow are the places of narrow filters (Hz), so that none falls between two
// frequencies.
func (c *comparison) narrow() (hz []float64) {
	for _, w := range []*compiler.Wanted{c.from, c.to} {
		if w == nil {
			continue
		}
		p := w.Subject().Prototype
		for k := range w.Prototype.Ways {
			for _, l := range p.Landmarks(k) {
				if l.Q > scopePerOctave/4 {
					hz = append(hz, l.Hz*(1-0.5/l.Q), l.Hz, l.Hz*(1+0.5/l.Q))
				}
			}
		}
	}
	return hz
}

// where names the choices of a combination that are not the defaults.
func (c *comparison) where(combo int) string {
	var out []string
	m := c.choices(combo)
	for _, s := range c.new.Settings {
		if v, ok := m[s.Name]; ok {
			out = append(out, s.Name+" "+v)
		}
	}
	if out == nil {
		return ""
	}
	return " with " + words.List(out)
}

// choices are those of a combination that are not the defaults; nil for none.
func (c *comparison) choices(combo int) map[string]string {
	var m map[string]string
	for name, v := range c.combos[combo].new {
		if v == c.combos[0].new[name] {
			continue
		}
		if m == nil {
			m = map[string]string{}
		}
		m[name] = v
	}
	return m
}
