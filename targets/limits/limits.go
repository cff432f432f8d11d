// Package limits emits board/NAME_limits.csv, the test of every finished board: at which
// frequencies each output is measured in which settings, and between which limits. A
// finished board goes in, text comes out. The one invariant: every number has the
// unit that its column is named with.
//
// Read first: Emit.
package limits

import (
	"bytes"
	"encoding/csv"
	"math"
	"strconv"

	"bandwright/compiler"
	"bandwright/compiler/production"
)

// ending are the columns after those of the output and the settings. A row has either a
// frequency with level and phase, or the limits with the input at rest; of a board with
// trimmers the first row of each output also has how far its one is turned at most.
var ending = []string{"frequency (Hz)", "level least (dB)", "level nominal (dB)", "level most (dB)", "phase nominal (deg)", "phase within +- (deg)",
	"DC least (mV)", "DC most (mV)", "noise most (uV)"}

// Emit is the table of limits of a build's board; nothing where the spec has none.
func Emit(b *compiler.Build) ([]compiler.File, error) {
	if b.Board == nil {
		return nil, nil
	}
	p, err := production.Of(b.BoardSubject(), b.Board, b.Batch.Bought(), b.Promises.LowHz, b.Promises.HighHz)
	if err != nil {
		return nil, err
	}
	header := []string{"output"}
	for _, s := range b.Settings {
		header = append(header, s.Name)
	}
	header = append(header, ending...)
	if p.TrimDB != nil {
		header = append(header, "trimmer within +- (dB)")
	}
	rows := [][]string{header}
	for k, t := range p.Tests {
		begin := append([]string{b.Board.Ways[t.Way].Name}, choices(b, t)...)
		add := func(cells ...string) {
			row := make([]string, len(header))
			copy(row[copy(row, begin):], cells)
			rows = append(rows, row)
		}
		mV := t.OffsetV * 1e3
		add("", "", "", "", "", "", upwards(-mV), upwards(mV), upwards(t.NoiseV*1e6))
		if first := k == 0 || p.Tests[k-1].Way != t.Way; first && p.TrimDB != nil {
			rows[len(rows)-1][len(header)-1] = plain(math.Ceil(p.TrimDB[t.Way]*100)/100, 2)
		}
		for _, x := range t.Points {
			add(plain(x.Hz, -1), plain(x.LowDB, 2), plain(x.NominalDB, 2), plain(x.HighDB, 2), plain(x.Degrees, 0), plain(x.Within, 0))
		}
	}
	var out bytes.Buffer
	if err := csv.NewWriter(&out).WriteAll(rows); err != nil {
		return nil, err
	}
	return []compiler.File{{Name: "board/" + b.Spec.Name + "_limits.csv", Data: out.Bytes()}}, nil
}

// choices are those of every setting; "any" where the way does not depend on it.
func choices(b *compiler.Build, t production.Test) []string {
	var out []string
	axes := b.BoardSubject().WayAxes[t.Way]
	for i, s := range b.Settings {
		cell := "any"
		for _, ax := range axes {
			if ax.Setting == i {
				cell = s.Choices[t.C[i]]
			}
		}
		out = append(out, cell)
	}
	return out
}

// plain is a number with so many decimals, or with as many as it has.
func plain(x float64, decimals int) string {
	text := strconv.FormatFloat(x, 'f', decimals, 64)
	if v, _ := strconv.ParseFloat(text, 64); v == 0 { // no error: it is a number
		return strconv.FormatFloat(0, 'f', max(0, decimals), 64)
	}
	return text
}

// upwards is a number with one decimal, away from zero.
func upwards(x float64) string {
	return plain(math.Copysign(math.Ceil(math.Abs(x)*10-1e-9)/10, x), 1)
}
