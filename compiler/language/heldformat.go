package language

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"

	"bandwright/biquad"
)

// FormatHeld is the file of a held board: ParseHeld reads it back to the same board but
// for places, and what it writes of a file that it wrote are the same bytes.
func FormatHeld(h *Held) []byte {
	f := heldWriter{}
	f.line(0, fmt.Sprintf("# The board of %s as it is laid out. `bandwright hold` writes this file; values may be edited by hand, comments are not kept.", h.Name))
	f.line(0, fmt.Sprintf("bandwright-board: %d", heldVersion))
	f.line(0, "name: "+h.Name)
	f.chain(0, "common", &h.Common)
	f.line(0, "ways:")
	for i := range h.Ways {
		f.chain(2, h.Ways[i].Name, &h.Ways[i].HeldChain)
	}
	f.written(h.Written)
	return []byte(f.out.String())
}

// heldWriter writes lines.
type heldWriter struct{ out strings.Builder }

// heldWidth is where a list or mapping in brackets goes on in the next line, in characters.
const heldWidth = 160

func (f *heldWriter) line(indent int, text string) {
	f.out.WriteString(strings.Repeat(" ", indent) + text + "\n")
}

// packed writes a list or mapping in brackets behind what begins its line.
func (f *heldWriter) packed(indent int, before string, parts []string, after string) {
	line := strings.Repeat(" ", indent) + before
	for i, p := range parts {
		sep := ", "
		if i == len(parts)-1 {
			sep = after
		}
		if i > 0 && len(line)+len(strings.TrimRight(p+sep, " ")) > heldWidth {
			f.line(0, strings.TrimRight(line, " "))
			line = strings.Repeat(" ", indent+4)
		}
		line += p + sep
	}
	f.line(0, line)
}

func (f *heldWriter) chain(indent int, name string, c *HeldChain) {
	if c.Block == 1 && len(c.Ends)+len(c.Places) == 0 {
		f.line(indent, name+": {}")
		return
	}
	f.line(indent, name+":")
	indent += 2
	if c.Block != 1 {
		f.line(indent, fmt.Sprintf("block: %d", c.Block))
	}
	if len(c.Ends) > 0 {
		f.line(indent, "ends:")
	}
	for _, e := range c.Ends {
		of := ""
		if e.Of != "" {
			of = ", of: " + e.Of
		}
		f.line(indent+2, fmt.Sprintf("%s: {use: %s%s, value: %s}", e.Part.Ref, e.Use, of, exactly(e.Part.Value, e.Part.Dim)))
	}
	if len(c.Places) > 0 {
		f.line(indent, "stages:")
	}
	for _, p := range c.Places {
		if p.Selector == "" {
			f.stage(indent+2, "- ", &p.Alternatives[0][0])
			continue
		}
		f.line(indent+2, "- selector: "+p.Selector)
		if p.Switched {
			f.switched(indent+4, &p)
			continue
		}
		f.line(indent+4, "positions:")
		for _, alt := range p.Alternatives {
			if len(alt) == 0 {
				f.line(indent+6, "- []")
			}
			for i := range alt {
				dash := "- - "
				if i > 0 {
					dash = "  - "
				}
				f.stage(indent+6, dash, &alt[i])
			}
		}
	}
}

// switched writes a stage of which a selector switches an element.
func (f *heldWriter) switched(indent int, p *HeldPlace) {
	s := &p.Alternatives[0][0]
	f.line(indent, "switches:")
	f.line(indent+2, fmt.Sprintf("stage: %d", s.Number))
	f.built(indent+2, s)
	f.line(indent, "states:")
	for _, a := range p.Alternatives {
		f.asked(indent+2, "- ", &a[0])
	}
	behind := p.Alternatives[0][1:]
	if len(behind) > 0 {
		f.line(indent, "behind:")
	}
	for i := range behind {
		f.stage(indent+2, "- ", &behind[i])
	}
}

// stage writes a stage behind the dashes that begin it.
func (f *heldWriter) stage(indent int, dash string, s *HeldStage) {
	f.line(indent, fmt.Sprintf("%sstage: %d", dash, s.Number))
	indent += len(dash)
	f.asked(indent, "", s)
	f.built(indent, s)
}

// asked writes what a stage is asked for, behind the dash that begins it.
func (f *heldWriter) asked(indent int, dash string, s *HeldStage) {
	if dash != "" {
		f.line(indent, dash+"for: "+bare(&node{shape: scalar, text: s.For, quotes: true}, ""))
		indent += len(dash)
	}
	if s.Role != "filter" {
		f.line(indent, "role: "+s.Role)
	}
	if dash == "" {
		f.line(indent, "for: "+bare(&node{shape: scalar, text: s.For, quotes: true}, ""))
	}
	if text := s.section(); text != "" {
		f.line(indent, "section: "+text)
	}
	if s.Level != 1 {
		f.line(indent, "level: "+plainNumber(s.Level))
	}
}

// built writes what a stage is, but for its number.
func (f *heldWriter) built(indent int, s *HeldStage) {
	f.line(indent, "topology: "+s.Topology)
	if len(s.Parts) > 0 {
		var all []string
		for _, p := range s.Parts {
			all = append(all, p.Ref+": "+exactly(p.Value, p.Dim))
		}
		f.packed(indent, "parts: {", all, "}")
	}
	if len(s.OpAmps) > 0 {
		var all []string
		for _, p := range s.OpAmps {
			all = append(all, p.Ref)
		}
		f.packed(indent, "op-amps: [", all, "]")
	}
}

// section is what a stage was chosen for on one line, "" for a gain of 1.
func (s *HeldStage) section() string {
	one := biquad.Constant(1)
	if s.W0 == one.W0 && s.B == one.B && s.A == one.A {
		return ""
	}
	b, a := descending(s.B), descending(s.A)
	at := ""
	if hz := hertz(s.W0); len(b) == 1 && len(a) == 1 && s.W0 == one.W0 {
		// a constant
	} else if hz > 0 {
		at = "at: " + exactly(hz, Frequency) + ", "
	} else {
		at = "w0: " + plainNumber(s.W0) + ", "
	}
	return "{" + at + "numerator: [" + strings.Join(b, ", ") + "], denominator: [" + strings.Join(a, ", ") + "]}"
}

// descending are coefficients from the highest power that there is down.
func descending(c [3]float64) []string {
	var out []string
	for k := 2; k >= 0; k-- {
		if len(out) > 0 || c[k] != 0 || k == 0 {
			out = append(out, plainNumber(c[k]))
		}
	}
	return out
}

// hertz is the frequency of the fewest digits that 2π times is exactly w0 (rad/s), 0
// where there is none: of the numbers that can be written, 2π does not reach all.
func hertz(w0 float64) float64 {
	near := w0 / (2 * math.Pi)
	for digits := range 17 {
		for _, f := range []float64{near, math.Nextafter(near, 0), math.Nextafter(near, math.Inf(1))} {
			f, _ = strconv.ParseFloat(strconv.FormatFloat(f, 'e', digits, 64), 64)
			if 2*math.Pi*f == w0 && f >= 1/mostHz && f <= mostHz {
				return f
			}
		}
	}
	return 0
}

// plainNumber is a number without a unit, never -0.
func plainNumber(x float64) string { return strconv.FormatFloat(x+0, 'g', -1, 64) }

// exactly is a quantity that reads back as the same number, in the largest unit of which
// it is at least one.
func exactly(x float64, dim Dim) string {
	var best, least unit
	for _, u := range units {
		if u.dim != dim {
			continue
		}
		if least.name == "" || u.exp < least.exp {
			least = u
		}
		if one, _ := scaled("1", u.exp); one <= x && (best.name == "" || u.exp > best.exp) {
			best = u
		}
	}
	if best.name == "" {
		best = least
	}
	number := shifted(x, -best.exp)
	if v, err := strconv.ParseFloat(number, 64); err == nil && v < 1e15 {
		// Most often the shortest decimal of v is that of x with its point moved.
		if short := strconv.FormatFloat(v, 'f', -1, 64); len(short) < 24 {
			if back, ok := scaled(short, best.exp); ok && back == x {
				number = short
			}
		}
	}
	return number + " " + best.name
}

// written lists the parts of each value, resistors first, small values first.
func (f *heldWriter) written(values map[string]float64) {
	if len(values) == 0 {
		return
	}
	f.line(0, "# The values as they were written: what differs from them above was changed by hand.")
	f.line(0, "written:")
	type group struct {
		dim   Dim
		value float64
		refs  []string
	}
	var groups []*group
	for _, ref := range slices.Sorted(maps.Keys(values)) {
		dim, value := dimOf(ref), values[ref]
		i := slices.IndexFunc(groups, func(g *group) bool { return g.dim == dim && g.value == value })
		if i < 0 {
			i = len(groups)
			groups = append(groups, &group{dim: dim, value: value})
		}
		groups[i].refs = append(groups[i].refs, ref)
	}
	slices.SortFunc(groups, func(a, b *group) int {
		return cmp.Or(cmp.Compare(b.dim, a.dim), cmp.Compare(a.value, b.value)) // "resistance" is behind "capacitance"
	})
	for _, g := range groups {
		f.packed(2, "- {value: "+exactly(g.value, g.dim)+", of: [", g.refs, "]}")
	}
}
