package result

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"bandwright/compiler/words"
)

// AcceptedBoard is an accepted board: what it is built from, a stage a line.
type AcceptedBoard struct {
	Packages       int             `json:"packages"` // of op-amps
	OpAmps         int             `json:"op_amps"`  // that are used
	DistinctValues int             `json:"distinct_values"`
	Stages         []AcceptedStage `json:"stages"`
	Ends           []AcceptedPart  `json:"ends"` // of inputs and outputs
	Response       *Table          `json:"response,omitempty"`
}

// AcceptedStage is one op-amp stage.
type AcceptedStage struct {
	Where    string         `json:"where"` // "common" or the way
	Stage    int            `json:"stage"`
	Topology string         `json:"topology"`
	Filter   string         `json:"filter"`
	Parts    []AcceptedPart `json:"parts"` // resistors and capacitors, in the order of the topology
}

// AcceptedPart is a resistor or a capacitor, in an accepted result a text such as
// "R10201 4120" or "C10201 3.3e-07": its reference, whose letter says what it is,
// and its value in ohm or farad.
type AcceptedPart struct {
	Ref        string
	Ohm, Farad float64
}

// MarshalText writes a part.
func (p AcceptedPart) MarshalText() ([]byte, error) {
	return []byte(p.Ref + " " + strconv.FormatFloat(p.Ohm+p.Farad, 'g', -1, 64)), nil
}

// UnmarshalText reads a part.
func (p *AcceptedPart) UnmarshalText(text []byte) error {
	ref, number, _ := strings.Cut(string(text), " ")
	v, err := strconv.ParseFloat(number, 64)
	if ref == "" || err != nil || !(v > 0) || math.IsInf(v, 0) {
		return fmt.Errorf("%q is no part: it takes a reference and a value, such as \"R10201 4120\"", text)
	}
	*p = AcceptedPart{Ref: ref, Ohm: v}
	if ref[0] == 'C' {
		*p = AcceptedPart{Ref: ref, Farad: v}
	}
	return nil
}

func (p AcceptedPart) String() string {
	if p.Farad > 0 {
		return words.Stock(p.Farad, "F")
	}
	return words.Stock(p.Ohm, "ohm")
}

// acceptedBoard is a board as an accepted one, nil where there is none.
func acceptedBoard(b *Board) *AcceptedBoard {
	if b == nil {
		return nil
	}
	out := &AcceptedBoard{Packages: len(b.Packages), DistinctValues: b.DistinctValues, Stages: []AcceptedStage{}, Ends: []AcceptedPart{}}
	add := func(where string, stages []Stage, ends []EndPart) {
		for _, s := range stages {
			f := AcceptedStage{Where: where, Stage: s.Stage, Topology: s.Topology, Filter: s.Filter, Parts: []AcceptedPart{}}
			for _, p := range s.Parts {
				if p.OpAmp {
					out.OpAmps++
				} else {
					f.Parts = append(f.Parts, AcceptedPart{p.Ref, p.Ohm, p.Farad})
				}
			}
			out.Stages = append(out.Stages, f)
		}
		for _, e := range ends {
			if !e.Outside && e.Ohm+e.Farad > 0 {
				out.Ends = append(out.Ends, AcceptedPart{e.Ref, e.Ohm, e.Farad})
			}
		}
	}
	add("common", b.Common.Stages, b.Common.Ends)
	for _, w := range b.Ways {
		add(w.Way, w.Stages, w.Ends)
	}
	return out
}
