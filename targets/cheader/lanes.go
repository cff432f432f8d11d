package cheader

import (
	"fmt"
	"regexp"

	"bandwright/biquad"
)

// lanePass is how many sections of all lanes a pass takes.
const lanePass = 4

// Lanes reports whether the format's operators are the type's own, so that
// vectors of it compute the same.
func (h *header) Lanes() bool {
	return h.Sections() && h.C.Round == "" && len(h.C.Functions) == 0 && !h.usesKind(kindOf[biquad.Mirrored]) &&
		h.Channels*len(h.Ways) > 1
}

// LaneCount is how many words 32 bytes hold, Marks the integer as wide as one,
// MinusZero the mark that is the word -0.
func (h *header) LaneCount() int { return 32 / h.C.Type.Bytes }
func (h *header) Marks() string  { return fmt.Sprintf("int%d_t", 8*h.C.Type.Bytes) }
func (h *header) LanePass() int  { return lanePass }
func (h *header) MinusZero() string {
	return fmt.Sprintf("INT%d_MIN", 8*h.C.Type.Bytes)
}

// laneForm is a form that all lanes of a pass are in, or both.
type laneForm struct{ Name, When string }

// LaneForms are those in use.
func (h *header) LaneForms() []laneForm {
	direct, delta := h.usesKind(kindOf[biquad.Direct]), h.usesKind(kindOf[biquad.Delta])
	switch {
	case direct && delta:
		return []laneForm{{"direct", "delta == 0"}, {"delta", "direct == 0"}, {"mixed", "delta != 0 && direct != 0"}}
	case delta:
		return []laneForm{{"delta", "direct == 0 && delta != 0"}}
	}
	return []laneForm{{"direct", "direct != 0 && delta == 0"}}
}

// lanesPass is pass over all lanes.
type lanesPass struct {
	pass
	Mixed bool
}

// LanePasses are one section and lanePass of them in every form. Mixed is the
// delta form, in which c times a state is that state: in direct lanes it is -0.
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
		for _, n := range []int{1, lanePass} {
			p := lanesPass{Mixed: f.Name == "mixed"}
			p.Name, p.Last = fmt.Sprintf("lanes_%s_%d", f.Name, n), n-1
			for j := range n {
				p.Sections = append(p.Sections, j)
				for _, line := range k.inPass(form, j, n) {
					if p.Mixed {
						line = back.ReplaceAllString(line, fmt.Sprintf("$1(%[1]s_lanes)(((%[1]s_marks)$3$4 & keep$4) | zero$4) + ", h.Stem))
					}
					p.Within = append(p.Within, line)
				}
			}
			out = append(out, p)
		}
	}
	return out
}
