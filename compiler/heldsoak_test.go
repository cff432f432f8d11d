//go:build soak

package compiler_test

import (
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"

	"bandwright/compiler"
	"bandwright/compiler/board"
	"bandwright/compiler/language"
)

// manyPerKind is how many edits of each kind are made of each board.
const manyPerKind = 6

// heldSoak are the boards that are edited, and the layouts of each: with the most exact values, and with few.
var (
	heldSoak    = [...]string{"dabchick", "heron", "bittern"}
	heldLayouts = [...]string{"\n  few-values: off", ""}
)

// edited is what edits of a kind did to boards of one layout.
type edited struct {
	shares       []float64 // of the parts, in percent, that changed
	more         []float64 // different values afterwards, less those before
	breaks, kept int       // boards with a broken promise, and with none
}

func mean(list []float64) float64 {
	sum := 0.0
	for _, x := range list {
		sum += x
	}
	return sum / float64(len(list))
}

// add enters one edit of a board that had so many parts and different values.
func (e *edited) add(b *compiler.Build, kind heldEdit, parts, values int) {
	e.shares = append(e.shares, 100*float64(changedParts(b, kind))/float64(parts))
	e.more = append(e.more, float64(b.Board.DistinctValues()-values))
	if slices.ContainsFunc(ofBoard(b), func(kept bool) bool { return !kept }) {
		e.breaks++
	} else {
		e.kept++
	}
}

// ofBoard says of each finding on the board whether it is kept.
func ofBoard(b *compiler.Build) (kept []bool) {
	for _, f := range b.Findings {
		if f.Realisation == board.RealisationName {
			kept = append(kept, f.Kept)
		}
	}
	return kept
}

// laidOut is a shipped board in a layout, with the spec that has it, how it is held, and how many parts it has.
func laidOut(t *testing.T, name, layout string) (src string, first *compiler.Build, held []byte, parts int) {
	src = strings.Replace(shippedHeld(t, name), "\n  few-values: off", layout, 1)
	first = compiledHeld(t, src, nil, compiler.Holding{})
	if _, few := first.Board.Reduced(); few != (layout == "") {
		t.Fatalf("%s: few values %v", name, few)
	}
	for _, x := range first.Board.Bins() {
		parts += len(x.Refs)
	}
	return src, first, language.FormatHeld(first.Hold()), parts
}

// The table of DEVELOPERS.md: what edits of the shipped boards change, laid out with the most exact values and
// with few. Every line that is printed stands there.
func TestManyHeldEdits(t *testing.T) {
	var done [len(heldLayouts)][]edited
	for l, layout := range heldLayouts {
		done[l] = make([]edited, len(heldEdits))
		for n, name := range heldSoak {
			src, first, held, parts := laidOut(t, name, layout)
			for k, e := range heldEdits {
				for i := range manyPerKind {
					draw := rand.New(rand.NewPCG(uint64(n), uint64(100*k+i)))
					if b, _ := editedHeld(t, e, src, held, first, draw); b != nil {
						done[l][k].add(b, e, parts, first.Board.DistinctValues())
					}
				}
			}
		}
	}
	var table []string
	for k, e := range heldEdits {
		row := "| " + e.name
		for l := range heldLayouts {
			x := done[l][k]
			if len(x.shares) == 0 || x.kept == 0 {
				t.Fatalf("%s: %d edits, %d boards keep their promises", e.name, len(x.shares), x.kept)
			}
			row += fmt.Sprintf(" | %.1f, %.1f | %+.2f | %d of %d", mean(x.shares), slices.Max(x.shares), mean(x.more), x.breaks, len(x.shares))
		}
		table = append(table, row+" |")
	}
	stands(t, table)
}

// Ten edits of a board, one after the other, each held before the next: what changed in all, and how many
// different values there are then.
func TestHeldEditsInARow(t *testing.T) {
	var table []string
	kinds := slices.DeleteFunc(slices.Clone(heldEdits), func(e heldEdit) bool { return e.without || strings.Contains(e.name, "filter") })
	for n, name := range heldSoak {
		row := "| " + name
		for _, layout := range heldLayouts {
			src, first, held, _ := laidOut(t, name, layout)
			draw := rand.New(rand.NewPCG(uint64(n), 1))
			changed, last := 0, first
			for done := 0; done < 10; {
				e := kinds[draw.IntN(len(kinds))]
				now := e.edit(src, draw)
				if now == "" || now == src {
					continue
				}
				last = compiledHeld(t, now, held, compiler.Holding{})
				changed += changedParts(last, e)
				src, held, done = now, language.FormatHeld(last.Hold()), done+1
			}
			row += fmt.Sprintf(" | %d | %d to %d", changed, first.Board.DistinctValues(), last.Board.DistinctValues())
			if len(ofBoard(last)) == 0 || last.Board.Kept == nil {
				t.Fatalf("%s: nothing is known of the board", name)
			}
		}
		table = append(table, row+" |")
	}
	stands(t, table)
}

// stands prints the lines of a table and looks for each in DEVELOPERS.md.
func stands(t *testing.T, table []string) {
	t.Helper()
	text, err := os.ReadFile("../DEVELOPERS.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range table {
		fmt.Println(row)
		if !strings.Contains(string(text), "\n"+row+"\n") {
			t.Errorf("not in DEVELOPERS.md: %s", row)
		}
	}
}
