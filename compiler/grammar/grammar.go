// Package grammar is the spec language as the tables of filters, methods, formats, topologies and
// promises make it. It stands by itself, below all that compiles, so that tests of the language
// need nothing of that.
package grammar

import (
	"bandwright/biquad/discretize"
	"bandwright/biquad/engine"
	"bandwright/biquad/number"
	"bandwright/compiler/acoustic"
	"bandwright/compiler/circuit"
	"bandwright/compiler/language"
	"bandwright/compiler/promise"
	"bandwright/compiler/prototype"
)

// Language is the spec language as the tables of kinds, methods and formats
// make it.
func Language() language.Tables {
	l := language.Tables{Kinds: prototype.Rows(), LowPass: "low-pass", HighPass: "high-pass"}
	l.DefaultMethod = discretize.Methods()[0].Name
	for _, m := range discretize.Methods() {
		l.Methods = append(l.Methods, language.Named{Name: m.Name, Doc: m.Doc})
	}
	for _, f := range number.Formats {
		l.Formats = append(l.Formats, language.Named{Name: f.Name, Doc: f.Doc})
	}
	l.Dither = [2]int{number.LeastDither, number.MostDither}
	l.Engines = language.Engines{Word: [2]int{engine.LeastWord, engine.MostWord}, Data: [2]int{engine.LeastData, engine.MostData},
		Accumulator: [2]int{engine.LeastAccumulator, engine.MostAccumulator}}
	for _, f := range engine.Forms {
		l.Engines.Forms = append(l.Engines.Forms, language.Named{Name: f.Name, Doc: f.Doc})
	}
	for _, s := range engine.Sequences {
		l.Engines.Sequences = append(l.Engines.Sequences, language.Named{Name: s.Name, Doc: s.Doc})
	}
	for _, t := range circuit.Topologies {
		row := language.Named{Name: t.Name, Doc: t.Doc}
		if t.Balanced {
			l.Balanced = append(l.Balanced, row)
			continue
		}
		l.Topologies = append(l.Topologies, row)
	}
	tapped := circuit.TappedGain(2, false, false)
	l.Switched = []language.Named{{Name: tapped.Name, Doc: tapped.Doc}, {Name: circuit.SwitchedSumName, Doc: circuit.SwitchedSumDoc},
		{Name: circuit.SwitchedPairName, Doc: circuit.SwitchedPairDoc}, {Name: circuit.TappedFilterName, Doc: circuit.TappedFilterDoc},
		{Name: circuit.TappedShelfName, Doc: circuit.TappedShelfDoc}}
	l.Promises = promise.Keys()
	l.Mountings, l.Wirings = acoustic.Named()
	return l
}
