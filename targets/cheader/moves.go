package cheader

import (
	"fmt"
	"strings"

	"bandwright/biquad/number"
)

// move is a function of C by which a pass takes words of the table, or what sections remember, into registers beside
// each other in one instruction, or keeps it.
type move struct {
	Name     string
	Words    int   // of the table; 0: states
	Sections []int // whose states; nil: words
	Keeps    bool
	*several
}

// Address is the number that assembly gives the operand with the address, behind what it gives.
func (m move) Address() int {
	if m.Keeps {
		return len(m.Sections)
	}
	return len(m.Registers)
}

// Each is for the words of one, Memory names them as assembly's operands.
func (m move) Each() []int { return make([]int, m.Words) }

func (m move) Memory() string {
	out := []string{`"r"(from)`}
	for i := range m.Words {
		out = append(out, fmt.Sprintf("\"m\"(from[%d])", i))
	}
	return strings.Join(out, ", ")
}

// Moving reports that passes move words and states at once where the processor can: their rows are then full, and what all
// passes begin with stands in front.
func (h *header) Moving() bool {
	if !h.Chained() || h.C.Several.When == "" {
		return false
	}
	passes := h.Passes()
	words, states := shared(passes)
	for _, v := range words {
		if h.WordAt(v) >= len(words) {
			return false
		}
	}
	for _, p := range passes {
		if len(p.Words) != p.Length || len(p.States) != len(states) {
			return false
		}
	}
	return len(words) > 0
}

// Moves are the functions, of all passes.
func (h *header) Moves() []move {
	words, _ := shared(h.Passes())
	out := []move{h.wordMove("first", len(words), h.C.Several.Passes.First)}
	out = append(out, h.stateMoves("first_states", "keep_first", 1, h.C.Several.Passes.FirstStates)...)
	made := map[string]bool{}
	add := func(all ...move) {
		for _, m := range all {
			if !made[m.Name] && m.Words+len(m.Sections) > 0 {
				made[m.Name] = true
				out = append(out, m)
			}
		}
	}
	for _, p := range h.Passes() {
		n, others := len(p.Sections)*p.Length-len(words), len(p.Sections)-1
		if n > 0 {
			add(h.wordMove(fmt.Sprintf("words_%d", n), n, h.C.Several.Passes.Words))
		}
		if others > 0 {
			add(h.stateMoves(fmt.Sprintf("states_%d", others), fmt.Sprintf("keep_states_%d", others), others, h.C.Several.Passes.States)...)
		}
	}
	return out
}

// wordMove takes n words of the table, into the registers from one on.
func (h *header) wordMove(name string, n, first int) move {
	var of []number.Variable
	for i := range n {
		of = append(of, number.Variable{Name: fmt.Sprintf("word_%d", i)})
	}
	return move{Name: name, Words: n, several: h.several(of, first)}
}

// stateMoves take what so many sections remember into the registers from one on, and keep it.
func (h *header) stateMoves(load, keep string, sections, first int) []move {
	var of []number.Variable
	var numbers []int
	for i := range sections {
		numbers = append(numbers, i)
		for _, s := range h.States() {
			of = append(of, number.Variable{Name: fmt.Sprintf("%s_%d", s.Name, i)})
		}
	}
	moved := h.several(of, first)
	return []move{{Name: load, Sections: numbers, several: moved}, {Name: keep, Sections: numbers, Keeps: true, several: moved}}
}

// MovedFirst are C's statements that take the words and states that all passes begin with, MovedFirstStores those that
// keep the states.
func (h *header) MovedFirst() []string {
	words, states := shared(h.Passes())
	out := []string{
		fmt.Sprintf("%s first[%d];", h.Type(), len(words)),
		fmt.Sprintf("%s_memory is;", h.Stem),
		"",
		h.call("first", "&w, first"),
		h.call("first_states", "m, &is"),
	}
	for _, v := range words {
		out = append(out, fmt.Sprintf("const %s %s_0 = first[%d];", h.Type(), v.Name, h.WordAt(v)))
	}
	for _, s := range states {
		out = append(out, fmt.Sprintf("%s %s_0 = is.%s;", s.Type.Name, s.Name, s.Name))
	}
	return ended(out)
}

func (h *header) MovedFirstStores() []string {
	_, states := shared(h.Passes())
	var out []string
	for _, s := range states {
		out = append(out, fmt.Sprintf("is.%s = %s_0;", s.Name, s.Name))
	}
	return ended(append(out, h.call("keep_first", "m, &is")))
}

// moved are those of a pass's other words and states, which stand from w and &m[1] on.
func (h *header) moved(p pass, words []number.Variable) (loads, stores []string) {
	var take, named []string
	if n := len(p.Sections)*p.Length - len(words); n > 0 {
		loads, take = append(loads, fmt.Sprintf("%s words[%d];", h.Type(), n)), append(take, h.call(fmt.Sprintf("words_%d", n), "w, words"))
	}
	for _, j := range p.Sections {
		for i := range p.Length {
			if at := j*p.Length + i - len(words); at >= 0 {
				named = append(named, fmt.Sprintf("const %s %s_%d = words[%d];", h.Type(), h.Words()[i].Name, j, at))
			}
		}
	}
	if n := len(p.Sections) - 1; n > 0 {
		loads, take = append(loads, fmt.Sprintf("%s_memory more[%d];", h.Stem, n)), append(take, h.call(fmt.Sprintf("states_%d", n), "&m[1], more"))
		for _, j := range p.Sections[1:] {
			for _, s := range p.States {
				named = append(named, fmt.Sprintf("%s %s_%d = more[%d].%s;", s.Type.Name, s.Name, j, j-1, s.Name))
				stores = append(stores, fmt.Sprintf("more[%d].%s = %s_%d;", j-1, s.Name, s.Name, j))
			}
		}
		stores = append(stores, h.call(fmt.Sprintf("keep_states_%d", n), "&m[1], more"))
	}
	if len(loads) == 0 {
		return nil, nil
	}
	loads = append(append(append(loads, ""), take...), named...)
	return ended(loads), ended(stores)
}

// ended has a semicolon behind every call.
func ended(lines []string) []string {
	for i, l := range lines {
		if l != "" && l[len(l)-1] == ')' {
			lines[i] += ";"
		}
	}
	return lines
}
