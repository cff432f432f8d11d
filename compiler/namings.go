package compiler

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/board"
	"bandwright/compiler/circuit"
	"bandwright/compiler/language"
	"bandwright/compiler/prototype"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// Naming is a topology that a filter may name, with which its board takes fewer op-amps. It was tried: the
// board of the spec with that one key more was chosen, given values and judged as a whole, and it keeps
// whatever promise the board without it keeps.
type Naming struct {
	// Way is the index of the way whose line changes, -1 for a common one.
	Way int
	// Line is the filter's label, Topology what it names, and Was what its stages are.
	Line, Topology string
	Was            []string
	// OpAmps (> 0) and Parts are how many fewer the board takes; Parts may be negative.
	OpAmps, Parts int
	// Noise (V RMS, 20 Hz to 20 kHz, unweighted), Offset (V, the greatest magnitude of DC) and Error (dB,
	// the greatest of the magnitude) are at the output of the way where each gets worse by most, in the
	// setting where it is greatest.
	Noise, Offset, Error Cost
	// Capacitance (F) is the sum of all capacitors in the board's stages; its Way is "".
	Capacitance Cost
}

// Cost is a figure with a change, and without.
type Cost struct {
	Way     string
	Is, Was float64
}

const (
	// louderDB (dB) is by how much more noise a way may have for an op-amp: with 3 dB the one stage makes as
	// much as all that the way had, and where hiss is what a loudspeaker is judged by, more is no trade.
	louderDB = 3.0
	// boardsTried is how many boards are made and judged: each takes as long as a compilation of the board.
	boardsTried = 2
)

// namings lists the topologies that filters may name, one each at most, with which the board takes fewer
// op-amps at a price that may be paid: no promise that is broken for it, and at most 3 dB more noise in any
// way. Filters that name their topology, and crossovers, stay as they are. Of each filter what takes the fewest
// op-amps is tried first, and of all what saves most; tried is how many boards were made, and more whether there
// is something left that was not.
func (b *Build) namings(ctx context.Context, planner *board.Planner) (out []Naming, tried int, more bool) {
	var all []naming
	for way := -1; way < len(b.Spec.Ways); way++ {
		for _, f := range filters(b.Spec, way) {
			if x := b.candidates(planner, f, way); ctx.Err() == nil && b.plan(planner, &x) {
				all = append(all, x)
			}
		}
	}
	slices.SortStableFunc(all, func(x, y naming) int {
		return cmp.Or(cmp.Compare(y.OpAmps, x.OpAmps), cmp.Compare(y.Parts, x.Parts))
	})
	for ; len(all) > 0 && tried < boardsTried && ctx.Err() == nil; tried++ {
		x := all[0]
		all = all[1:]
		if b.priced(ctx, &x) {
			out = append(out, x.Naming)
		} else if b.plan(planner, &x) {
			all = append(all, x)
		}
	}
	slices.SortStableFunc(out, func(x, y Naming) int { return cmp.Compare(x.Way, y.Way) })
	return out, tried, len(all) > 0
}

// naming is one that is yet to be tried.
type naming struct {
	Naming
	filter language.Filter
	rest   []*circuit.Topology // that may be named, those of the fewest op-amps first
	spec   *language.Spec      // that names the present one
}

// candidates are the topologies that a filter of a way may name, all of fewer op-amps than its largest stage.
func (b *Build) candidates(planner *board.Planner, f language.Filter, way int) naming {
	stages := b.Board.Plan().Stages(f.Label())
	x := naming{Naming: Naming{Way: way, Line: f.Label()}, filter: f}
	k, _ := prototype.ByName(f.Kind)
	ideal, problems := k.Ideal(f.Args)
	if f.Topology != "" || len(problems) > 0 {
		return x
	}
	for _, s := range stages {
		x.Was = append(x.Was, s.Topology.Name)
	}
	for _, t := range circuit.Topologies {
		if !t.Balanced && t.OpAmps() < most(stages) && slices.ContainsFunc(ideal.Sections, func(s biquad.Analog) bool { return planner.CanBe(t, s) }) {
			x.rest = append(x.rest, t)
		}
	}
	slices.SortStableFunc(x.rest, func(s, t *circuit.Topology) int { return cmp.Compare(s.OpAmps(), t.OpAmps()) })
	return x
}

// plan goes on to the next topology with which the board would be laid out with fewer op-amps; false where
// none is left.
func (b *Build) plan(planner *board.Planner, x *naming) bool {
	was := b.Board.Plan()
	for len(x.rest) > 0 {
		t := x.rest[0]
		x.rest = x.rest[1:]
		spec := *b.Spec
		f := x.filter
		f.Topology = t.Name
		in := func(list []language.Filter) []language.Filter {
			return replaced(list, slices.IndexFunc(list, func(g language.Filter) bool { return g.Label() == f.Label() }), f)
		}
		if x.Way < 0 {
			spec.Common = in(spec.Common)
		} else {
			spec.Ways = slices.Clone(spec.Ways)
			spec.Ways[x.Way].Filters = in(spec.Ways[x.Way].Filters)
		}
		other := b.Wanted
		other.Spec = &spec
		plan, ok := planner.Plan(other.job())
		if x.OpAmps, x.Parts = was.OpAmps-plan.OpAmps, was.Parts-plan.Parts; ok && x.OpAmps > 0 {
			x.Topology, x.spec = t.Name, &spec
			return true
		}
	}
	return false
}

// priced makes the board of a naming, and reports whether it is worth its price, which it fills in.
func (b *Build) priced(ctx context.Context, x *naming) bool {
	other := Build{Wanted: b.Wanted}
	other.Spec, other.planner, other.weighed = x.spec, b.Board.Planner(), &weighed{}
	other.Board, _, _ = buildBoard(ctx, &other.Wanted)
	if other.Board == nil || ctx.Err() != nil {
		return false
	}
	was, is := b.Board.Plan(), other.Board.Plan()
	x.OpAmps, x.Parts = was.OpAmps-is.OpAmps, was.Parts-is.Parts
	if x.OpAmps < 1 {
		return false
	}
	// The batch, which takes longest, is simulated last.
	judged := other.weigh(ctx, other.Board)
	if breaksOther(b.Findings, judged.findings) || !x.costs(b.Figures, judged.figures) {
		return false
	}
	if _, inAir := other.hear(ctx); breaksOther(b.Findings, inAir) {
		return false
	}
	x.Capacitance = Cost{Is: is.Farad, Was: was.Farad}
	return !breaksOther(b.Findings, other.weighBatch(ctx, judged)) && ctx.Err() == nil
}

// breaksOther reports whether a promise is broken that was not broken before.
func breaksOther(before, after []verify.Finding) bool {
	return slices.ContainsFunc(after, func(f verify.Finding) bool {
		return !f.Kept && !slices.ContainsFunc(before, func(o verify.Finding) bool {
			return !o.Kept && o.About == f.About && o.Realisation == f.Realisation
		})
	})
}

// costs fills in what a board costs beside another one, by their figures; false where a way has too much
// more noise.
func (x *Naming) costs(was, is []verify.Figures) bool {
	worst := func(of func(verify.Figures) verify.Extreme, by func(is, was float64) float64) Cost {
		var c Cost
		most := math.Inf(-1)
		for _, f := range verify.Of(is, board.RealisationName) {
			for _, g := range verify.Of(was, board.RealisationName) {
				n, o := of(f), of(g)
				if f.Way != g.Way || !n.Known || !o.Known {
					continue
				}
				if a, b := math.Abs(n.Value), math.Abs(o.Value); by(a, b) > most {
					c, most = Cost{f.Way, a, b}, by(a, b)
				}
			}
		}
		return c
	}
	more := func(is, was float64) float64 { return is - was }
	louder := func(is, was float64) float64 { return biquad.GainDB(is / was) }
	x.Noise = worst(func(f verify.Figures) verify.Extreme { return f.NoiseV }, louder)
	x.Offset = worst(func(f verify.Figures) verify.Extreme { return f.OffsetV }, more)
	x.Error = worst(func(f verify.Figures) verify.Extreme { return f.Magnitude }, more)
	return x.Noise.Way != "" && louder(x.Noise.Is, x.Noise.Was) <= louderDB
}

// String says what a naming is: "common[0] peak: topology: multiple-feedback-cut instead of sum-with-band-pass
// saves 1 op-amp and 3 parts; noise of bass +0.41 dB, to -97.3 dBu; DC of bass 2.1 mV instead of 1.9 mV; …".
func (x Naming) String() string {
	cost := func(what string, c Cost, written func(float64) string) string {
		if c.Way != "" {
			what += " of " + c.Way
		}
		if is, was := written(c.Is), written(c.Was); is != was {
			return fmt.Sprintf("%s %s instead of %s", what, is, was)
		}
		return fmt.Sprintf("%s %s as without it", what, written(c.Is))
	}
	return fmt.Sprintf("%s: topology: %s instead of %s saves %s; noise of %s %s, to %s; %s; %s; %s",
		x.Line, x.Topology, words.List(words.Once(x.Was)), saved(x.OpAmps, x.Parts),
		x.Noise.Way, words.Level(biquad.GainDB(x.Noise.Is/x.Noise.Was), "dB"), words.DBu.Measured(verify.DBu(x.Noise.Is)),
		cost("DC", x.Offset, words.Volt.Measured), cost("error", x.Error, words.DB.Measured),
		cost("capacitors", x.Capacitance, func(v float64) string { return words.Part(v, "F") }))
}
