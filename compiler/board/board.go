// Package board turns a prototype into a board of op-amp stages: the signal
// chain from the input to every way's output, topologies and values chosen,
// polarity and level put right, settings as contacts. A Job goes in, a Board
// comes out, which is a realisation to be judged like any other: its response
// is the nodal analysis of its own parts with the real op-amp, never a design
// equation.
//
// The one invariant: what Circuit holds, what the parts list counts and what
// Response analyses are the same parts.
//
// Read first: Job, Board, Stage; then Make.
package board

import (
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
	"bandwright/compiler/language"
	"bandwright/compiler/netlist"
	"bandwright/compiler/stage"
	"bandwright/compiler/verify"
)

// Job is what a board has to do and what it may be built from.
type Job struct {
	System biquad.System[biquad.Analog] // the prototype
	// Wishes are the topologies that filters name, by the filters' labels.
	Wishes map[string]string
	Spec   *language.Board
	Means  circuit.Means
	// LowHz and HighHz are the band that promises hold in.
	LowHz, HighHz float64
	// LimitDB and SumLimitDB are the errors (dB) that are promised of every way
	// and of the sum.
	LimitDB, SumLimitDB float64
	// SumOff says that nothing is promised of the sum: a held board is not changed for it.
	SumOff bool
	// FewDB and FewSumDB are what few values may use up (dB): the wish for them or a
	// tighter promise, or a share of the promises; 0 where few are not looked for.
	FewDB, FewSumDB float64
	// FewRoom has few values leave room for later edits: switched stages, whose values are kept by
	// themselves, are by themselves within what an edit may leave of them.
	FewRoom bool
	// Exactly says why few values are not looked for although the spec asks for them, "" where they are.
	Exactly string
	// PhaseRad is the error of phase (rad, > 0) that is promised of every way where it
	// meets a neighbour, and FewPhaseRad what few values may use up of it; 0 where
	// nothing is promised.
	PhaseRad, FewPhaseRad float64
	// DelayToHz is, for each way, up to where its delay matters (0: nowhere), and
	// DelayRad how exact all-passes for it have to be there (rad).
	DelayToHz []float64
	DelayRad  float64
	// Choices is how many choices each setting has.
	Choices []int
	// Cases are those that the board is judged in.
	Cases []verify.Case
	// Held is the board as it is laid out, nil for none, and Anew are the chains of it,
	// ways or "common", that are chosen anew all the same.
	Held *language.Held
	Anew []string
	// Loose has the values of held stages whose lines changed chosen as those of new
	// stages are, not the fewest changed.
	Loose bool
	// Without are values that the stock has no more.
	Without []Value
	// Planner has what was worked out for other boards of the same stock, op-amps and band; nil for
	// nothing.
	Planner *Planner
	// drop are held stages that no values can be found for: they are built another way.
	drop map[*language.HeldStage]bool
	// Says gives filters' labels in the spec's own words.
	Says map[string]string
}

// Value is the value of a resistor (ohm) or a capacitor (farad).
type Value struct {
	Kind  netlist.Kind
	Value float64
}

// Board is a finished board.
type Board struct {
	Spec  *language.Board
	OpAmp netlist.OpAmp
	// Common holds the input and what stands before the ways split.
	Common Chain
	Ways   []Way
	// Packages are the op-amps' packages, block by block.
	Packages []Package
	// Supply are the capacitors between the rails and ground.
	Supply []Part
	// DelayS is how much later every way is than its prototype (s): negative, as
	// a delay that all ways share is not built.
	DelayS float64
	// LowHz is where analysis begins.
	LowHz    float64
	Cautions []string
	// Kept is what became of the held board, nil where none is held.
	Kept *Kept

	bandHz     [2]float64 // that promises hold in
	restOhm    float64    // of what gives nodes their direct current
	peakV      float64    // the greatest voltage behind the input, at its level
	trim       *trimmer   // of each way, nil for none
	manyValues string     // why few-values has no effect, "" where it has one or is not wished
	// boundValues says which promise few values kept to and not the wish, "" for none.
	boundValues string
	planner     *Planner // that its stages were chosen with
	exactValues int      // how many different values there were before few were found, 0 where none were
	wiring      *wiring
}

// Way is one way's part of the board.
type Way struct {
	Name string
	Chain
	// DelayS is the delay that its all-passes stand for (s).
	DelayS float64
}

// Chain is stages in series, with the parts at its end.
type Chain struct {
	Block     int // 1 is the input and the common filters, 2 the first way, …
	Positions []Position
	// Ends are the parts of inputs and outputs, in the order of the signal, then
	// those of the selectors.
	Ends []Part
	// In and Out are the nodes at either end.
	In, Out string
}

// Position is one place of a chain: what every combination of settings has
// there.
type Position struct {
	biquad.Slot[Alternative]
	// Selector is the reference of the pole that picks the alternative, "" for a fixed
	// position, and held what a held board calls it, "" for a new one.
	Selector, held string
	In, Out        string // nodes
}

// Alternative is stages in series; none stand for a wire.
type Alternative struct {
	Stages []*Stage
	Out    string // its own output: before the contact, if that picks whole stages
}

// Stage is one op-amp stage.
type Stage struct {
	Block, Number int
	From          string
	Role          Role
	// Candidate is the topology with what it is asked to be, level included, and the
	// values in stock.
	stage.Candidate
	// Own is the filter's section, where Section has a way's gain inside as well.
	Own biquad.Analog
	// Refs are the references of the template's elements, "" where not fitted.
	Refs []string
	held *language.HeldStage // what a held board has of it, nil for a new stage
	// gone marks values, as Candidate.Values has them, that can not be had any more, nil
	// for none, and byHand says that one of its values was changed by hand.
	gone   []bool
	byHand bool
	// replaces is the held stage of another topology that stood here, nil for none.
	replaces *language.HeldStage
	// In, InN and Out are nodes; InN is "" unless the stage is balanced.
	In, InN, Out string
	// Body is the switched stage that this one is a state of, nil for a stage by itself: it
	// has the parts, and they share number, nodes and references. Throw is the node of its
	// template that the selector then connects with circuit.Pole, "" for none.
	Body  *Stage
	Throw string
	// Switches is set of a switched stage itself, which is the Body of its states.
	Switches bool
	// list are the candidates of a state whose values are chosen with those of other stages,
	// which the other states then have too; nil of one whose values stand.
	list []stage.Candidate
	// variety is what else the values of a switched stage may be, of a switched-sum those of
	// each state; nil where they stand.
	variety *variety
	// Why says why this topology, in words.
	Why string
}

// Role says what a stage is there for.
type Role uint8

// The roles.
const (
	InputStage Role = iota
	FilterStage
	DelayStage
	GainStage
	PolarityStage
)

// String is the role in words.
func (r Role) String() string {
	return [...]string{"input", "filter", "delay", "gain", "polarity"}[r]
}

// Part is a part of an input, an output, a selector or the supply.
type Part struct {
	Ref   string
	Kind  netlist.Kind
	Value float64 // ohm or farad; 0 of what is neither resistor nor capacitor
	Use   Use
	// A and B are nodes: of a diode anode and cathode, of a transistor drain and source.
	// Control is what drives a relay's coil, whose other end is at ground, or the gate.
	A, B    string
	Control string
	// TrackOhm is all of a trimmer, whose Value is what it has in the middle of its range in
	// dB; 0 of what is none.
	TrackOhm float64
	Of       string // the pole of a selector that a bleed resistor is behind, else ""
	Outside  bool   // belongs to the source or to what follows, not to the board
}

// Use is what a part outside of the stages is there for.
type Use string

// The uses.
const (
	SourceResistance Use = "source"
	SeriesResistance Use = "series"
	RFFilter         Use = "rf-filter"
	Clamp            Use = "clamp"
	Coupling         Use = "coupling"
	Bias             Use = "bias"
	Trim             Use = "trim"
	TrimShunt        Use = "trim-shunt"
	BuildOut         Use = "build-out"
	Discharge        Use = "discharge"
	Muting           Use = "mute"
	Flyback          Use = "flyback"
	Gate             Use = "gate"
	Load             Use = "load"
	Bleed            Use = "bleed"
	Wire             Use = "wire"
	Decoupling       Use = "decoupling"
	Bulk             Use = "bulk"
)

// Obstacle says why a part of a board cannot be built.
type Obstacle struct {
	From string // the label of the filter, "" for the board
	// Wish is true where the filter names a topology that it cannot be.
	Wish           bool
	Message, Right string
}

// Chains lists the common chain and every way's.
func (b *Board) Chains() []*Chain {
	out := []*Chain{&b.Common}
	for k := range b.Ways {
		out = append(out, &b.Ways[k].Chain)
	}
	return out
}

// NameOf is what reports call a chain: "common", or the name of its way.
func (b *Board) NameOf(c *Chain) string {
	if k := b.wayOf(c); k >= 0 {
		return b.Ways[k].Name
	}
	return "common"
}

// wayOf is the index of a chain's way, -1 for the common stages. Blocks are no
// indices: those of a held board stay where ways come and go.
func (b *Board) wayOf(c *Chain) int {
	return slices.IndexFunc(b.Ways, func(w Way) bool { return w.Block == c.Block })
}

// Stages lists a chain's stages in order, alternatives one after another. Of a switched
// stage that is one for each of its states.
func (c *Chain) Stages() []*Stage {
	var out []*Stage
	for i := range c.Positions {
		out = append(out, c.Positions[i].Stages()...)
	}
	return out
}

// Stages lists a position's stages in order, alternatives one after another.
func (p *Position) Stages() []*Stage {
	var out []*Stage
	for _, a := range p.Alt {
		for _, s := range a.Stages {
			if !slices.Contains(out, s) {
				out = append(out, s)
			}
		}
	}
	return out
}

// Built lists the stages that are built, as Stages but for switched ones: once each,
// whatever states they have.
func (c *Chain) Built() []*Stage {
	var out []*Stage
	for i := range c.Positions {
		out = append(out, c.Positions[i].Built()...)
	}
	return out
}

// Built is Chain.Built of one position.
func (p *Position) Built() []*Stage {
	var out []*Stage
	for _, s := range p.Stages() {
		if s.Body != nil {
			s = s.Body
		}
		if !slices.Contains(out, s) {
			out = append(out, s)
		}
	}
	return out
}

// AltsOf lists the alternatives that a stage of Built is part of.
func (p *Position) AltsOf(s *Stage) []int {
	var out []int
	for k, a := range p.Alt {
		if slices.ContainsFunc(a.Stages, func(x *Stage) bool { return x == s || x.Body == s }) {
			out = append(out, k)
		}
	}
	return out
}

// Throw is the node that the selector of a switched stage connects with its pole in an
// alternative, "" for none, and that of the pole.
func (p *Position) Throw(alt int) (throw, pole string) {
	body := p.Switched()
	if t := p.Alt[alt].Stages[0].Throw; t != "" {
		throw = body.Node(t)
	}
	return throw, body.Node(circuit.Pole)
}

// Switched is the stage of which a position's selector switches an element, nil where it
// picks whole stages, or where there is none.
func (p *Position) Switched() *Stage {
	if len(p.By) == 0 || len(p.Alt[0].Stages) == 0 {
		return nil
	}
	return p.Alt[0].Stages[0].Body
}

// Placed is a part of a stage on the board: a resistor or capacitor with its value
// (ohm or farad), or an op-amp.
type Placed struct {
	Kind  netlist.Kind
	Ref   string
	Value float64 // 0 of an op-amp
}

// Placed lists the parts of a stage that are fitted, in the order of its template.
func (s *Stage) Placed() []Placed {
	var out []Placed
	values := s.Values
	for i, e := range s.Topology.Template {
		x := Placed{Kind: e.Kind, Ref: s.Refs[i]}
		if e.Kind != netlist.Amplifier {
			x.Value, values = values[0], values[1:]
		}
		if x.Ref != "" {
			out = append(out, x)
		}
	}
	return out
}

// Settings lists the settings that a chain depends on, each once, in the order
// of its positions.
func (c *Chain) Settings() []int {
	var out []int
	for _, p := range c.Positions {
		for _, ax := range p.By {
			if !slices.Contains(out, ax.Setting) {
				out = append(out, ax.Setting)
			}
		}
	}
	return out
}
