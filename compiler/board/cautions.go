package board

import (
	"fmt"
	"strings"

	"bandwright/compiler/words"
)

// caution is one thing that a designer of boards wants to be warned of.
type caution struct {
	name string
	// found lists the places that give cause for it, none where all is well.
	found func(s *survey) []place
	// sentence says it of places whose about is the same: "what, where, number: what
	// to do".
	sentence func(at []place) string
}

// cautions are all of them, in the order of the signal, then what holds of the whole
// board. A topology's own remarks stand in its file; those that the board knows more
// about have rows of their own.
var cautions = []*caution{
	&inputMatch, &lowRFFilter, &clampDiodes, &buildOut, &noDriverProtection, &shallowMute, &mutedCurrent, &mutedSwing, &dcCoupled, &couplingType, &breakBeforeMake, &manyContacts, &twoSettings,
	&noiseGain, &gainBandwidth, &heavyInput, &leaks, &ownRemark, &notchDepth, &thermalNoise,
	&dielectric, &rating, &unlisted,
	&clips, &commonMode, &slewRate, &outputCurrent, &highRails,
	&biasCurrent, &multipliedOffset, &noDCPath, &rumble, &passesDC,
	&invertedOutput, &manyValues, &boundValues,
	// Tolerances that cannot meet the promised yield are no row: the promise board-yield is
	// broken by them, and its finding has the remedies that were tried.
}

// survey is a finished board with what rows look at in common.
type survey struct {
	*Board
	job   Job
	worst strains
	dc    []wayOffset // of each way
	stock stockFaults
}

// place is a place of a board that gives cause for a caution.
type place struct {
	chain  *Chain // nil for what no chain is to blame for
	stage  int    // its number, 0 for a whole chain
	name   string // as sentences call chain
	number string // the figure that shows it, "" where the sentence needs none
	// about and remedy are of topologies' own remarks: one sentence a remark.
	about, remedy string
	need          float64 // what a row's remedy asks for
}

// cautions says all that speaks against the finished board, each thing once.
func (b *Board) cautions(j Job) []string {
	s := &survey{Board: b, job: j, worst: b.mostStrained(j.Cases), stock: b.stockFaults()}
	s.dc = s.offsets()
	var out []string
	for _, c := range cautions {
		at := c.found(s)
		for len(at) > 0 {
			var one, others []place
			for _, p := range at {
				if p.about == at[0].about {
					one = append(one, p)
				} else {
					others = append(others, p)
				}
			}
			out = append(out, c.sentence(one))
			at = others
		}
	}
	return out
}

// eachStage lists the places of the stages of which see has a number, which it may
// complete.
func (s *survey) eachStage(see func(x *Stage, p *place)) []place {
	var out []place
	for _, c := range s.Chains() {
		for _, x := range c.Stages() {
			p := place{chain: c, stage: x.Number, name: s.NameOf(c)}
			see(x, &p)
			last := len(out) - 1
			// A switched stage is told once, whatever states of it give cause.
			again := x.Body != nil && last >= 0 && out[last].chain == c && out[last].stage == x.Number && out[last].about == p.about
			if (p.number != "" || p.about != "") && !again {
				out = append(out, p)
			}
		}
	}
	return out
}

// eachWay lists the places of the ways of which see has a number.
func (s *survey) eachWay(see func(way int, p *place)) []place {
	var out []place
	for i := range s.Ways {
		p := place{chain: &s.Ways[i].Chain, name: s.Ways[i].Name}
		if see(i, &p); p.number != "" {
			out = append(out, p)
		}
	}
	return out
}

// where lists places with their numbers: "common stage 2 (10.6), mid stages 3 (11) and 4 (12)".
func where(at []place) string {
	var chains []string
	for len(at) > 0 {
		var stages []string
		n := 0
		for ; n < len(at) && at[n].name == at[0].name; n++ {
			x := ""
			if at[n].stage > 0 {
				x = fmt.Sprint(at[n].stage)
			}
			if at[n].number != "" {
				x = strings.TrimLeft(x+" ("+at[n].number+")", " ")
			}
			stages = append(stages, x)
		}
		name := at[0].name
		switch {
		case at[0].stage > 0 && n == 1:
			name += " stage "
		case at[0].stage > 0:
			name += " stages "
		case name != "":
			name += " "
		}
		chains = append(chains, name+words.List(stages))
		at = at[n:]
	}
	if len(chains) < 2 {
		return strings.Join(chains, "")
	}
	// "and" joins the stages of a chain.
	return strings.Join(chains, "; ")
}

// greatest is the largest need of places.
func greatest(at []place) float64 {
	most := at[0].need
	for _, p := range at {
		most = max(most, p.need)
	}
	return most
}
