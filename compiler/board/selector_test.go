package board_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/board"
	"bandwright/compiler/netlist"
	"bandwright/compiler/nodal"
)

// A selector of twelve positions, beyond one digit: each contact has a name of
// its own, and each position gives its level.
func TestManyPositions(t *testing.T) {
	const positions = 12
	choices, filters := []string{}, []string{}
	for k := range positions {
		choices = append(choices, fmt.Sprintf("-%d dB", k))
		if k > 0 {
			filters = append(filters, fmt.Sprintf("gain: {by: -%d dB, when: {trim: -%d dB}}", k, k))
		}
	}
	b := build(t, little("settings: {trim: ["+strings.Join(choices, ", ")+"]}\n", "{"+strings.Join(filters, "}, {")+"}", ""))
	if b.Board == nil {
		t.Fatalf("no board: %v", b.Findings)
	}
	seen := map[string]bool{}
	for _, k := range b.Board.Contacts() {
		if seen[k.Ref] || strings.ContainsAny(k.Ref, ":;<=>?@") {
			t.Errorf("contact %q", k.Ref)
		}
		seen[k.Ref] = true
	}
	if len(seen) != positions {
		t.Errorf("%d contacts, want %d", len(seen), positions)
	}
	h := make([]complex128, 1)
	for k := range positions {
		b.Board.On([]float64{1000}).Response(h, 0, biquad.Combination{uint8(k)})
		if db := biquad.DB(h[0]); math.Abs(db+float64(k)) > 0.05 {
			t.Errorf("position %d: %.3f dB", k+1, db)
		}
	}
}

// While a selector is between two positions the bleed resistor holds its pole:
// what follows gets next to nothing, where a pole that floats would follow its
// open contacts.
func TestBleedHoldsAnOpenSelector(t *testing.T) {
	b := build(t, little("settings: {trim: [0 dB, -6 dB]}\n", "{gain: {by: -6 dB, when: {trim: -6 dB}}}", ""))
	c := netlist.New()
	nodes, volts := b.Board.Sources()
	for i, n := range nodes {
		c.Source("V"+n, n, "0", volts[i])
	}
	b.Board.Parts(c)
	for _, k := range b.Board.Contacts() {
		c.Resistor(k.Ref, k.A, k.B, board.OpenOhm)
	}
	s, err := nodal.New(c, 20)
	if err != nil {
		t.Fatal(err)
	}
	if err := s.At(1000); err != nil {
		t.Fatal(err)
	}
	// Two open contacts of 10 Gohm into 100 kohm: -94 dB.
	if db := biquad.DB(s.Voltage(c.Node(b.Board.Ways[0].Out))); db > -90 {
		t.Errorf("%.1f dB through an open selector", db)
	}
}
