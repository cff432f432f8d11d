package result

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"bandwright/compiler/netlist"
	"bandwright/compiler/words"
)

// AcceptedBoard is an accepted board: what it is built from and how it is wired,
// a stage a line. That is enough for its response in any combination of settings
// at any frequency.
type AcceptedBoard struct {
	// Held is the file that holds the board as it is laid out: references and numbers of
	// stages are identities. "" where none does.
	Held           string `json:"held,omitempty"`
	Packages       int    `json:"packages"` // of op-amps
	OpAmps         int    `json:"op_amps"`  // that are used
	DistinctValues int    `json:"distinct_values"`
	// Classes are the parts that come in more than one tolerance, by what is bought.
	Classes []Class `json:"classes,omitempty"`
	// CommonDelayS is what all ways lag (s).
	CommonDelayS float64         `json:"common_delay_s"`
	OpAmp        AcceptedOpAmp   `json:"op_amp"`
	Stages       []AcceptedStage `json:"stages"`
	Ends         []AcceptedPart  `json:"ends"` // of inputs and outputs
	// Outside are sources, loads and wires: what the board is measured with.
	Outside  []AcceptedPart    `json:"outside"`
	Contacts *AcceptedContacts `json:"contacts,omitempty"` // nil where nothing is switched
	Outputs  []AcceptedOutput  `json:"outputs"`
}

// AcceptedOpAmp are the figures of the op-amp that its responses hang on.
type AcceptedOpAmp struct {
	GainBandwidthHz float64 `json:"gain_bandwidth_hz"`
	OpenLoopGain    float64 `json:"open_loop_gain"`
	OutputOhm       float64 `json:"output_ohm"`
}

// AcceptedContacts are those of the selectors.
type AcceptedContacts struct {
	ClosedOhm float64           `json:"closed_ohm"`
	OpenOhm   float64           `json:"open_ohm"`
	List      []AcceptedContact `json:"list"`
}

// AcceptedContact is one contact, closed in the choices of any of Closed.
type AcceptedContact struct {
	Part   AcceptedPart          `json:"part"`
	Closed []map[string][]string `json:"closed"`
}

// AcceptedOutput is the node of a way.
type AcceptedOutput struct {
	Way  string `json:"way"`
	Node string `json:"node"`
}

// AcceptedStage is one op-amp stage.
type AcceptedStage struct {
	Where    string         `json:"where"` // "common" or the way
	Stage    int            `json:"stage"`
	Topology string         `json:"topology"`
	Filter   string         `json:"filter"`
	Parts    []AcceptedPart `json:"parts"` // resistors and capacitors, in the order of the topology
	OpAmps   []AcceptedPart `json:"op_amps"`
}

// AcceptedPart is a part, in an accepted result a text such as
// "R10201 s101 s102 4120", "C10201 s102 0 3.3e-07", "U101A 0 s102_m s102" or
// "vin vin 0 1": its reference, its nodes (of an op-amp +, - and output), and its
// value in ohm, farad or, of a source, volt; an op-amp has none. Of a diode and of a
// transistor's gate (drain, gate, source) that is a capacitance, of a relay's contact a
// resistance, as the board plays. Contacts of selectors have no value: settings give it. A
// trimmer's is where it stands in the middle of its range, and all of it: "R20003 a b 231.8/500".
type AcceptedPart struct {
	Ref        string
	Nodes      []string // nil where they are not known
	Ohm, Farad float64
	Volt       float64
	TrackOhm   float64 // all of a trimmer, 0 for other parts
}

// bare reports whether parts of a reference have no value.
func bare(ref string) bool { return ref[0] == 'U' || ref[0] == 'S' }

// MarshalText writes a part.
func (p AcceptedPart) MarshalText() ([]byte, error) {
	words := append([]string{p.Ref}, p.Nodes...)
	if !bare(p.Ref) {
		value := strconv.FormatFloat(p.Ohm+p.Farad+p.Volt, 'g', -1, 64)
		if p.TrackOhm > 0 {
			value += "/" + strconv.FormatFloat(p.TrackOhm, 'g', -1, 64)
		}
		words = append(words, value)
	}
	return []byte(strings.Join(words, " ")), nil
}

// UnmarshalText reads a part.
func (p *AcceptedPart) UnmarshalText(text []byte) error {
	fields := strings.Fields(string(text))
	wrong := fmt.Errorf("%q is no part: it takes a reference, nodes and a value, such as \"R10201 s101 s102 4120\"", text)
	if len(fields) == 0 {
		return wrong
	}
	*p = AcceptedPart{Ref: fields[0], Nodes: fields[1:]}
	if !bare(p.Ref) {
		last := len(fields) - 1
		value, track, trims := strings.Cut(fields[last], "/")
		v, err := strconv.ParseFloat(value, 64)
		if last == 0 || err != nil || math.IsInf(v, 0) || v == 0 || v < 0 && p.Ref[0] != 'V' {
			return wrong
		}
		if trims {
			if p.TrackOhm, err = strconv.ParseFloat(track, 64); err != nil || !(p.TrackOhm >= v) || math.IsInf(p.TrackOhm, 0) || p.Ref[0] != 'R' {
				return wrong
			}
		}
		p.Nodes = fields[1:last]
		switch p.Ref[0] {
		case 'V':
			p.Volt = v
		case 'C', 'D', 'Q':
			p.Farad = v
		default:
			p.Ohm = v
		}
	}
	nodes := 2
	if p.Ref[0] == 'U' || p.Ref[0] == 'Q' {
		nodes = 3
	}
	if len(p.Nodes) == 0 {
		p.Nodes = nil
	} else if len(p.Nodes) != nodes {
		return wrong
	}
	return nil
}

func (p AcceptedPart) String() string {
	switch p.Ref[0] {
	case 'D', 'K', 'Q':
		return kinds[p.Ref[0]].String()
	}
	if p.TrackOhm > 0 {
		return words.Stock(p.TrackOhm, "ohm") + " trimmer"
	}
	if p.Farad > 0 {
		return words.Stock(p.Farad, "F")
	}
	return words.Stock(p.Ohm, "ohm")
}

// kinds are those of what protects and mutes, by the letter of the reference.
var kinds = map[byte]netlist.Kind{'D': netlist.Diode, 'K': netlist.Contact, 'Q': netlist.Transistor}

// unknown is such a part of a board of which it is not known how it is wired.
func unknown(ref string) AcceptedPart {
	switch kinds[ref[0]] {
	case netlist.Contact:
		return AcceptedPart{Ref: ref, Ohm: netlist.OpenOhm}
	case netlist.Transistor:
		return AcceptedPart{Ref: ref, Farad: netlist.JFETGateF(0)}
	}
	return AcceptedPart{Ref: ref, Farad: netlist.DiodeF}
}

// acceptedBoard is a board as an accepted one, nil where there is none.
func acceptedBoard(b *Board) *AcceptedBoard {
	if b == nil {
		return nil
	}
	out := &AcceptedBoard{Packages: len(b.Packages), DistinctValues: b.DistinctValues, Classes: b.Classes, CommonDelayS: b.CommonDelayS,
		Stages: []AcceptedStage{}, Ends: []AcceptedPart{}, Outside: []AcceptedPart{}, Outputs: []AcceptedOutput{}}
	if b.Held != nil {
		out.Held = b.Held.File
	}
	add := func(where string, stages []Stage, ends []EndPart) {
		for _, s := range stages {
			f := AcceptedStage{Where: where, Stage: s.Stage, Topology: s.Topology, Filter: s.Filter, Parts: []AcceptedPart{}, OpAmps: []AcceptedPart{}}
			for _, p := range s.Parts {
				if p.OpAmp {
					out.OpAmps++
					f.OpAmps = append(f.OpAmps, AcceptedPart{Ref: p.Ref})
				} else {
					f.Parts = append(f.Parts, AcceptedPart{Ref: p.Ref, Ohm: p.Ohm, Farad: p.Farad})
				}
			}
			out.Stages = append(out.Stages, f)
		}
		for _, e := range ends {
			part := AcceptedPart{Ref: e.Ref, Ohm: e.Ohm, Farad: e.Farad, TrackOhm: e.TrackOhm}
			switch {
			case e.Outside:
				out.Outside = append(out.Outside, part)
			case e.Kind != "":
				out.Ends = append(out.Ends, unknown(e.Ref))
			case e.Ohm+e.Farad > 0:
				out.Ends = append(out.Ends, part)
			}
		}
	}
	add("common", b.Common.Stages, b.Common.Ends)
	for _, w := range b.Ways {
		add(w.Way, w.Stages, w.Ends)
	}
	return out
}
