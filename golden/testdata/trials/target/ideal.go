// Package ideal emits NAME_ideal.csv, the level of every way's prototype at the
// centres of the octaves, with every setting at its default.
package ideal

import (
	"bytes"
	"encoding/csv"
	"strconv"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/words"
)

// octaves are the nominal centres of octave bands (Hz), IEC 61260-1, Annex E.
var octaves = []float64{31.5, 63, 125, 250, 500, 1000, 2000, 4000, 8000, 16000}

// Emit is the table: a row for each way and octave.
func Emit(b *compiler.Build) ([]compiler.File, error) {
	rows := [][]string{{"way", "hz", "db"}}
	h := make([]complex128, len(octaves))
	for i, w := range b.Prototype.Ways {
		biquad.AnalogAt(h, b.Prototype.Path(i), make(biquad.Combination, len(b.Settings)), octaves)
		for k, hz := range octaves {
			rows = append(rows, []string{w.Name, strconv.FormatFloat(hz, 'f', -1, 64), words.Short(biquad.DB(h[k]))})
		}
	}
	var out bytes.Buffer
	err := csv.NewWriter(&out).WriteAll(rows)
	return []compiler.File{{Name: b.Spec.Name + "_ideal.csv", Data: out.Bytes()}}, err
}
