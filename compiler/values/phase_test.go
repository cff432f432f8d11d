package values

import (
	"math"
	"math/cmplx"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/assign"
	"bandwright/compiler/circuit"
	"bandwright/compiler/netlist"
	"bandwright/compiler/stage"
)

// All-passes in series, with nothing that they sum with: their magnitudes are right
// whatever their values, and where phase counts the values are chosen for it.
func TestPhaseCounts(t *testing.T) {
	const perRad = 1.2 // dB
	b := benchWith(netlist.OpAmp{Ideal: true})
	topology, _ := circuit.ByName("fliege")
	p := Problem{At: b.At(biquad.Octaves(50, 5000, 12)), Paths: []assign.Path{{Stages: []int{0, 1, 2}}}}
	for _, hz := range []float64{300, 470, 810} {
		r := math.Sqrt2
		c, _, err := b.Candidates(biquad.Analog{W0: 2 * math.Pi * hz, Keep: 2 * math.Pi * hz, B: [3]float64{1, -r, 1}, A: [3]float64{1, r, 1}},
			[]*circuit.Topology{topology}, 40, stage.Behind{})
		if err != nil {
			t.Fatal(err)
		}
		p.Stages = append(p.Stages, c)
	}
	want(&p)
	// What a plan's own parts do by their closed forms, from 200 Hz up.
	errors := func(plan Plan) (db, rad float64) {
		for _, f := range p.At.Hz {
			e := complex(1, 0)
			for _, c := range plan.Candidates {
				e *= c.Topology.Closed(c.Values).At(2*math.Pi*f) / c.Section.At(2*math.Pi*f)
			}
			db = math.Max(db, math.Abs(biquad.DB(e)))
			if f >= 200 {
				rad = math.Max(rad, math.Abs(cmplx.Phase(e)))
			}
		}
		return db, rad
	}
	blind, err := Joint(p)
	if err != nil {
		t.Fatal(err)
	}
	weighs := make([]float64, len(p.At.Hz))
	for i, f := range p.At.Hz {
		if f >= 200 {
			weighs[i] = perRad
		}
	}
	p.Paths[0].PerRad = weighs
	seeing, err := Joint(p)
	if err != nil {
		t.Fatal(err)
	}
	_, was := errors(blind)
	db, is := errors(seeing)
	if !(is < was/2) {
		t.Errorf("phase is %.4f rad off where it counts, %.4f where it does not", is, was)
	}
	if want := math.Max(db, perRad*is); math.Abs(seeing.PathDB[0]-want) > 1e-9 {
		t.Errorf("the plan tells %.9f dB, its parts make %.9f", seeing.PathDB[0], want)
	}
	// The same for few values.
	if few, kept, err := Few(p, seeing, both(0.05)); err != nil || !kept {
		t.Error(kept, err)
	} else if _, rad := errors(few); rad*perRad > 0.05 {
		t.Errorf("few values are %.4f rad off, and %.4f are allowed", rad, 0.05/perRad)
	}
	p.Paths[0].PerRad = weighs[1:]
	if _, err := Joint(p); err == nil {
		t.Error("a path with too few weights passes")
	}
}

// Few values cost no more headroom than they may, whatever the passes.
func TestFewValuesSwingNoFurther(t *testing.T) {
	const between = 1.05 // measure looks at other frequencies
	all := fourWayPlans()
	if all.err != nil {
		t.Fatal(all.err)
	}
	seen := 0
	for _, few := range all.plans[3:] {
		for i, c := range few.Candidates {
			if was := all.plans[2].Candidates[i]; c.Topology.OpAmps() > 1 {
				seen++
				if c.Swing == 0 || c.Swing > math.Max(was.Swing, 1)*swingShare*between {
					t.Errorf("%s, stage %d: an op-amp swings %.3f times the input, %.3f before", c.Topology.Name, i, c.Swing, was.Swing)
				}
			}
		}
	}
	if seen == 0 {
		t.Error("no stage of two op-amps")
	}
}
