package explain

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"bandwright/biquad"
	"bandwright/compiler/board"
	"bandwright/compiler/netlist"
	"bandwright/compiler/words"
)

// chosen explains the stages that one part of the board is built of: what was
// wanted and obtained, the parts, and why this topology.
func (e *stages) chosen(c *board.Chain) {
	e.chainOf(c)
	e.line("  ", "chosen stages, stock values; actual figures with ideal op-amps, errors with the real one")
	for _, x := range c.Positions {
		for k, a := range x.Alt {
			where := ""
			if x.Selector != "" {
				where = fmt.Sprintf(", %s at %s", x.Selector, words.Numbers(x.At(k)))
			}
			if len(a.Stages) == 0 {
				e.line("    ", "wire for "+x.Line(k)+where)
			}
			for _, s := range a.Stages {
				e.built(s, where)
			}
		}
	}
	var list []string
	for _, p := range c.Ends {
		unit := "ohm"
		if p.Kind == netlist.Capacitor {
			unit = "F"
		}
		value := words.Stock(p.Marked(), unit)
		if !p.Passive() {
			value = p.Kind.String()
		}
		s := fmt.Sprintf("%s %s %s", p.Ref, value, p.Use)
		if p.Outside {
			s += " (external)"
		}
		list = append(list, s)
	}
	if list != nil {
		e.phrases("    ", "other parts", list)
	}
}

// standsFor is the filter that an alternative stands for. One where none of several
// filters applies names them all, and comes below theirs.
func standsFor(from string) string {
	if strings.Contains(from, " + ") {
		return "none of the above"
	}
	return from
}

// chainOf is the table of a chain's stages.
func (e *stages) chainOf(c *board.Chain) {
	var t words.Table
	t.Names = 2
	t.Row(e.b.Board.NameOf(c), "topology", "filter", "polarity", "error", "")
	for _, x := range c.Positions {
		for k, a := range x.Alt {
			pick := ""
			if x.Selector != "" {
				pick = fmt.Sprintf("%s at %s", x.Selector, words.Numbers(x.At(k)))
			}
			if len(a.Stages) == 0 {
				t.Row("-", "wire", standsFor(x.Line(k)), "", "", pick)
			}
			for _, s := range a.Stages {
				polarity := "normal"
				if s.Wanted().Level < 0 {
					polarity = "inverted"
				}
				if db := biquad.GainDB(math.Abs(s.Level)); math.Abs(db) >= 0.005 {
					polarity += ", " + words.Level(db, "dB")
				}
				t.Row(strconv.Itoa(s.Number), s.Topology.Name, standsFor(s.From), polarity, words.Error(s.RealDB, "dB"), pick)
			}
		}
	}
	for _, l := range t.Lines("  ", width) {
		e.out.WriteString(l + "\n")
	}
}

// built is one stage.
func (e *stages) built(s *board.Stage, where string) {
	e.line("    ", fmt.Sprintf("stage %d, %s, for %s%s", s.Number, s.Topology.Name, s.From, where))
	wanted, obtained := s.Wanted(), s.Obtained()
	e.phrases("      ", "target", figures(wanted))
	e.phrases("      ", "actual", append(figures(obtained), "error "+words.Error(s.RealDB, "dB")))
	var list []string
	for _, p := range s.Placed() {
		switch p.Kind {
		case netlist.Capacitor:
			list = append(list, p.Ref+" "+words.Stock(p.Value, "F"))
		case netlist.Resistor:
			list = append(list, p.Ref+" "+words.Stock(p.Value, "ohm"))
		default:
			list = append(list, p.Ref)
		}
	}
	e.phrases("      ", "", list)
	e.line("      ", "why: "+s.Why)
}

// figures writes frequency, Q and level.
func figures(f board.Parameters) []string {
	var out []string
	if f.Hz > 0 {
		out = append(out, words.Hz(f.Hz))
	}
	if f.Q > 0 {
		out = append(out, fmt.Sprintf("Q %.4f", f.Q))
	}
	level := fmt.Sprintf("%.3f dB", biquad.GainDB(math.Abs(f.Level)))
	if math.Abs(biquad.GainDB(math.Abs(f.Level))) < 0.0005 {
		level = "0 dB"
	}
	if f.Level < 0 {
		level += ", inverted"
	}
	return append(out, "level "+level)
}
