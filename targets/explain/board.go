package explain

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/board"
	"bandwright/compiler/circuit"
	"bandwright/compiler/language"
	"bandwright/compiler/netlist"
	"bandwright/compiler/promise"
	"bandwright/compiler/words"
)

// Board explains which op-amp stages each section of one way may be, or of all
// ways where way is "", beside the common ones: ideal values, unrounded, and
// why the others do not apply. A spec without a board is an error that says
// what to add, an unknown way one that names those there are.
func Board(b *compiler.Build, way string) (string, error) {
	d := b.Spec.Board
	if d == nil {
		return "", errors.New("the spec has no `board`: add `board: {}` for one with all defaults, or say what the stages are built from, " +
			"such as `board: {supply: 15 V, op-amp: {gain-bandwidth: 10 MHz}, resistors: {series: E96}, capacitors: {series: E12}}`")
	}
	if err := known(b, way); err != nil {
		return "", err
	}
	e := &stages{explainer: explainer{b: b}, means: compiler.Means(d), rad: b.Promises.Goal(&promise.Phase) * math.Pi / 180, way: -1}
	e.given(d)
	if b.Board != nil {
		e.out.WriteString("\ninput and common stages\n")
		e.chosen(&b.Board.Common)
	}
	if c := b.Prototype.Common; len(c.Slots) > 0 || c.Gain != 1 || c.DelayS != 0 {
		e.chain("common, before the ways split", c, 1)
	}
	for k, w := range b.Prototype.Ways {
		if way == "" || w.Name == way {
			e.way = k
			e.chain("way "+w.Name, w.Cascade, w.Polarity)
			if b.Board != nil {
				e.chosen(&b.Board.Ways[k].Chain)
			}
		}
	}
	e.savings(way)
	e.values()
	e.spread(way)
	e.purchase()
	return strings.TrimLeft(e.out.String(), "\n"), nil
}

// stages writes the stages that sections may be.
type stages struct {
	explainer
	means circuit.Means
	way   int     // that is being explained, -1 for the common stages
	rad   float64 // phase error allowed to all-passes for a delay
}

// given says what the board has.
func (e *stages) given(d *language.Board) {
	a := d.OpAmp
	e.phrases("", "supply", []string{
		"+-" + words.Part(d.SupplyV, "V"), "input " + d.Input.Level.String() + " from " + words.Part(d.Input.SourceOhm, "ohm") + coupled(d.Input.CouplingF) + balanced(d.Input.Balanced) + protected(d.Input),
		"output through " + words.Part(d.Output.BuildOutOhm, "ohm") + " into " + words.Part(d.Output.LoadOhm, "ohm") + coupled(d.Output.CouplingF) + muted(d.Output),
	})
	e.phrases("", "op-amp", []string{
		words.Part(a.GainBandwidthHz, "Hz"), words.Exact(a.OpenLoopDB) + " dB", "output " + words.Part(a.OutputOhm, "ohm"), words.Exact(a.SlewVPerS/1e6) + " V/us",
		"swing " + words.Part(a.SwingV, "V") + ", " + words.Part(a.OutputA, "A"), noisy(a.VoltageNoise, "V/rtHz", a.VoltageCornerHz), noisy(a.CurrentNoise, "A/rtHz", a.CurrentCornerHz),
		"offset " + words.Part(a.OffsetV, "V"), "bias " + words.Part(a.BiasA, "A"), words.Count(a.PerPackage, "per package", "per package"),
		"supply " + words.Part(a.SupplyA, "A"),
	})
	e.phrases("", "resistors", append(stock(d.Resistors, "ohm"), "shunt from "+words.Part(d.ShuntOhm, "ohm")))
	e.phrases("", "capacitors", stock(d.Capacitors, "F"))
	spread := "uniform"
	if d.Normal {
		spread = "normal, tolerance is 3 sigma"
	}
	e.line("", "distribution of values: "+spread)
	e.line("", "values below are ideal: free capacitors are E6 values in the range, all other values are exact")
	var ends []string
	for _, t := range circuit.Topologies {
		if t.Balanced {
			ends = append(ends, t.Name)
		}
	}
	e.line("", words.List(ends)+" take a balanced signal and serve only as inputs")
}

// protected says what filters and protects the input, and muted what mutes the outputs.
func protected(in language.BoardInput) string {
	s := ""
	if in.RFHz > 0 {
		s += ", RF filter at " + words.Part(in.RFHz, "Hz")
	}
	if in.Clamped {
		s += ", clamp diodes"
	}
	return s
}

func muted(out language.BoardOutput) string {
	if out.Mute == language.NoMute {
		return ""
	}
	return ", mute by " + out.Mute.String()
}

// noisy is a density of noise, and where it rises.
func noisy(density float64, unit string, cornerHz float64) string {
	s := words.Part(density, unit)
	if density > 0 && cornerHz > 0 {
		s += " rising below " + words.Part(cornerHz, "Hz")
	}
	return s
}

func coupled(f float64) string {
	if f == 0 {
		return ""
	}
	return " through " + words.Part(f, "F")
}

func balanced(is bool) string {
	if is {
		return ", balanced"
	}
	return ""
}

// stock is a stock in a few words.
func stock(s language.Stock, unit string) []string {
	what, tolerance := strings.Join(s.Series, " and "), words.Short(s.Tolerance*100)+" %"
	if len(s.Classes) > 1 {
		var all []string
		for _, t := range s.Classes {
			all = append(all, words.Short(t*100)+" %")
		}
		tolerance = strings.Join(all, " or ")
	}
	switch {
	case s.Parts != nil:
		what, tolerance = fmt.Sprintf("%s in %s", words.Count(len(s.Parts), "part", "parts"), s.File.Name), tolerance+" or tighter"
	case s.Values != nil:
		what = words.Count(len(s.Values), "value", "values")
	}
	return []string{what, tolerance, words.Part(s.From, unit) + " to " + words.Part(s.To, unit)}
}

// chain explains the sections of a cascade in order.
func (e *stages) chain(title string, c biquad.Cascade[biquad.Analog], polarity float64) {
	e.out.WriteString("\n" + title + "\n")
	before := e.out.Len()
	if g := c.Gain * polarity; math.Abs(g-1) > 1e-12 {
		name := "gain " + gain(c.Gain)
		if polarity < 0 {
			name += ", inverted"
		}
		e.section(name+" (another stage may absorb it)", biquad.Constant(g))
	}
	e.delay(c.DelayS)
	for _, s := range c.Slots {
		for i, a := range s.Alt {
			name := strings.Join(s.From, ", ")
			if len(s.By) > 0 {
				if a == biquad.Constant(1) {
					continue // bypassed
				}
				name = s.From[i] + choices(e.b, s, i)
			}
			e.section(name+": "+section(a), a)
		}
	}
	if e.out.Len() == before {
		e.line("  ", "nothing to build but a wire")
	}
}

// delay explains a pure delay as all-pass sections.
func (e *stages) delay(seconds float64) {
	if seconds == 0 {
		return
	}
	if built := e.delayStages(); len(built) > 0 {
		for i, s := range built {
			e.section(fmt.Sprintf("delay %s, up to the way's crossovers, all-pass %d of %d: %s", words.Seconds(seconds), i+1, len(built), section(s)), s)
		}
		return
	}
	top := e.b.Promises.HighHz
	all, err := circuit.Delay(seconds, top, e.rad)
	head := "delay " + words.Seconds(seconds)
	switch {
	case err != nil:
		e.line("  ", head+": cannot be built: "+err.Error())
	case len(all) == 0:
		e.line("  ", fmt.Sprintf("%s: no stage needed, below %s deg up to %s", head, words.Short(e.rad*180/math.Pi), words.Hz(top)))
	}
	for i, a := range all {
		e.section(fmt.Sprintf("%s, all-pass %d of %d: %s", head, i+1, len(all), section(a)), a)
	}
}

// delayStages are the all-passes that the board has for the way's delay.
func (e *stages) delayStages() []biquad.Analog {
	if e.b.Board == nil || e.way < 0 {
		return nil
	}
	var out []biquad.Analog
	for _, s := range e.b.Board.Ways[e.way].Stages() {
		if s.Role == board.DelayStage {
			out = append(out, s.Section)
		}
	}
	return out
}

// section explains one section, or the sections that it has to be split into.
func (e *stages) section(name string, s biquad.Analog) {
	e.line("  ", name)
	parts, err := circuit.Split(s)
	if err != nil {
		e.line("    ", "cannot be built: "+err.Error())
		return
	}
	for i, p := range parts {
		if len(parts) > 1 {
			e.line("    ", fmt.Sprintf("right-half-plane zeros by an all-pass, part %d of %d: %s", i+1, len(parts), section(p)))
		}
		e.candidates(p)
	}
}

// candidates lists the stages that apply, then the others by reason.
func (e *stages) candidates(s biquad.Analog) {
	var reasons []string
	by := map[string][]string{}
	applying, elsewhere := 0, 0
	shape := ""
	for _, p := range circuit.Candidates(s, e.means) {
		switch {
		case p.Topology.Balanced: // said once for all sections
		case p.Applies:
			applying++
			e.stage(p)
		case !p.Topology.Can(p.Asked.Shape):
			elsewhere++
			shape = p.Asked.Shape.String()
		default:
			if by[p.Reason] == nil {
				reasons = append(reasons, p.Reason)
			}
			by[p.Reason] = append(by[p.Reason], p.Topology.Name)
		}
	}
	if applying == 0 {
		e.line("    ", "no topology applies")
	}
	for _, r := range reasons {
		e.line("    ", "not "+words.List(by[r])+": "+r)
	}
	if elsewhere > 0 {
		e.line("    ", fmt.Sprintf("not %s: they cannot make a %s", words.Count(elsewhere, "other", "others"), shape))
	}
}

// stage is one that applies: its name, its values, and what to know about it.
func (e *stages) stage(p circuit.Proposal) {
	var values []string
	for i, part := range p.Topology.Parts() {
		v, unit := p.Values[i], "ohm"
		if part.Kind == netlist.Capacitor {
			unit = "F"
		}
		if v != 0 { // fitted
			values = append(values, part.Ref+" "+words.Part(v, unit))
		}
	}
	if values == nil {
		values = []string{"no parts"}
	}
	e.phrases("    ", p.Topology.Name, values)
	polarity := "correct polarity"
	if p.Level < 0 {
		polarity = "opposite polarity"
	}
	notes := []string{polarity, words.Count(p.Topology.OpAmps(), "op-amp", "op-amps")}
	if db := biquad.GainDB(math.Abs(p.Level)); math.Abs(db) >= 0.005 {
		notes = append(notes, "gain "+words.Level(db, "dB")+", for another stage to offset")
	}
	if p.Topology.Saves {
		notes = append(notes, "only where the filter names it")
	}
	cautioned := slices.ContainsFunc(p.Cautions, func(c circuit.Caution) bool { return c.Trait == circuit.Noisy })
	if p.Topology.OpAmps() > 0 && !cautioned {
		notes = append(notes, "noise gain "+words.Short(p.NoiseGain))
	}
	for _, c := range p.Cautions {
		notes = append(notes, c.String())
	}
	e.phrases("      ", "", notes)
}

// phrases writes a name and phrases behind it, each on one line where it fits.
func (e *stages) phrases(indent, name string, list []string) {
	line, rest := indent, indent+"  "
	if name != "" {
		line += name + ": "
	}
	bare := true
	for i, p := range list {
		if i < len(list)-1 {
			p += ","
		}
		if !bare && utf8.RuneCountInString(line)+1+utf8.RuneCountInString(p) > width {
			e.out.WriteString(line + "\n")
			line, bare = rest, true
		}
		if !bare {
			line += " "
		}
		line, bare = line+p, false
	}
	for _, l := range words.Wrap(strings.TrimSpace(line), line[:len(line)-len(strings.TrimLeft(line, " "))], rest, width) {
		e.out.WriteString(l + "\n")
	}
}

// known is an error for a way that the spec has not.
func known(b *compiler.Build, way string) error {
	var names []string
	for _, w := range b.Prototype.Ways {
		names = append(names, w.Name)
	}
	if way != "" && !slices.Contains(names, way) {
		return fmt.Errorf("there is no way %q; the ways are %s", way, words.List(names))
	}
	return nil
}
