package board

import (
	"fmt"
	"math"

	"bandwright/biquad"
	"bandwright/compiler/netlist"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// defaults is the combination of every setting's first choice.
func (b *Board) defaults() biquad.Combination {
	n := 0
	for _, c := range b.Chains() {
		for _, k := range c.Settings() {
			n = max(n, k+1)
		}
	}
	return make(biquad.Combination, n)
}

// blame names what departs most from its own filter at the frequency of a finding
// on a way, in the finding's combination: a stage, or the parts at an input or
// output. "" where nothing stands out.
func (b *Board) blame(way int, f verify.Finding) string {
	c := f.C
	if c == nil {
		c = b.defaults()
	}
	solver := b.wiring.in(c)
	at := func(hz float64, node string) complex128 {
		n, known := b.wiring.circuit.Find(node)
		if !known || solver.At(hz) != nil || n == netlist.Ground {
			return 1
		}
		return solver.Voltage(n)
	}
	db := func(hz float64, from, to string) float64 {
		return biquad.DB(at(hz, to)) - biquad.DB(at(hz, from))
	}
	worst, place := 0.0, ""
	take := func(departs float64, what string) {
		if math.Abs(departs) > math.Abs(worst) {
			worst, place = departs, what+", "+words.Signed(departs, "dB")
		}
	}
	common, own := &b.Common, &b.Ways[way].Chain
	for _, chain := range []*Chain{common, own} {
		for i := range chain.Positions {
			x := &chain.Positions[i]
			for _, s := range x.Alt[x.Index(c)].Stages {
				if s.Role != InputStage {
					want := biquad.DB(complex(s.Level, 0) * s.Section.At(2*math.Pi*f.AtHz))
					take(db(f.AtHz, s.In, s.Out)-want, fmt.Sprintf("%s stage %d, %s for %s", b.NameOf(chain), s.Number, s.Topology.Name, s.From))
				}
			}
		}
	}
	// What stands around the stages has no filter of its own: it is held against
	// itself in the middle of the band.
	middle := math.Sqrt(b.bandHz[0] * b.bandHz[1])
	sources, _ := b.Sources()
	first := common.Positions[0].Alt[0].Stages[0].In
	around := "the input's source and coupling"
	if b.Spec.Input.RFHz > 0 {
		around = "the input's source, RF filter and coupling"
	}
	take(db(f.AtHz, sources[0], first)-db(middle, sources[0], first), around)
	last := common.Out
	if n := len(own.Positions); n > 0 {
		last = own.Positions[n-1].Out
	}
	take(db(f.AtHz, last, own.Out)-db(middle, last, own.Out), "the output's coupling and load")
	switch {
	case place == "":
		return ""
	case f.Unit == words.DB && math.Abs(worst) < f.Worst/2:
		return "less than half of it in any one place, most in " + place
	}
	return "most of it in " + place
}
