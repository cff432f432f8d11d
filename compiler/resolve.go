package compiler

import (
	"context"
	"slices"

	"bandwright/compiler/language"
	"bandwright/compiler/prototype"
	"bandwright/compiler/verify"
)

// line is one filter of the spec with what it is in theory.
type line struct {
	language.Filter
	ideal prototype.Ideal
}

// ideals are all filters of the spec, resolved: those before the split, each
// way's own followed by its share of the crossovers, and the crossovers.
type ideals struct {
	common    []line
	ways      [][]line
	crossover []pair
}

// pair is a crossover's two sides.
type pair struct {
	language.Crossover
	low, high line
}

// all lists every filter once.
func (i ideals) all() []line {
	out := slices.Clone(i.common)
	for _, w := range i.ways {
		out = append(out, w...)
	}
	return out
}

// resolve computes what every filter is in theory and spells out the settings
// and promises.
func resolve(_ context.Context, b *Build) ([]language.Fault, error) {
	s := b.Spec
	for _, set := range s.Settings {
		v := verify.Setting{Name: set.Name}
		for _, c := range set.Choices {
			v.Choices = append(v.Choices, c.Text)
		}
		b.Settings = append(b.Settings, v)
	}
	b.Promises = promises(s.Promise)

	r := resolver{spec: s}
	b.ideals.common = r.lines(s.Common)
	for _, w := range s.Ways {
		b.ideals.ways = append(b.ideals.ways, r.lines(w.Filters))
	}
	for _, x := range s.Crossovers {
		p := pair{Crossover: x, low: r.line(x.Low)}
		// One filter written for both sides has its faults said once.
		said := len(r.faults)
		p.high = r.line(x.High)
		if x.Same && said > 0 {
			r.faults = r.faults[:said]
		}
		b.ideals.crossover = append(b.ideals.crossover, p)
		b.ideals.ways[x.Lower] = append(b.ideals.ways[x.Lower], p.low)
		b.ideals.ways[x.Upper] = append(b.ideals.ways[x.Upper], p.high)
	}
	return r.faults, nil
}

type resolver struct {
	spec   *language.Spec
	faults []language.Fault
}

func (r *resolver) lines(fs []language.Filter) []line {
	var out []line
	for _, f := range fs {
		out = append(out, r.line(f))
	}
	return out
}

func (r *resolver) line(f language.Filter) line {
	k, ok := prototype.ByName(f.Kind)
	if !ok {
		panic("compiler: the grammar let an unknown kind pass: " + f.Kind)
	}
	ideal, problems := k.Ideal(f.Args)
	for _, p := range problems {
		at := f.Pos
		if v := f.Args.Get(p.Key); v != nil && v.Given {
			at = v.Pos
		}
		r.faults = append(r.faults, r.spec.Fault(language.Error, at, p.Message, p.Right))
	}
	return line{Filter: f, ideal: ideal}
}

// promises reads the promise block, whose keys the grammar has all filled in.
func promises(v *language.Value) verify.Promises {
	limit := func(key string) verify.Limit {
		x := v.Get(key)
		return verify.Limit{On: x.Word != "off", Value: x.Number}
	}
	band := v.Get("band")
	return verify.Promises{
		LowHz: band.Number, HighHz: band.High,
		DownToDB:    v.Get("down-to").Number,
		MagnitudeDB: limit("magnitude"), BoardMagnitudeDB: limit("board-magnitude"),
		BoardNoiseDBu: limit("board-noise"), BoardHeadroomDB: limit("board-headroom"),
		PhaseDeg:   limit("phase"),
		SumDB:      limit("sum"),
		NoiseDBFS:  limit("noise"),
		HeadroomDB: limit("headroom"),
		LatencyS:   limit("latency"),
	}
}
