package board

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/netlist"
	"bandwright/compiler/parallel"
	"bandwright/compiler/words"
)

const (
	// overloadPerOctave is the density of the frequencies that op-amps' outputs are
	// looked at, a twelfth of an octave beside a true maximum of a Q of 3 or less.
	overloadPerOctave = 12
	// overloadCombinations is how many combinations of settings are looked at: all,
	// or the first so many.
	overloadCombinations = 64
)

// overloads says which op-amps cannot follow the largest sine at the input: the
// one that clips first, the one whose inputs leave their common-mode range first,
// and the one that is too slow first, in any combination of settings; nothing
// where all can.
func (b *Board) overloads(j Job) []string {
	circuit := b.wiring.circuit
	type worst struct {
		over, hz, peak float64 // share of the limit, and where
		ref            string
	}
	var clip, slew, common worst
	peak := j.Spec.Input.LevelV * math.Sqrt2
	var axes []biquad.Axis
	for k, n := range b.Choices {
		axes = append(axes, biquad.Axis{Setting: k, Choices: n})
	}
	var all []biquad.Combination
	biquad.Each(axes, len(b.Choices), func(c biquad.Combination) {
		if len(all) < overloadCombinations {
			all = append(all, slices.Clone(c))
		}
	})
	worsts := make([][3]worst, len(all))
	parallel.Each(len(all), func(i int) {
		s := b.wiring.in(all[i])
		clip, slew, common := &worsts[i][0], &worsts[i][1], &worsts[i][2]
		for hz := j.LowHz; hz <= j.HighHz; hz *= math.Exp2(1.0 / overloadPerOctave) {
			if s.At(hz) != nil {
				continue
			}
			for _, p := range circuit.Parts() {
				if p.Kind != netlist.Amplifier {
					continue
				}
				if in := peak * cmplx.Abs(s.Voltage(p.Nodes[0])); p.Model.CommonModeV > 0 && in > common.over*p.Model.CommonModeV {
					*common = worst{in / p.Model.CommonModeV, hz, in, p.Ref}
				}
				v := peak * cmplx.Abs(s.Voltage(p.Nodes[2]))
				if over := v / p.Model.SwingV; p.Model.SwingV > 0 && over > clip.over {
					*clip = worst{over, hz, v, p.Ref}
				}
				if over := v * 2 * math.Pi * hz / p.Model.SlewVPerS; p.Model.SlewVPerS > 0 && over > slew.over {
					*slew = worst{over, hz, v, p.Ref}
				}
			}
		}
	})
	for _, w := range worsts {
		for k, all := range []*worst{&clip, &slew, &common} {
			if w[k].over > all.over {
				*all = w[k]
			}
		}
	}
	var out []string
	if clip.over > 1 {
		out = append(out, fmt.Sprintf("%s clips before the input reaches its level: %s of it would swing %s at %s, and %s is the limit; lower `input.level` to %s, or cut before that stage",
			clip.ref, words.Part(j.Spec.Input.LevelV, "V"), words.Part(clip.peak, "V"), words.Hz(clip.hz), words.Part(j.Spec.OpAmp.SwingV, "V"), words.Part(j.Spec.Input.LevelV/clip.over, "V")))
	}
	if common.over > 1 {
		out = append(out, fmt.Sprintf("the inputs of %s leave their range at the input's level: %s at %s, and %s is the limit", common.ref,
			words.Part(common.peak, "V"), words.Hz(common.hz), words.Part(j.Spec.OpAmp.CommonModeV, "V")))
	}
	if slew.over > 1 {
		out = append(out, fmt.Sprintf("%s is too slow for the input's level: %s at %s changes by %s V/us, and the op-amp by %s", slew.ref, words.Part(slew.peak, "V"),
			words.Hz(slew.hz), words.Short(slew.over*j.Spec.OpAmp.SlewVPerS/1e6), words.Short(j.Spec.OpAmp.SlewVPerS/1e6)))
	}
	return out
}
