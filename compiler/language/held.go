package language

import (
	"math"
	"slices"
)

// Held is the file of a board as it is laid out, checked for grammar: what was chosen
// for each stage, so that it need not be chosen again. References and the numbers of
// stages are identities, not positions.
type Held struct {
	File    string
	Source  []byte // as read; not to be changed
	Name    string // of the spec
	NamePos Pos
	// Common is what stands before the ways split, block 1.
	Common HeldChain
	Ways   []HeldWay
	// Written are the values (ohm or farad) of resistors and capacitors by reference, as
	// the program wrote them: a part whose value is another now was changed by hand.
	Written map[string]float64
}

// HeldWay is one way's part of a held board.
type HeldWay struct {
	Name string
	HeldChain
}

// HeldChain is stages in series, with the parts at its ends.
type HeldChain struct {
	Pos    Pos // of the key `common`, or of the way's name
	Block  int // the first digits of its references: 1 for the common one
	Ends   []HeldEnd
	Places []HeldPlace
}

// HeldEnd is a resistor or capacitor of an input, an output or a selector.
type HeldEnd struct {
	Pos  Pos
	Use  string // one of HeldUses
	Of   string // of a bleed: the selector that it stands behind
	Part HeldPart
}

// HeldPlace is one place of a chain: a stage, or what a selector picks from.
type HeldPlace struct {
	Pos      Pos
	Selector string // the reference of its pole; "" where the place is fixed
	// Switched places have one stage, of which the selector switches an element: it begins
	// every alternative, with the same parts and what it is asked for there.
	Switched bool
	// Alternatives are stages in series by the selector's position, none for a wire. A
	// fixed place has one, of one stage.
	Alternatives [][]HeldStage
}

// HeldStage is one op-amp stage.
type HeldStage struct {
	Pos    Pos
	Number int    // inside its block
	Role   string // one of HeldRoles
	For    string // what it serves, in the spec's own words
	// W0, B and A are the section that it was chosen for, as biquad.Analog has it; Level
	// is the gain that it has beside that, ≠ 0, negative where it inverts.
	W0    float64
	B, A  [3]float64
	Level float64
	// Topology is a row of Tables.Topologies, or for the input of Tables.Balanced.
	Topology    string
	TopologyPos Pos
	Parts       []HeldPart
	OpAmps      []HeldPart
}

// HeldPart is a part of a held board.
type HeldPart struct {
	Pos      Pos // of the reference
	Ref      string
	Dim      Dim     // Resistance or Capacitance; "" of an op-amp
	Value    float64 // ohm or farad; 0 of an op-amp
	ValuePos Pos
}

// HeldUses are what a part outside of the stages can be there for.
var HeldUses = []string{"coupling", "rf-filter", "series", "bias", "trim", "trim-shunt", "build-out", "discharge", "gate", "bleed"}

// HeldRoles are what a stage can be there for.
var HeldRoles = []string{"input", "filter", "delay", "gain", "polarity"}

// Fault makes a diagnostic about a place in the file, for the stages behind ParseHeld.
// With the zero Pos it is about the file as a whole.
func (h *Held) Fault(sev Severity, at Pos, message, right string) Fault {
	return Fault{Severity: sev, File: h.File, Pos: at, Line: lineOf(h.Source, at.Line), Message: message, Right: right}
}

// Misnamed is the fault of a board that was held for a spec of another name, and
// whether there is one.
func (h *Held) Misnamed(spec string) (Fault, bool) {
	return h.Fault(Error, h.NamePos, quoted(h.Name)+" is not the name of the spec: this is the board of another one",
		"write "+code("name: "+spec)+", or name another file in the spec's `board.held`"), h.Name != spec
}

// What a held board may have.
const (
	heldVersion = 1
	maxBlock    = 99
	maxNumber   = 999  // of stages in a block
	maxServed   = 4000 // characters of what a stage serves: many filters, each with all its keys
	mostHz      = 1e12 // of a section, as 1/leastHz
)

// ohms and farads are the values that a part of a held board may have: what a spec's
// stock may have and what may stand at the ends.
var ohms, farads = within(Resistance, 1e-3, 1e9), within(Capacitance, 1e-12, 1)

// heldGrammar is the file of a held board as one type.
func heldGrammar(lang Tables) Type {
	ends := Key{Name: "ends", Effect: RealisesBoard, Doc: "The parts of the input, the outputs and the selectors, by reference.", Example: "{C10001: {use: coupling, value: 10 uF}}",
		Type: Type{Parts: []PartType{{"R", Type{Keys: endKeys(ohms, "100 kohm", "series", "bias", "trim", "trim-shunt", "build-out", "discharge", "gate", "bleed")}}, {"C", Type{Keys: endKeys(farads, "10 uF", "coupling", "rf-filter")}}}}}
	stage := stageKeys(lang)
	series := Type{List: &Type{Keys: stage}}
	stages := Key{Name: "stages", Effect: RealisesBoard, Doc: "The op-amp stages in the order of the signal.", Example: "[" + (&Type{Keys: stage}).example() + "]",
		Type: Type{List: &Type{Either: []Type{
			{Keys: stage},
			{Keys: []Key{
				{Name: "selector", Effect: RealisesBoard, Type: Type{Reference: "S"}, Required: true,
					Doc: "Reference of the selector's pole that picks one of the positions: the settings that work one position work one selector.", Example: "S1A"},
				{Name: "positions", Effect: RealisesBoard, Type: Type{List: &series, MinLen: 2}, Required: true,
					Doc: "The stages behind each position in the order of the signal; [] for a wire.", Example: "[[], []]"},
			}},
			{Keys: []Key{
				{Name: "selector", Effect: RealisesBoard, Type: Type{Reference: "S"}, Required: true,
					Doc: "Reference of the selector's pole that switches an element of the stage.", Example: "S1A"},
				{Name: "switches", Effect: RealisesBoard, Type: Type{Keys: builtKeys(lang)}, Required: true,
					Doc: "The stage of which it switches an element.", Example: (&Type{Keys: builtKeys(lang)}).example()},
				{Name: "states", Effect: RealisesBoard, Type: Type{List: &Type{Keys: askedKeys()}, MinLen: 2}, Required: true,
					Doc: "What the stage is asked for in each position.", Example: "[" + (&Type{Keys: askedKeys()}).example() + ", " + (&Type{Keys: askedKeys()}).example() + "]"},
				{Name: "behind", Effect: RealisesBoard, Type: series,
					Doc: "Stages behind it in every position.", Example: "[" + (&Type{Keys: stage}).example() + "]"},
			}},
		}}}}
	block := Key{Name: "block", Effect: RealisesBoard, Type: Type{Integer: true, Min: 2, Max: maxBlock}, Required: true,
		Doc: "The number that the way's references begin with, 2 to 99.", Example: "2"}
	return Type{Keys: []Key{
		{Name: "bandwright-board", Effect: Inert, Type: Type{Integer: true, Min: heldVersion, Max: heldVersion}, Required: true,
			Doc: "The version of this file's language.", Example: "1"},
		{Name: "name", Effect: Inert, Type: Type{Stem: true}, Required: true, Doc: "The name of the spec.", Example: "heron"},
		{Name: "common", Effect: RealisesBoard, Type: Type{Keys: []Key{ends, stages}}, Required: true,
			Doc: "The input and what stands before the ways split; the references begin with 1.", Example: "{}"},
		{Name: "ways", Effect: RealisesBoard, Type: Type{Map: &Type{Keys: []Key{block, ends, stages}}, Name: true, MinLen: 1, MaxLen: maxBlock - 1}, Required: true,
			Doc: "What each way is built of.", Example: "{bass: {block: 2}}"},
		{Name: "written", Effect: Inert, Type: Type{List: &Type{Keys: []Key{
			{Name: "value", Effect: Inert, Type: Type{Dims: []Dim{Resistance, Capacitance}, Open: true}, Required: true, Doc: "A resistance or a capacitance.", Example: "10 kohm"},
			{Name: "of", Effect: Inert, Type: Type{List: &Type{Reference: "RC"}}, Required: true, Doc: "The parts that had it.", Example: "[R10101, R10102]"},
		}}}, Doc: "The values that `bandwright hold` wrote: what differs from them was changed by hand.", Example: "[{value: 10 kohm, of: [R10101]}]"},
	}}
}

// endKeys are the keys of a part outside of the stages.
func endKeys(value Type, example string, uses ...string) []Key {
	keys := []Key{
		{Name: "use", Effect: RealisesBoard, Type: Type{Words: uses}, Required: true, Doc: "What the part is there for.", Example: uses[0]},
		{Name: "value", Effect: RealisesBoard, Type: value, Required: true, Doc: "Its value.", Example: example},
	}
	if slices.Contains(uses, "bleed") {
		keys = append(keys, Key{Name: "of", Effect: RealisesBoard, Type: Type{Reference: "S"}, Doc: "Of a bleed resistor: the selector that it stands behind.", Example: "S1A"})
	}
	return keys
}

// stageKeys are the keys of a stage: builtKeys and askedKeys.
func stageKeys(lang Tables) []Key {
	built := builtKeys(lang)
	return slices.Concat(built[:1], askedKeys(), built[1:])
}

// askedKeys are the keys of what a stage is asked for.
func askedKeys() []Key {
	coefficients := func(name, example string) Key {
		return Key{Name: name, Effect: RealisesBoard, Type: Type{List: &Type{Number: true}, MinLen: 1, MaxLen: 3}, Required: true,
			Doc: "Coefficients of the " + name + " in powers of s/w0, the highest first.", Example: example}
	}
	numerator, denominator := coefficients("numerator", "[1, 0, 0]"), coefficients("denominator", "[1, 1.4, 1]")
	return []Key{
		{Name: "role", Effect: RealisesBoard, Type: Type{Words: HeldRoles}, Default: "filter", Doc: "What the stage is there for.", Example: "gain"},
		{Name: "for", Effect: RealisesBoard, Type: Type{Text: true, MaxLen: maxServed}, Required: true,
			Doc: "What the stage serves, in the words of the spec.", Example: `"high-pass {family: butterworth, order: 2, at: 22 Hz}"`},
		{Name: "section", Effect: RealisesBoard, Doc: "What the stage was chosen for; a gain of 1 by default.", Example: "{at: 22 Hz, numerator: [1, 0, 0], denominator: [1, 1.4, 1]}", Type: Type{Either: []Type{
			{Keys: []Key{{Name: "at", Effect: RealisesBoard, Type: within(Frequency, 1/mostHz, mostHz),
				Doc: "w0/(2 pi), Hz; not of a constant.", Example: "22 Hz"}, numerator, denominator}},
			{Keys: []Key{{Name: "w0", Effect: RealisesBoard, Type: Type{Number: true, Min: 1 / mostHz, Max: 2 * math.Pi * mostHz}, Required: true,
				Doc: "w0 in rad/s, where no frequency in Hz says it exactly.", Example: "138.2"}, numerator, denominator}},
		}}},
		{Name: "level", Effect: RealisesBoard, Type: Type{Number: true}, Default: "1",
			Doc: "The gain that the stage has beside its section, a plain factor, negative where it inverts.", Example: "-1"},
	}
}

// builtKeys are the keys of what a stage is.
func builtKeys(lang Tables) []Key {
	return []Key{
		{Name: "stage", Effect: RealisesBoard, Type: Type{Integer: true, Min: 1, Max: maxNumber}, Required: true,
			Doc: "The stage's number inside its block, which its references have.", Example: "2"},
		{Name: "topology", Effect: RealisesBoard, Type: Type{Words: slices.Concat(names(lang.Topologies), names(lang.Balanced), names(lang.Switched))}, Required: true,
			Doc: "The op-amp topology.", Example: first(lang.Topologies)},
		{Name: "parts", Effect: RealisesBoard, Type: Type{Parts: []PartType{{"R", ohms}, {"C", farads}}},
			Doc: "The values of its resistors and capacitors by reference.", Example: "{R10201: 10 kohm, C10201: 10 nF}"},
		{Name: "op-amps", Effect: RealisesBoard, Type: Type{List: &Type{Reference: "U"}},
			Doc: "The references of its op-amps.", Example: "[U102B]"},
	}
}

// Chains lists the common chain and those of the ways, by name.
func (h *Held) Chains() []HeldWay {
	return append([]HeldWay{{"common", h.Common}}, h.Ways...)
}

// Parts are the values (ohm or farad) by reference of the resistors and capacitors of
// some chains, ways or "common", of all where none is named.
func (h *Held) Parts(chains []string) map[string]float64 {
	out := map[string]float64{}
	for _, c := range h.Chains() {
		if chains != nil && !slices.Contains(chains, c.Name) {
			continue
		}
		for _, e := range c.Ends {
			out[e.Part.Ref] = e.Part.Value
		}
		for _, p := range c.Places {
			for _, stages := range p.Alternatives {
				for _, s := range stages {
					for _, x := range s.Parts {
						out[x.Ref] = x.Value
					}
				}
			}
		}
	}
	return out
}
