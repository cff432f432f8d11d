package result

import (
	"bandwright/compiler"
	"bandwright/compiler/board"
	"bandwright/compiler/language"
	"bandwright/compiler/netlist"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// Board is the realisation by op-amp stages: the input and the common stages
// once, then each way's.
type Board struct {
	// CommonDelayS: realised ≈ prototype · exp(-jω·CommonDelayS); negative, as a
	// delay that all ways share is not built.
	CommonDelayS float64     `json:"common_delay_s"`
	Common       BoardCommon `json:"common"`
	Ways         []BoardWay  `json:"ways"`
	Packages     []Package   `json:"packages"`
	// Supply are the capacitors between rails and ground.
	Supply []EndPart `json:"supply"`
	// Mute is absent where nothing mutes the outputs, and Imbalance where the input is not
	// balanced or has no RF filter.
	Mute      *Muting       `json:"mute,omitempty"`
	Imbalance []Imbalance   `json:"imbalance,omitempty"`
	Contacts  BoardContacts `json:"contacts"`
	// Selectors are what settings work, one part each. Absent where no setting has one.
	Selectors []Selector `json:"selectors,omitempty"`
	// DistinctValues counts the different values of resistors and capacitors in
	// filter stages.
	DistinctValues int      `json:"distinct_values"`
	Cautions       []string `json:"cautions"`
	// Rails is what the board takes from its supply.
	Rails Rails `json:"rails"`
	// Classes are the parts that come in more than one tolerance, by what is bought: the
	// loosest with which the promised yield holds. Absent where there are none.
	Classes []Class `json:"classes,omitempty"`
	// DCSteps are the greatest steps of DC that a change of a setting makes behind each selector,
	// all other settings at their default. Absent where no setting has a selector.
	DCSteps []DCStep `json:"dc_steps,omitempty"`
	// Held is what became of the board as it is laid out; left out where none is held.
	Held *HeldBoard `json:"held,omitempty"`
	// Spread is what boards are like with the tolerances of their parts; absent where
	// nothing is promised of it.
	Spread *Spread `json:"spread,omitempty"`
}

// DCStep is the greatest change of the DC voltage behind a selector between two choices of a
// setting that works it. What follows lets it pass as a thump even where it blocks DC.
type DCStep struct {
	Setting string `json:"setting"`
	From    string `json:"from"`
	To      string `json:"to"`
	// Selector is the reference of its pole.
	Selector string `json:"selector"`
	// WorstV has every offset and bias current at its worst sign; TypicalV a third of each,
	// adding as what is random does.
	WorstV   float64 `json:"worst_v"`
	TypicalV float64 `json:"typical_v"`
}

// Selector is one part: the poles that the same settings work.
type Selector struct {
	Ref string `json:"ref"`
	// Settings are those that work it, and Positions the choices of each that its positions
	// stand for, in the order of Settings.
	Settings  []string   `json:"settings"`
	Positions [][]string `json:"positions"`
	// BreakBeforeMake is true where a pole picks whole stages.
	BreakBeforeMake bool   `json:"break_before_make"`
	Poles           []Pole `json:"poles"`
}

// Pole is one of a selector's. Its reference is what stages have as their selector.
type Pole struct {
	Ref    string `json:"ref"`
	Chain  string `json:"chain"` // common, or a way
	Stages []int  `json:"stages"`
	// Node is what it connects, and Throws the contacts with which.
	Node   string  `json:"node"`
	Throws []Throw `json:"throws"`
}

// Throw is a contact of a pole.
type Throw struct {
	Node      string `json:"node"`
	Positions []int  `json:"positions"` // of the selector, from 1, that close it
}

// HeldBoard compares the board with the file that holds it.
type HeldBoard struct {
	File      string        `json:"file"`
	PartsKept int           `json:"parts_kept"` // resistors and capacitors that stand as held
	Changes   []StageChange `json:"changes"`
	// ByHand tells what values that were changed by hand do, and Notes which parts around the stages
	// are others, what stands although its line changed, and parts that the stock does not have.
	ByHand []string `json:"by_hand"`
	Notes  []string `json:"notes"`
}

// StageChange is a stage that differs from the held one.
type StageChange struct {
	Chain  string       `json:"chain"` // common, or a way
	Stage  int          `json:"stage"`
	What   string       `json:"what"`   // changed, new or gone
	Filter string       `json:"filter"` // what it serves, or served
	Parts  []PartChange `json:"parts"`
	Why    string       `json:"why"`
}

// PartChange is a part that differs; ohm or farad, null where it was not or is not there.
type PartChange struct {
	Ref string   `json:"ref"`
	Was *float64 `json:"was"`
	Is  *float64 `json:"is"`
}

// BoardCommon is what stands before the ways split, the input first.
type BoardCommon struct {
	Stages []Stage   `json:"stages"`
	Ends   []EndPart `json:"ends"`
}

// BoardWay is one way's stages in the order of the signal.
type BoardWay struct {
	Way    string    `json:"way"`
	Node   string    `json:"node"` // of the output, in the netlist
	DelayS float64   `json:"delay_s"`
	Stages []Stage   `json:"stages"`
	Ends   []EndPart `json:"ends"`
	// Levels are the voltages along the chain, common stages included, in each combination of
	// settings that the board is analysed in.
	Levels []Levels `json:"levels"`
}

// Stage is one op-amp stage.
type Stage struct {
	Stage    int    `json:"stage"` // counts from 1 in its block
	Position int    `json:"position"`
	Topology string `json:"topology"`
	Filter   string `json:"filter"` // the lines of the spec that it realises
	Role     string `json:"role"`   // input, filter, delay, gain or polarity
	// Selector is the reference of the pole that picks the stage, and Applies the choices that it is picked in, any of them; null where it always applies.
	Selector string                `json:"selector,omitempty"`
	Applies  []map[string][]string `json:"applies"`
	// ErrorDB is the largest error of the stage by itself with its nominal parts
	// and the real op-amp. Level is its response divided by the section's,
	// negative where it inverts.
	ErrorDB float64     `json:"error_db"`
	Level   float64     `json:"level"`
	Parts   []BoardPart `json:"parts"`
	// States are what the stage is with the selector in each of its positions, where that
	// switches an element of it; ErrorDB is then the largest of theirs. Absent where it
	// picks whole stages, or there is none.
	States []StageState `json:"states,omitempty"`
}

// StageState is a stage with the selector that switches an element of it in one position.
type StageState struct {
	Filter  string                `json:"filter"`
	Applies []map[string][]string `json:"applies"` // the choices that it is picked in, any of them
	// Throw is the node that the selector connects with the one that it switches at, Pole;
	// "" where it connects none.
	Throw   string  `json:"throw"`
	Pole    string  `json:"pole"`
	ErrorDB float64 `json:"error_db"`
	Level   float64 `json:"level"`
}

// BoardPart is a resistor, a capacitor or an op-amp.
type BoardPart struct {
	Ref   string  `json:"ref"`
	Ohm   float64 `json:"ohm,omitempty"`
	Farad float64 `json:"farad,omitempty"`
	OpAmp bool    `json:"op_amp,omitempty"`
	// Tolerance is that of the class that the part is bought in, where there are several.
	Tolerance float64 `json:"tolerance,omitempty"`
}

// EndPart is a part of an input or an output.
type EndPart struct {
	Ref string `json:"ref"`
	// Use is source, series, rf-filter, clamp, coupling, bias, trim, trim-shunt, build-out, discharge, mute,
	// flyback, gate, bleed, decoupling or bulk; load and wire stand outside.
	Use string `json:"use"`
	// Kind is diode, relay or transistor; absent of resistors and capacitors.
	Kind  string  `json:"kind,omitempty"`
	Ohm   float64 `json:"ohm,omitempty"`
	Farad float64 `json:"farad,omitempty"`
	// TrackOhm is all of a trimmer, whose ohm is where it stands in the middle of its range.
	TrackOhm float64 `json:"track_ohm,omitempty"`
	// Tolerance is that of the class that the part is bought in, where there are several.
	Tolerance float64 `json:"tolerance,omitempty"`
	// Outside belongs to the source or to what follows, not to the board.
	Outside bool `json:"outside,omitempty"`
}

// Muting is how the outputs are kept silent: volts at the node mute open it, and 0 V, as
// without supply, shuts it.
type Muting struct {
	By     string  `json:"by"` // relay or transistor
	OpensV float64 `json:"opens_v"`
	// DepthDB is how far down a muted output is at least, 20 Hz to 20 kHz.
	DepthDB float64 `json:"depth_db"`
}

// Imbalance is what a balanced input makes of what both legs carry, with tolerances at
// their worst signs (dB below the same difference between the legs).
type Imbalance struct {
	Hz       float64 `json:"hz"`
	FilterDB float64 `json:"filter_db"` // with the input stage matched
	InputDB  float64 `json:"input_db"`  // of filter and stage
}

// Package is an op-amp package: what it holds, and what of it is spare, a
// follower with its input at ground.
type Package struct {
	Ref   string   `json:"ref"`
	Units []string `json:"units"`
	Spare []string `json:"spare,omitempty"`
}

// BoardContacts are the resistances that contacts are reckoned with.
type BoardContacts struct {
	ClosedOhm float64 `json:"closed_ohm"`
	OpenOhm   float64 `json:"open_ohm"`
}

// boardOf is the board of a build, nil where it has none.
func boardOf(b *compiler.Build) *Board {
	if b.Board == nil {
		return nil
	}
	out := &Board{CommonDelayS: b.Board.DelayS, Contacts: BoardContacts{board.ClosedOhm, board.OpenOhm},
		DistinctValues: b.Board.DistinctValues(), Rails: railsOf(b), Spread: spreadOf(b.Batch), Cautions: b.Board.Cautions, Packages: []Package{}, Ways: []BoardWay{}}
	if out.Cautions == nil {
		out.Cautions = []string{}
	}
	for _, p := range b.Board.Packages {
		out.Packages = append(out.Packages, Package(p))
	}
	levels := levelsOf(b)
	out.around(b.Board)
	out.Common = BoardCommon{stages(&b.Board.Common, b.Settings), ends(b.Board.Common.Ends)}
	for k := range b.Board.Ways {
		w := &b.Board.Ways[k]
		out.Ways = append(out.Ways, BoardWay{w.Name, w.Out, w.DelayS, stages(&w.Chain, b.Settings), ends(w.Ends), levels[k]})
	}
	out.Selectors = selectorsOf(b)
	for _, s := range b.Board.DCSteps(len(b.Settings)) {
		set := b.Settings[s.Setting]
		out.DCSteps = append(out.DCSteps, DCStep{set.Name, set.Choices[s.From], set.Choices[s.To], s.Selector,
			words.Volt.Floored(s.WorstV), words.Volt.Floored(s.TypicalV)})
	}
	out.buy(b.Batch.Bought())
	if k := b.Board.Kept; k != nil {
		out.Held = heldOf(k, b.Spec.Board.Held.Name)
	}
	return out
}

// selectorsOf are the selectors of a build's board.
func selectorsOf(b *compiler.Build) []Selector {
	var out []Selector
	for _, s := range b.Board.Selectors() {
		x := Selector{Ref: s.Ref, Settings: s.Settings(b.Settings), Positions: s.Choices(b.Settings), BreakBeforeMake: s.BreaksFirst()}
		for _, p := range s.Poles {
			throws, node := p.Position.Throws()
			y := Pole{Ref: p.Position.Selector, Chain: b.Board.NameOf(p.Chain), Stages: []int{}, Node: node, Throws: []Throw{}}
			for _, stage := range p.Position.Built() {
				y.Stages = append(y.Stages, stage.Number)
			}
			for _, t := range throws {
				y.Throws = append(y.Throws, Throw{t.Node, t.At})
			}
			x.Poles = append(x.Poles, y)
		}
		out = append(out, x)
	}
	return out
}

// heldOf is what became of a held board.
func heldOf(k *board.Kept, file string) *HeldBoard {
	out := &HeldBoard{File: file, PartsKept: k.Parts, Changes: []StageChange{}, ByHand: append([]string{}, k.ByHand...), Notes: append(append([]string{}, k.Ends...), k.Notes...)}
	value := func(v float64) *float64 {
		if v == 0 {
			return nil
		}
		return &v
	}
	for _, c := range k.Changes {
		x := StageChange{Chain: c.Chain, Stage: c.Stage, What: c.What, Filter: c.From, Parts: []PartChange{}, Why: c.Why}
		for _, p := range c.Parts {
			x.Parts = append(x.Parts, PartChange{p.Ref, value(p.Was), value(p.Is)})
		}
		out.Changes = append(out.Changes, x)
	}
	return out
}

func stages(c *board.Chain, settings []verify.Setting) []Stage {
	out := []Stage{}
	for position := range c.Positions {
		p := &c.Positions[position]
		for _, s := range p.Built() {
			x := Stage{Stage: s.Number, Position: position, Topology: s.Topology.Name, Filter: s.From, Role: s.Role.String(),
				ErrorDB: words.DB.Floored(s.RealDB), Level: s.Level}
			alts := p.AltsOf(s)
			switch {
			case s == p.Switched():
				x.Selector, x.States = p.Selector, states(p, settings)
			case len(alts) < len(p.Alt):
				x.Selector = p.Selector
				for _, k := range alts {
					x.Applies = append(x.Applies, picked(p, k, settings)...)
				}
			}
			for _, part := range s.Placed() {
				y := BoardPart{Ref: part.Ref, OpAmp: part.Kind == netlist.Amplifier}
				switch part.Kind {
				case netlist.Capacitor:
					y.Farad = part.Value
				case netlist.Resistor:
					y.Ohm = part.Value
				}
				x.Parts = append(x.Parts, y)
			}
			out = append(out, x)
		}
	}
	return out
}

// states are those of a switched position.
func states(p *board.Position, settings []verify.Setting) []StageState {
	var out []StageState
	for k, a := range p.Alt {
		s := a.Stages[0]
		x := StageState{Filter: s.From, Applies: picked(p, k, settings), ErrorDB: words.DB.Floored(s.RealDB), Level: s.Level}
		x.Throw, x.Pole = p.Throw(k)
		out = append(out, x)
	}
	return out
}

// picked are the choices that an alternative of a position is picked in, any of them.
func picked(p *board.Position, alt int, settings []verify.Setting) []map[string][]string {
	var out []map[string][]string
	for _, b := range cover(p.Slot) {
		if len(p.By) > 0 && b.alternative == alt {
			out = append(out, b.when(p.By, settings))
		}
	}
	return out
}

// around fills in what protects, mutes and supplies the board.
func (b *Board) around(of *board.Board) {
	b.Supply = ends(of.Supply)
	if m := of.Spec.Output.Mute; m != language.NoMute {
		b.Mute = &Muting{m.String(), of.MuteV(), words.Round(of.MuteDB(), 4)}
	}
	for _, x := range of.Imbalance() {
		b.Imbalance = append(b.Imbalance, Imbalance{x.Hz, words.Round(x.FilterDB, 4), words.Round(x.InputDB, 4)})
	}
}

func ends(parts []board.Part) []EndPart {
	out := []EndPart{}
	for _, p := range parts {
		e := EndPart{Ref: p.Ref, Use: string(p.Use), TrackOhm: p.TrackOhm, Outside: p.Outside}
		switch p.Kind {
		case netlist.Resistor:
			e.Ohm = p.Value
		case netlist.Capacitor:
			e.Farad = p.Value
		default:
			e.Kind = p.Kind.String()
		}
		out = append(out, e)
	}
	return out
}
