package brief

import (
	"fmt"
	"slices"
	"strings"

	"bandwright/compiler"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// Settled is a row of a table that has settings: what it is of, the settings that it is in, and its
// cells. From is where it was before rows were left out.
type Settled struct {
	Name  string
	With  []verify.Choice
	Cells []string
	From  int
}

// Choices names those of a row, "any" of one that no setting changes.
func (s Settled) Choices() string {
	if len(s.With) == 0 {
		return "any"
	}
	return verify.Choices(s.With)
}

// WithoutIdle leaves out the settings that change nothing in the cells of rows: of rows that differ
// in such a setting alone the first stays. All rows have the same settings.
func WithoutIdle(rows []Settled) []Settled {
	if len(rows) == 0 {
		return rows
	}
	for i := len(rows[0].With) - 1; i >= 0; i-- {
		first := map[string]string{} // cells by the choices of the other settings
		idle := true
		var fewer []Settled
		for _, r := range rows {
			r.With = slices.Delete(slices.Clone(r.With), i, i+1)
			key, cells := verify.Choices(r.With), strings.Join(r.Cells, "\t")
			switch was, seen := first[key]; {
			case !seen:
				first[key] = cells
				fewer = append(fewer, r)
			case was != cells:
				idle = false
			}
		}
		if idle {
			rows = fewer
		}
	}
	return rows
}

// OnePlace says of figures off the axis what they leave out of ways that have several drivers; ""
// where none has.
func OnePlace(b *compiler.Build) string {
	rows := b.Air.Rows()
	if rows == nil {
		return ""
	}
	return fmt.Sprintf("Several drivers count as one place (%s): beside the axis that holds in the plane at right angles to their line; in the plane of the line patterns "+
		"are narrower than told, and with them the power in all directions is less.", words.List(rows))
}
