// Package stages emits board/NAME_stages.csv, what to expect of each stage when the first
// board is brought up: a finished board goes in, text comes out. The one invariant:
// every stage of the board is one row, in the order of the signal.
//
// Read first: Emit.
package stages

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"strconv"
	"strings"

	"bandwright/compiler"
	"bandwright/compiler/production"
)

var header = []string{"chain", "stage", "filter", "topology", "refs", "selector position", "settings", "output pin", "output node",
	"frequency (Hz)", "wanted gain (dB)", "nominal gain (dB)", "output (V RMS)", "DC within +- (mV)"}

// Emit is the table of stages of a build's board; nothing where the spec has none.
func Emit(b *compiler.Build) ([]compiler.File, error) {
	if b.Board == nil {
		return nil, nil
	}
	all, err := production.Stages(b.BoardSubject(), b.Board, b.Promises.LowHz, b.Promises.HighHz)
	if err != nil {
		return nil, err
	}
	rows := [][]string{header}
	for _, s := range all {
		var refs []string
		for _, p := range s.Placed() {
			refs = append(refs, p.Ref)
		}
		number := func(x float64, digits int) string {
			text := strconv.FormatFloat(x, 'f', digits, 64)
			if strings.Trim(text, "-0.") == "" {
				return strings.TrimPrefix(text, "-")
			}
			return text
		}
		selector := ""
		if s.Selector != "" {
			selector = fmt.Sprintf("%s: %d", s.Selector, s.At)
		}
		pin := s.Pin
		if pin != "" {
			pin += " output"
		}
		rows = append(rows, []string{s.Chain, fmt.Sprint(s.Number), s.From, s.Topology.Name, strings.Join(refs, " "), selector, settings(b, s), pin, s.Node,
			number(s.Hz, 1), number(s.WantedDB, 2), number(s.NominalDB, 2), number(s.OutputV, 4), number(s.OffsetV*1e3, 1)})
	}
	var out bytes.Buffer
	if err := csv.NewWriter(&out).WriteAll(rows); err != nil {
		return nil, err
	}
	return []compiler.File{{Name: "board/" + b.Spec.Name + "_stages.csv", Data: out.Bytes()}}, nil
}

// settings are the choices that a stage is looked at with, as far as they are not the
// default.
func settings(b *compiler.Build, s production.Stage) string {
	var out []string
	for i, x := range b.Settings {
		if s.C[i] != 0 {
			out = append(out, x.Name+": "+x.Choices[s.C[i]])
		}
	}
	return strings.Join(out, ", ")
}
