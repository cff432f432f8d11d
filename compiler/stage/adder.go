package stage

// Adder finds what candidates of one topology and section add to the outputs of several
// paths, one candidate after another. It may be used by several goroutines: what it finds
// of a candidate does not hang on what it was asked before.
type Adder struct {
	rig    *rig
	hz     []float64
	behind [][]float64 // of each path: gains at 0 Hz and at hz
}

// Adder prepares to ask about candidates like one of them, with what is behind them in
// each path.
func (b *Bench) Adder(like Candidate, behind []Behind) (*Adder, error) {
	a := &Adder{rig: newRig(like.Topology, b.Means.OpAmp, b.Band.FromHz), hz: noiseHz(like.Section)}
	for _, x := range behind {
		a.behind = append(a.behind, x.over(a.hz))
	}
	return a, a.rig.set(like.Values)
}

// Adds is what a candidate adds to each path, as Bench.Adds has it.
func (a *Adder) Adds(c Candidate) ([]Added, error) {
	r := *a.rig
	r.solver = r.solver.Clone()
	if err := r.set(c.Values); err != nil {
		return nil, err
	}
	own, err := r.alone(a.hz)
	if err != nil {
		return nil, err
	}
	out := make([]Added, len(a.behind))
	for i, x := range a.behind {
		out[i] = own.through(x)
	}
	return out, nil
}
