package cheader

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"bandwright/biquad"
	"bandwright/biquad/number"
)

// lanePass and shortPass are how many sections of all lanes a pass takes.
const lanePass, shortPass = 5, 3

// Lanes reports whether the format's operators are the type's own, so that
// vectors of it compute the same.
func (h *header) Lanes() bool {
	return h.Sections() && h.C.Round == "" && len(h.C.Functions) == 0 && !slices.Contains(h.forms(), biquad.Mirrored) &&
		h.Channels*len(h.Ways) > 1
}

// LaneCount is how many words 32 bytes hold, Marks the integer as wide as one,
// MinusZero the mark that is the word -0.
func (h *header) LaneCount() int { return 32 / h.C.Type.Bytes }
func (h *header) Marks() string  { return fmt.Sprintf("int%d_t", 8*h.C.Type.Bytes) }
func (h *header) LanePass() int  { return lanePass }
func (h *header) ShortPass() int { return shortPass }
func (h *header) TwoShort() int  { return 2 * shortPass }

// LaneList is for one name a lane, Straight are the words of a section that
// changes nothing, LaneGain makes scaled of all.
func (h *header) LaneList() []int  { return make([]int, h.LaneCount()) }
func (h *header) Straight() string { return strings.Join(h.Literals(number.Row{B0: 1}), ", ") }

func (h *header) LaneGain() []string {
	k := h.kernel
	k.C.Type.Name = h.Stem + "_lanes"
	p := number.Program{}
	for _, s := range k.Kernel.Gain {
		s.To = "scaled"
		p = append(p, s)
	}
	return k.statements(p, map[string]string{"x": "all"}, nil)
}

func (h *header) MinusZero() string {
	return fmt.Sprintf("INT%d_MIN", 8*h.C.Type.Bytes)
}

// laneForm is a form that all lanes of a pass are in, or both.
type laneForm struct{ Name, When string }

// LaneForms are those in use; the last one serves where lanes are in several, or
// have no such section.
func (h *header) LaneForms() []laneForm {
	var out []laneForm
	if slices.Contains(h.forms(), biquad.Direct) {
		out = append(out, laneForm{"direct", "forms == 1u"})
	}
	if slices.Contains(h.forms(), biquad.Delta) {
		out = append(out, laneForm{"delta", "forms == 2u"})
	}
	return append(out, laneForm{"mixed", ""})
}

// lanesPass is pass over all lanes.
type lanesPass struct {
	pass
	Mixed bool
}

// LanePasses are one section and lanePass of them in every form. Mixed is the
// delta form, in which c times a state is that state: in direct lanes it is -0. In
// lanes that have no such section p stays -0, and adds nothing to x.
func (h *header) LanePasses() []lanesPass {
	k := h.kernel
	k.C.Type.Name = h.Stem + "_lanes"
	back := regexp.MustCompile(`^(([pq]_\d) = \(?)([pq])(_\d) \+ `)
	var out []lanesPass
	for _, f := range h.LaneForms() {
		form := biquad.Delta
		if f.Name == "direct" {
			form = biquad.Direct
		}
		for _, n := range []int{shortPass, lanePass} {
			p := lanesPass{Mixed: f.Name == "mixed"}
			p.Name, p.Last = fmt.Sprintf("lanes_%s_%d", f.Name, n), n-1
			for j := range n {
				p.Sections = append(p.Sections, j)
				for _, line := range k.inPass(k.Kernel.Section(form), j, n) {
					if p.Mixed {
						line = back.ReplaceAllString(line, fmt.Sprintf("$1(%[1]s_lanes)(((%[1]s_marks)$3$4 & keep$4) | zero$4) + ", h.Stem))
					}
					p.Within = append(p.Within, line)
					if p.Mixed && strings.HasPrefix(line, "p_") {
						p.Within = append(p.Within, fmt.Sprintf("p_%[2]d = (%[1]s_lanes)((%[1]s_marks)p_%[2]d | none_%[2]d);", h.Stem, j))
					}
				}
			}
			out = append(out, p)
		}
	}
	return out
}
