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

// laneBlock is how many samples lanes take at once.
const laneBlock = 64

// Lanes reports whether the format's operators are the type's own, so that
// vectors of it compute the same.
func (h *header) Lanes() bool {
	return h.Sections() && h.C.Round == "" && len(h.C.Functions) == 0 && !slices.Contains(h.forms(), biquad.Mirrored) &&
		h.Channels*len(h.Ways) > 1 && h.Copies() && len(h.Kernel.States) == 2
}

// LaneCount is how many words 32 bytes hold, Marks the integer as wide as one.
func (h *header) LaneCount() int { return 32 / h.C.Type.Bytes }
func (h *header) Marks() string  { return fmt.Sprintf("int%d_t", 8*h.C.Type.Bytes) }
func (h *header) LaneGroups() int {
	return (h.Channels*len(h.Ways) + h.LaneCount() - 1) / h.LaneCount()
}
func (h *header) LanePass() int  { return lanePass }
func (h *header) LaneBlock() int { return laneBlock }
func (h *header) ShortPass() int { return shortPass }
func (h *header) TwoShort() int  { return 2 * shortPass }

// LaneList is for one name a lane, HalfList for one a lane of 16 bytes; Straight are
// the words of a section that changes nothing, LaneGain makes scaled of all.
func (h *header) LaneList() []int  { return make([]int, h.LaneCount()) }
func (h *header) HalfCount() int   { return h.LaneCount() / 2 }
func (h *header) HalfList() []int  { return make([]int, h.HalfCount()) }
func (h *header) RunList() []int   { return make([]int, h.LongestPass()) }
func (h *header) Straight() string { return strings.Join(h.Literals(number.Row{B0: 1}), ", ") }

func (h *header) LaneGain() []string {
	k := h.kernel
	k.C.Type.Name = h.Stem + "_short"
	p := number.Program{}
	for _, s := range k.Kernel.Gain {
		s.To = "scaled"
		p = append(p, s)
	}
	return k.statements(p, map[string]string{"x": "all"}, nil)
}

// A row is all that a pass has to know of a section of one lane: the section's words and its states.

// RowWords is how many words a row has, RowState where one of the states stands,
// RowNames what they are called.
func (h *header) RowWords() int      { return h.RowState(len(h.Kernel.States)) }
func (h *header) RowState(i int) int { return len(h.Kernel.Words) + i }

func (h *header) RowNames() string {
	var names []string
	for _, v := range slices.Concat(h.Kernel.Words, h.Kernel.States) {
		names = append(names, v.Name)
	}
	return strings.Join(names, ", ")
}

// lanePair is one vector of the states p and q side by side, as memory has them.
type lanePair struct {
	Make  string
	Store []string
}

// Pairs are those of the lanes of a half.
func (h *header) Pairs() []lanePair {
	n := h.HalfCount()
	out := make([]lanePair, 2)
	for i, places := range h.shuffles() {
		out[i].Make = fmt.Sprintf("pairs = %s_SHUFFLE(%s, %s, %s);", h.Upper, h.Kernel.States[0].Name, h.Kernel.States[1].Name, places)
		for k := range n / 2 {
			from := "&pairs"
			if k > 0 {
				from = fmt.Sprintf("(const %s *)&pairs + %d", h.Type(), 2*k)
			}
			out[i].Store = append(out[i].Store, fmt.Sprintf("(void)memcpy(m_%d, %s, sizeof *m_%d);", i*n/2+k, from, i*n/2+k))
		}
	}
	return out
}

// shuffles are the places of the perfect shuffle of two vectors, its lower half and its upper one.
func (h *header) shuffles() [2]string {
	n := h.HalfCount()
	var out [2]string
	for half := range out {
		places := make([]string, n)
		for i := range n {
			places[i] = fmt.Sprint((half*n+i)/2 + i%2*n)
		}
		out[half] = strings.Join(places, ", ")
	}
	return out
}

// rowSquare is as many words of a row as 16 bytes hold. Words reports that all stand
// side by side in the tables.
type rowSquare struct {
	First int
	Names []string
	Words bool
}

// At is where word i of it stands in the row.
func (s rowSquare) At(i int) int { return s.First + i }

// Head is the first of them in place k.
func (s rowSquare) Head(k int) string { return fmt.Sprintf(s.Names[0], k) }

// Row makes a vector of it, of what stands in place k: words w_k and states m_k.
func (s rowSquare) Row(stem string, k int) string {
	var of []string
	for _, n := range s.Names {
		of = append(of, fmt.Sprintf(n, k))
	}
	return fmt.Sprintf("const %s_short row_%d_%d = { %s };", stem, s.First, k, strings.Join(of, ", "))
}

// RowSquares are those of a row in order.
func (h *header) RowSquares() []rowSquare {
	var names []string
	for _, w := range h.Kernel.Words {
		names = append(names, "w_%d->"+w.Name)
	}
	for _, s := range h.Kernel.States {
		names = append(names, "m_%d->"+s.Name)
	}
	var out []rowSquare
	for first := 0; first < len(names); first += h.HalfCount() {
		end := min(first+h.HalfCount(), len(names)) // what is not given is 0
		out = append(out, rowSquare{first, names[first:end], first+h.HalfCount() <= len(h.Kernel.Words)})
	}
	return out
}

// Turns turn the vectors v about: perfect shuffles, so many that a vector's words are
// in all others once.
func (h *header) Turns() []string {
	n, places := h.HalfCount(), h.shuffles()
	var out []string
	from := func(i int) string { return fmt.Sprintf("v[%d]", i) }
	for round := 1; 1<<round <= n; round++ {
		to := func(i int) string { return fmt.Sprintf("v%d_%d", round, i) }
		for i := range n {
			out = append(out, fmt.Sprintf("const %s_short %s = %s_SHUFFLE(%s, %s, %s);",
				h.Stem, to(i), h.Upper, from(i/2), from(i/2+n/2), places[i%2]))
		}
		from = to
	}
	for i := range n {
		out = append(out, fmt.Sprintf("v[%d] = %s;", i, from(i)))
	}
	return out
}

// laneForm is a form that all lanes of a pass are in, or several.
type laneForm struct{ Name, When string }

// LaneForms are those in use; the last one serves where a lane has no such section.
func (h *header) LaneForms() []laneForm {
	direct, delta := slices.Contains(h.forms(), biquad.Direct), slices.Contains(h.forms(), biquad.Delta)
	var out []laneForm
	if direct {
		out = append(out, laneForm{"direct", "forms == 1u"})
	}
	if delta {
		out = append(out, laneForm{"delta", "forms == 2u"})
	}
	if direct && delta {
		out = append(out, laneForm{"mixed", "forms == 3u"})
	}
	return append(out, laneForm{"ragged", ""})
}

// LanePasses are shortPass sections and lanePass of them in every form. Mixed and
// ragged are the delta form, in which c times a state is that state: in direct lanes it
// is -0. In lanes that have no such section p stays -0, and adds nothing to x.
func (h *header) LanePasses() []pass {
	k := h.kernel
	k.C.Type.Name = h.Stem + "_lanes"
	back := regexp.MustCompile(`^(([pq]_\d) = \(?)([pq])_(\d) \+ `)
	var out []pass
	for _, f := range h.LaneForms() {
		form := biquad.Delta
		if f.Name == "direct" {
			form = biquad.Direct
		}
		for _, n := range []int{shortPass, lanePass} {
			p := pass{Name: fmt.Sprintf("lanes_%s_%d", f.Name, n), Last: n - 1}
			var late []string // what only this section's next sample needs: behind the next section's y
			for j := range n {
				p.Sections = append(p.Sections, j)
				lines := k.inPass(k.Kernel.Section(form), j, n)
				p.Within = append(append(p.Within, h.ofRow(lines[0])), late...)
				late = nil
				for _, line := range lines[1:] {
					if f.Name == "mixed" || f.Name == "ragged" {
						line = back.ReplaceAllString(line, fmt.Sprintf("$1(%[1]s_lanes)(((%[1]s_marks)${3}_$4 & s[$4].keep.all) | s[$4].zero.all) + ", h.Stem))
					}
					late = append(late, h.ofRow(line))
					if f.Name == "ragged" && strings.HasPrefix(line, "p_") {
						late = append(late, fmt.Sprintf("p_%[2]d = (%[1]s_lanes)((%[1]s_marks)p_%[2]d | s[%[2]d].none.all);", h.Stem, j))
					}
				}
			}
			p.Within = append(p.Within, late...)
			out = append(out, p)
		}
	}
	return out
}

// ofRow has words where a pass finds them.
func (h *header) ofRow(line string) string {
	for i, w := range h.Kernel.Words {
		line = regexp.MustCompile(`\b`+w.Name+`_(\d)\b`).ReplaceAllString(line, fmt.Sprintf("s[$1].word[%d].all", i))
	}
	return line
}
