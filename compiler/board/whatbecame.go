package board

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"bandwright/biquad"
	"bandwright/compiler/language"
	"bandwright/compiler/netlist"
	"bandwright/compiler/stage"
	"bandwright/compiler/words"
)

// Kept is what became of a held board.
type Kept struct {
	// Parts counts the resistors and capacitors that stand as they are held.
	Parts int
	// AskedAnew tells that a held stage is asked for something else than before.
	AskedAnew bool
	// Changes are the stages that differ from the held ones, in the order of the board,
	// then those that are gone.
	Changes []Change
	// Notes are sentences on what stands although its line changed, and on parts that
	// the stock does not have.
	Notes []string
	// Ends are sentences on what around the stages is not as it is held: parts of inputs, outputs and selectors.
	Ends []string
	// ByHand are the parts whose values were changed by hand since the file was written,
	// with what that does.
	ByHand []string
}

// Change is one stage of a held board that is another now, new, or gone.
type Change struct {
	Chain string // "common", or a way
	Stage int
	What  string // "changed", "new" or "gone"
	From  string // the lines of the spec that the stage serves or served
	// Parts are the resistors and capacitors that differ.
	Parts []PartChange
	Why   string
}

// PartChange is a part that is another now; 0 stands for none.
type PartChange struct {
	Ref     string
	Kind    netlist.Kind
	Was, Is float64 // ohm or farad
}

// Count is how many parts differ.
func (k *Kept) Count() int {
	n := 0
	for _, c := range k.Changes {
		n += len(c.Parts)
	}
	return n
}

// String is a value in words.
func (v Value) String() string {
	if v.Kind == netlist.Capacitor {
		return words.Part(v.Value, "F")
	}
	return words.Part(v.Value, "ohm")
}

// String is a change of a part in words.
func (p PartChange) String() string {
	was, is := Value{p.Kind, p.Was}.String(), Value{p.Kind, p.Is}.String()
	switch {
	case p.Was == 0:
		return p.Ref + " " + is
	case p.Is == 0:
		return p.Ref
	}
	if a, b := strings.Fields(was), strings.Fields(is); len(a) == 2 && len(b) == 2 && a[1] == b[1] {
		was = a[0]
	}
	return fmt.Sprintf("%s %s -> %s", p.Ref, was, is)
}

// String is a change in one sentence.
func (c Change) String() string {
	text := fmt.Sprintf("%s stage %d (%s)", c.Chain, c.Stage, served(c.From))
	var parts []string
	for _, p := range c.Parts {
		parts = append(parts, p.String())
	}
	list := ""
	if parts != nil {
		list = ": " + strings.Join(parts, ", ")
	}
	if c.What == "changed" {
		return text + list + "; " + c.Why
	}
	return text + " is " + c.What + list + "; " + c.Why
}

// served is the kind of what a stage serves, from a label or a held stage's words.
func served(from string) string {
	if kind, _, ok := strings.Cut(from, " {"); ok {
		return kind
	}
	return from[strings.LastIndexByte(from, ' ')+1:]
}

// became compares the finished board with the held one. off says by how much ways would
// be off (dB) with the held parts, where that is more than is promised.
func (b *Board) became(j Job, kept []*keptChain, off []float64) *Kept {
	out := &Kept{}
	stock := StockOf(j.Spec)
	hz := biquad.Octaves(j.LowHz, j.HighHz, perOctave)
	for i, c := range b.Chains() {
		if kept[i] == nil {
			if !slices.Contains(j.Anew, b.NameOf(c)) { // a way that is new
				out.Changes = append(out.Changes, b.allNew(j, c, i-1)...)
			}
			continue
		}
		out.Ends = append(out.Ends, c.endsBecame(b.NameOf(c), kept[i])...)
		there := map[*language.HeldStage]bool{}
		for _, s := range c.Stages() {
			there[s.held] = true
		}
		for _, s := range c.Built() {
			there[s.replaces] = true
			change, same := s.became()
			out.Parts += same
			change.Chain = b.NameOf(c)
			out.AskedAnew = out.AskedAnew || s.held != nil && s.Role != InputStage && c.askedAnew(s, hz)
			if change.Parts != nil || s.held == nil {
				change.Why = b.whyChanged(j, s, i-1, off)
				if s.held != nil && s.Switches {
					change.Why = "its held parts are too far from what it is asked for now"
				}
				out.Changes = append(out.Changes, change)
			} else if s.Role != InputStage && c.askedAnew(s, hz) {
				out.Notes = append(out.Notes, fmt.Sprintf("%s stage %d (%s) is asked for something else; its held parts stand", change.Chain, s.Number, served(s.From)))
			}
			if odd := s.notIn(stock); odd != nil {
				out.Notes = append(out.Notes, fmt.Sprintf("%s stage %d (%s): %s: not in the stock, taken as held", change.Chain, s.Number, served(s.From), strings.Join(odd, ", ")))
			}
		}
		kept[i].stages(func(h *language.HeldStage) {
			if !there[h] {
				out.Changes = append(out.Changes, gone(b.NameOf(c), h))
			}
		})
	}
	out.ways(b, j.Held, kept)
	return out
}

// ways tells which held ways are called otherwise now, and which are gone.
func (k *Kept) ways(b *Board, held *language.Held, kept []*keptChain) {
	for n := range held.Ways {
		w := &held.Ways[n]
		if slices.ContainsFunc(b.Ways, func(x Way) bool { return x.Name == w.Name }) {
			continue
		}
		if i := slices.IndexFunc(kept, func(c *keptChain) bool { return c != nil && c.held == &w.HeldChain }); i > 0 {
			k.Notes = append(k.Notes, fmt.Sprintf("%s is the way that is held as %s, under a new name: its references stay", b.Ways[i-1].Name, w.Name))
			continue
		}
		k.Notes = append(k.Notes, fmt.Sprintf("the spec has no way %s any more: its stages are gone", w.Name))
		(&keptChain{held: &w.HeldChain}).stages(func(h *language.HeldStage) { k.Changes = append(k.Changes, gone(w.Name, h)) })
	}
}

// allNew are the stages of a chain that is not held.
func (b *Board) allNew(j Job, c *Chain, way int) []Change {
	var out []Change
	for _, s := range c.Built() {
		change, _ := s.became()
		change.Chain, change.Why = b.NameOf(c), b.whyChanged(j, s, way, nil)
		out = append(out, change)
	}
	return out
}

// endsBecame says which parts of a chain's ends are not as they are held: there the spec says what they are.
func (c *Chain) endsBecame(name string, k *keptChain) []string {
	var out []string
	was := map[string]language.HeldPart{}
	for _, e := range k.held.Ends {
		was[e.Part.Ref] = e.Part
	}
	say := func(use string, p PartChange) {
		text := p.String()
		switch {
		case p.Was == 0:
			text += " is new"
		case p.Is == 0:
			text += " is gone"
		}
		out = append(out, fmt.Sprintf("%s, %s: %s, as the spec asks", name, use, text))
	}
	for i := range c.Ends {
		p := &c.Ends[i]
		if h, known := was[p.Ref]; p.held() && (!known || h.Value != p.Marked()) {
			say(string(p.Use), PartChange{p.Ref, p.Kind, h.Value, p.Marked()})
		}
		delete(was, p.Ref)
	}
	for _, e := range k.held.Ends {
		if h, left := was[e.Part.Ref]; left {
			say(e.Use, PartChange{h.Ref, kindOfPart(h), h.Value, 0})
		}
	}
	return out
}

// askedAnew is Stage.askedAnew of a stage that is built: of a switched one in any of its
// states.
func (c *Chain) askedAnew(s *Stage, hz []float64) bool {
	return slices.ContainsFunc(c.Stages(), func(x *Stage) bool { return (x == s || x.Body == s) && x.askedAnew(hz) })
}

// became compares a stage with the held one, and counts the parts that are the same.
func (s *Stage) became() (Change, int) {
	c := Change{Stage: s.Number, What: "changed", From: s.From}
	same := 0
	var was map[string]float64
	then := cmp.Or(s.held, s.replaces)
	if then == nil {
		c.What = "new"
	} else {
		was = map[string]float64{}
		for _, p := range then.Parts {
			was[p.Ref] = p.Value
		}
	}
	for _, p := range s.Placed() {
		switch v, ok := was[p.Ref]; {
		case p.Kind == netlist.Amplifier:
		case ok && v == p.Value:
			same++
			delete(was, p.Ref)
		default:
			c.Parts = append(c.Parts, PartChange{p.Ref, p.Kind, v, p.Value})
			delete(was, p.Ref)
		}
	}
	if then != nil {
		for _, p := range then.Parts {
			if v, left := was[p.Ref]; left {
				c.Parts = append(c.Parts, PartChange{p.Ref, kindOfPart(p), v, 0})
			}
		}
	}
	return c, same
}

func kindOfPart(p language.HeldPart) netlist.Kind {
	if p.Dim == language.Capacitance {
		return netlist.Capacitor
	}
	return netlist.Resistor
}

// gone is a held stage that nothing asks for any more.
func gone(chain string, h *language.HeldStage) Change {
	c := Change{Chain: chain, Stage: h.Number, What: "gone", From: h.For, Why: "nothing asks for it any more"}
	for _, p := range h.Parts {
		c.Parts = append(c.Parts, PartChange{p.Ref, kindOfPart(p), p.Value, 0})
	}
	return c
}

// whyChanged says why a stage is not as it was held.
func (b *Board) whyChanged(j Job, s *Stage, way int, off []float64) string {
	if s.replaces != nil {
		if s.replaces.Topology == s.Topology.Name {
			return "no change of a few parts makes up for what can not be had any more"
		}
		return fmt.Sprintf("%s in place of %s, which can not be it any more", s.Topology.Name, s.replaces.Topology)
	}
	if s.held == nil {
		return "nothing held serves it"
	}
	if s.gone != nil {
		return "of its held parts some can not be had any more"
	}
	promised := words.Exact(j.LimitDB) + " dB is promised"
	if way >= 0 && off != nil && off[way] > j.LimitDB {
		return fmt.Sprintf("with the held parts %s would be %s dB off, and %s", b.Ways[way].Name, words.Short(off[way]), promised)
	}
	worst := 0.0
	for _, x := range off {
		worst = math.Max(worst, x)
	}
	if worst <= j.LimitDB {
		return "it makes up for what changed in other stages"
	}
	return fmt.Sprintf("with the held parts an error of %s dB would be left, and %s", words.Short(worst), promised)
}

// notIn lists the parts of a stage whose values the stock does not have.
func (s *Stage) notIn(stock stage.Stock) []string {
	if s.held == nil {
		return nil
	}
	var out []string
	n := 0
	for i, e := range s.Topology.Template {
		if e.Kind == netlist.Amplifier {
			continue
		}
		v := s.Values[n]
		n++
		if s.Refs[i] != "" && !stock.Has(e, v) {
			out = append(out, PartChange{Ref: s.Refs[i], Kind: e.Kind, Is: v}.String())
		}
	}
	return out
}

// handPerOctave is how dense the response is looked at for what a part that was changed
// by hand does.
const handPerOctave = 24

// handDownDB is how far below its peak a way's response counts for that (dB).
const handDownDB = 20

// byHand says of every part that was changed by hand what that does to the ways.
func (b *Board) byHand(j Job) []string {
	var out []string
	for _, c := range b.Chains() {
		for _, s := range c.Built() {
			if s.held == nil {
				continue
			}
			for _, p := range s.held.Parts {
				was, known := j.Held.Written[p.Ref]
				if !known || was == p.Value {
					continue
				}
				text := PartChange{p.Ref, kindOfPart(p), was, p.Value}.String()
				out = append(out, text+": "+b.effect(j, p.Ref, was))
			}
		}
	}
	return out
}

// effect says what the present value of a part does to every way, over another one: the
// greatest change in the band, where the way is within 20 dB of its peak, in any
// combination that the board is judged in.
func (b *Board) effect(j Job, ref string, was float64) string {
	part, ok := b.wiring.circuit.Part(ref)
	if !ok {
		return "not on the board any more"
	}
	hz := biquad.Octaves(b.bandHz[0], b.bandHz[1], handPerOctave)
	most, at := make([]float64, len(b.Ways)), make([]float64, len(b.Ways))
	seen := map[string]bool{}
	for _, c := range j.Cases {
		if c.C == nil || seen[string(c.C)] {
			continue
		}
		seen[string(c.C)] = true
		now, then := b.wiring.in(c.C), b.wiring.in(c.C)
		if then.Set(part, was) != nil {
			continue
		}
		db, change := make([][]float64, len(b.Ways)), make([][]float64, len(b.Ways))
		for _, f := range hz {
			if now.At(f) != nil || then.At(f) != nil {
				continue
			}
			for w, out := range b.wiring.outs {
				is := biquad.DB(now.Voltage(out))
				db[w], change[w] = append(db[w], is), append(change[w], is-biquad.DB(then.Voltage(out)))
			}
		}
		for w := range db {
			peak := slices.Max(append(db[w], math.Inf(-1)))
			for i, d := range change[w] {
				if db[w][i] > peak-handDownDB && math.Abs(d) > math.Abs(most[w]) {
					most[w], at[w] = d, hz[i]
				}
			}
		}
	}
	var ways []string
	for w := range most {
		if math.Abs(most[w]) >= 0.0005 {
			ways = append(ways, fmt.Sprintf("%s %+.3g dB at %s", b.Ways[w].Name, most[w], words.Hz(at[w])))
		}
	}
	if ways == nil {
		return "no way moves by 0.001 dB"
	}
	return strings.Join(ways, ", ")
}

// Head is one sentence on what became of the board.
func (k *Kept) Head() string {
	if n := k.Count(); n > 0 {
		return fmt.Sprintf("the board is not as it is held: %s changed in %s, %d as held", words.Count(n, "part", "parts"), words.Count(len(k.Changes), "stage", "stages"), k.Parts)
	}
	if k.Ends != nil {
		return fmt.Sprintf("the stages of the held board stand: none of their %s changed", words.Count(k.Parts, "part", "parts"))
	}
	return fmt.Sprintf("the held board stands: no part changed of %d", k.Parts)
}

// Lines are the sentences on what changed, what stands although its line changed, and
// what was changed by hand.
func (k *Kept) Lines() []string {
	var out []string
	for _, c := range k.Changes {
		out = append(out, c.String())
	}
	out = append(out, k.Ends...)
	for _, text := range k.ByHand {
		out = append(out, "changed by hand: "+text)
	}
	return append(out, k.Notes...)
}
