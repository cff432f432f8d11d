package stage

import (
	"math"
	"math/cmplx"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/nodal"
)

// A peak where the op-amp runs out of gain is that of the nodal analysis of the stage at
// 200 frequencies an octave, for every stage of the corpus; some of them have one.
func TestPeakAbove(t *testing.T) {
	b := corpusBench("E24", "E6")
	peaks := 0
	for _, s := range corpus(t) {
		c, err := b.Textbook(s.topology, s.section)
		if err != nil {
			continue
		}
		got, err := b.PeakAbove(c)
		if err != nil {
			t.Fatal(s.id, err)
		}
		alone := c.Topology.Alone(c.Values, b.Means.OpAmp)
		solver, err := nodal.New(alone, b.Band.FromHz)
		if err != nil {
			t.Fatal(s.id, err)
		}
		out, _ := alone.Find("out")
		top := func(from, to float64) (gain float64) {
			for _, hz := range biquad.Octaves(from, to, 200) {
				if err := solver.At(hz); err != nil {
					t.Fatal(s.id, err)
				}
				gain = math.Max(gain, cmplx.Abs(solver.Voltage(out)))
			}
			return gain
		}
		want := biquad.GainDB(top(b.Band.ToHz, AboveGain*b.Means.OpAmp.GainBandwidthHz)) - biquad.GainDB(top(b.Band.FromHz, b.Band.ToHz))
		if math.Abs(got-want) > 1 {
			t.Errorf("%s, %s: %.2f dB, nodal analysis says %.2f", s.id, c.Topology.Name, got, want)
		}
		if want > 1 {
			peaks++
		}
	}
	if peaks == 0 {
		t.Error("no stage of the corpus has a peak: nothing was tried")
	}
}
