package brief

import (
	"fmt"
	"testing"

	"bandwright/compiler/verify"
)

// Of rows in all combinations of three settings, of which one changes nothing and one only
// together with another, those that differ stay.
func TestWithoutIdle(t *testing.T) {
	var rows []Settled
	for i, a := range []string{"x", "y"} {
		for j, b := range []string{"0", "1", "2"} {
			for k, c := range []string{"p", "q"} {
				cell := fmt.Sprint(i * k)
				rows = append(rows, Settled{Name: "low", With: []verify.Choice{{Setting: "a", Choice: a}, {Setting: "b", Choice: b}, {Setting: "c", Choice: c}},
					Cells: []string{"1", cell}, From: 6*i + 2*j + k})
			}
		}
	}
	got := ""
	for _, r := range WithoutIdle(rows) {
		got += fmt.Sprintf("%s %s %d;", r.Choices(), r.Cells[1], r.From)
	}
	if want := "a: x, c: p 0 0;a: x, c: q 0 1;a: y, c: p 0 6;a: y, c: q 1 7;"; got != want {
		t.Errorf("%s instead of %s", got, want)
	}
	for i := range rows {
		rows[i].Cells = []string{"1"}
	}
	if r := WithoutIdle(rows); len(r) != 1 || r[0].Choices() != "any" || r[0].From != 0 || len(rows[0].With) != 3 {
		t.Errorf("%+v", r)
	}
	if WithoutIdle(nil) != nil {
		t.Error("of no rows")
	}
}
