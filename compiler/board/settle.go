package board

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"math"
	"math/cmplx"
	"slices"

	"bandwright/compiler/assign"
	"bandwright/compiler/language"
	"bandwright/compiler/netlist"
	"bandwright/compiler/progress"
	"bandwright/compiler/stage"
	"bandwright/compiler/values"
)

// keeps reports whether the board has a stage of a held one.
func (b *Board) keeps() bool {
	for _, c := range b.Chains() {
		for _, s := range c.Stages() {
			if s.held != nil && s.Role != InputStage {
				return true
			}
		}
	}
	return false
}

// unchanged is how near (relative) a response is to that of before to count as the
// same: coefficients are written so that they read back exactly, and a gain is worked
// out anew.
const unchanged = 1e-9

// askedAnew reports whether a stage is asked for something else than what it was held for.
func (s *Stage) askedAnew(hz []float64) bool {
	if s.held == nil {
		return true
	}
	then := ownSection(s.held)
	for _, f := range hz {
		w := 2 * math.Pi * f
		was, is := complex(s.held.Level, 0)*then.At(w), complex(s.Level, 0)*s.Section.At(w)
		if cmplx.Abs(is-was) > unchanged*cmplx.Abs(was) {
			return true
		}
	}
	return false
}

// open reports whether a stage's values are chosen like those of a new stage.
func (s *Stage) open(j Job, hz []float64) bool {
	if s.Body != nil {
		return s.list != nil
	}
	return s.held == nil || j.Loose && !s.byHand && (s.gone != nil || s.askedAnew(hz))
}

// settle changes the fewest parts of a held board with which it keeps what is promised
// of its response: parts of stages that are new or asked for something else, and only
// where those do not do it, or one or two others do it as well as more of them, of the chains that
// they stand in; of all chains where that is the common one. A board on which nothing
// is asked for anew stays as it is, whatever it keeps.
//
// It returns by how much each way would be off (dB) with the held parts, nil where
// nothing changed.
func (b *Board) settle(ctx context.Context, j Job, bench *stage.Bench) (off []float64, err error) {
	v, _ := b.whole(j, bench, j.all(), perOctave)
	anew, near := make([]bool, len(v.stages)), make([]bool, len(v.stages))
	blocks := map[int]bool{}
	for i, s := range v.stages {
		if s.askedAnew(v.hz) || s.gone != nil {
			anew[i], blocks[s.Block] = !s.byHand && s.Body == nil, true
		}
	}
	if len(blocks) == 0 {
		return nil, nil
	}
	for i, s := range v.stages {
		near[i] = blocks[s.Block] && !s.byHand && s.Body == nil
	}
	if off, err = b.wayErrors(j, bench); err != nil {
		return nil, err
	}
	lost := slices.ContainsFunc(v.stages, func(s *Stage) bool { return s.gone != nil })
	if kept, err := b.within(j, bench, j.held()); kept && !lost || err != nil {
		return off, err
	}
	before := v.candidates()
	kept, err := b.change(ctx, j, bench, anew, false)
	if err != nil {
		return off, err
	}
	nearest := v.candidates()
	if kept && v.changed(before) <= values.ProvenParts {
		return off, nil
	}
	v.put(before)
	fewer, err := b.change(ctx, j, bench, near, kept)
	if err == nil && !fewer && !kept && blocks[b.Common.Block] {
		// What every way goes through: the ways can make up for it.
		for i, s := range v.stages {
			near[i] = !s.byHand && s.Body == nil
		}
		v.put(before)
		fewer, err = b.change(ctx, j, bench, near, false)
	}
	if !fewer {
		v.put(nearest)
	}
	return off, err
}

// changed is how many values of the stages are not those of before.
func (v *judged) changed(before []stage.Candidate) int {
	n := 0
	for i, s := range v.stages {
		for k, x := range s.Values {
			if x != before[i].Values[k] {
				n++
			}
		}
	}
	return n
}

// wayErrors is by how much (dB) each way is foreseen to be off.
func (b *Board) wayErrors(j Job, bench *stage.Bench) ([]float64, error) {
	_, p := b.whole(j, bench, j.all(), finePerOctave)
	plan, err := values.Each(p)
	if err != nil {
		return nil, err
	}
	out := make([]float64, len(b.Ways))
	for i, e := range plan.PathDB {
		w := p.Paths[i].Way
		out[w] = math.Max(out[w], e)
	}
	return out, nil
}

// recall finds what of the held stages was changed by hand, and which of their values
// can not be had any more.
func (b *Board) recall(j Job) {
	if j.Held == nil {
		return
	}
	for _, c := range b.Chains() {
		for _, s := range c.Stages() {
			if s.held == nil {
				continue
			}
			for _, p := range s.held.Parts {
				if was, known := j.Held.Written[p.Ref]; known && was != p.Value {
					s.byHand = true
				}
			}
			for i, e := range s.Topology.Parts() {
				if v := s.Values[i]; j.lost(e.Kind, v) && !s.byHand && s.Body == nil {
					if s.gone == nil {
						s.gone = make([]bool, len(s.Values))
					}
					s.gone[i] = true
				}
			}
		}
	}
}

// lost reports whether a value can not be had any more: it was taken out of the stock, or
// the stock is a list or a file that does not have it. A value that is in no series was
// chosen by somebody.
func (j *Job) lost(kind netlist.Kind, v float64) bool {
	s := &j.Spec.Resistors
	if kind == netlist.Capacitor {
		s = &j.Spec.Capacitors
	}
	return slices.Contains(j.Without, Value{kind, v}) || v != 0 && s.Series == nil && !slices.Contains(s.Values, v)
}

// unsettled are the held stages that still have a value which can not be had, beside
// those that were dropped before; nil where there is none.
func (b *Board) unsettled(j Job) map[*language.HeldStage]bool {
	var out map[*language.HeldStage]bool
	for _, c := range b.Chains() {
		for _, s := range c.Stages() {
			for i, gone := range s.gone {
				if gone && s.held != nil && s.Values[i] == s.heldValue(i) {
					if out == nil {
						out = map[*language.HeldStage]bool{}
					}
					out[s.held] = true
				}
			}
		}
	}
	if out != nil {
		maps.Copy(out, j.drop)
	}
	return out
}

// heldValue is value i as the stage is held with.
func (s *Stage) heldValue(i int) float64 {
	values, _ := valuesOf(s.Topology, s.held)
	return values[i]
}

// candidates are those that the stages have, and put gives them others.
func (v *judged) candidates() []stage.Candidate {
	out := make([]stage.Candidate, len(v.stages))
	for i, s := range v.stages {
		out[i] = s.Candidate
	}
	return out
}

func (v *judged) put(all []stage.Candidate) {
	for i, s := range v.stages {
		s.Candidate = all[i]
	}
}

// change changes the fewest parts of the stages that are free; where no change keeps
// the limits it takes the one that comes nearest, and reports false. With proven it looks no further
// than values.ProvenParts.
func (b *Board) change(ctx context.Context, j Job, bench *stage.Bench, free []bool, proven bool) (bool, error) {
	limits := j.held()
	v, p := b.whole(j, bench, limits, perOctave)
	p.Proven, p.Idle = proven, func() bool { return ctx.Err() != nil }
	held := make([]values.Held, len(v.stages))
	for i, s := range v.stages {
		held[i] = values.Held{Candidate: s.Candidate, Free: free[i], Gone: s.gone}
	}
	for n, share := range betweenShares {
		progress.Say(ctx, fmt.Sprintf("looking for the fewest parts of the board to change, try %d of %d", n+1, len(betweenShares)))
		found, err := values.FindClosest(p, held, assign.Limits{PathDB: share * limits.wayDB, SumDB: share * limits.sumDB})
		if err = cmp.Or(ctx.Err(), err); err != nil {
			return false, err
		}
		v.put(found.Candidates)
		if !found.Kept {
			return false, nil
		}
		if within, err := b.within(j, bench, limits); within || err != nil {
			return within, err
		}
	}
	return false, nil
}

// within reports whether the board keeps the limits as its stages by themselves
// foresee it, at a fine grid of frequencies.
func (b *Board) within(j Job, bench *stage.Bench, limits goals) (bool, error) {
	way, sum, err := b.foreseen(j, bench, limits)
	return way <= limits.wayDB && sum <= limits.sumDB, err
}
