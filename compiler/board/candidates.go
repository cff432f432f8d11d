package board

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
	"bandwright/compiler/language"
	"bandwright/compiler/netlist"
	"bandwright/compiler/parallel"
	"bandwright/compiler/stage"
	"bandwright/compiler/words"
)

// chooser chooses topologies.
type chooser struct {
	bench  *stage.Bench
	wishes map[string]string            // as in Job
	says   func(from string) string     // a label in the spec's own words
	drop   map[*language.HeldStage]bool // as in Job
	behind stage.Behind                 // what stands behind the stage that is asked for
	// limitDB is what is promised of every way, and lost says which values can not be had
	// any more, nil where nothing is held.
	limitDB float64
	lost    func(netlist.Kind, float64) bool
	// saves has options list what is taken only where a filter names it (circuit.Topology.Saves).
	saves bool
}

// anything is a chooser that lists everything that a filter may name.
func (c *chooser) anything() *chooser {
	d := *c
	d.saves = true
	return &d
}

// before is a chooser of stages with something behind them.
func (c *chooser) before(behind stage.Behind) *chooser {
	d := *c
	d.behind = behind
	return &d
}

// wish is the topology that a filter names, nil for none.
func (c *chooser) wish(from string) *circuit.Topology {
	t, _ := circuit.ByName(c.wishes[from])
	return t
}

// ask lists the stages in stock for a section, one of each topology, the best
// score first. Where no section can be it the list is empty, and impossible says
// why.
func (c *chooser) ask(s biquad.Analog, topologies []*circuit.Topology) []stage.Candidate {
	out, _, _ := c.bench.Candidates(s, topologies, 1, c.behind)
	return out
}

// only is a list of one topology.
func only(t *circuit.Topology) []*circuit.Topology { return []*circuit.Topology{t} }

const (
	// tolerable is the score below which a stage of one or two op-amps, a small one,
	// is not compared with one of more, which costs nearly that in parts alone.
	tolerable  = 13.5
	smallStage = 2
)

// options lists the stages that a section of a filter may be, the best score first,
// one of each topology: those of three op-amps and more only where none of fewer is
// tolerable in either polarity, or the filter wishes for one.
func (c *chooser) options(s biquad.Analog, from string) []stage.Candidate {
	a, err := circuit.Ask(s)
	if err != nil {
		return nil
	}
	wish := c.wish(from)
	var small, large []*circuit.Topology
	for _, t := range circuit.Topologies {
		switch {
		case t.Balanced || !t.Can(a.Shape) || t.Saves && !c.saves && t != wish:
		case t.OpAmps() > smallStage && t != wish:
			large = append(large, t)
		default:
			small = append(small, t)
		}
	}
	var out []stage.Candidate
	if len(small) > 0 {
		out = c.ask(s, small)
	}
	out = c.calm(out)
	if len(large) > 0 && (len(out) == 0 || out[0].Score > tolerable) {
		out = c.calm(append(out, c.ask(s, large)...))
	}
	return out
}

const (
	// peakedDB is from where a stage's peak above the band speaks against it: what a way
	// may have of that by default. pointsPeaked is more than any other stage costs.
	peakedDB     = 6.0
	pointsPeaked = 50.0
)

// calm puts stages that peak where their op-amps run out of gain behind all others, and
// sorts by score.
func (c *chooser) calm(options []stage.Candidate) []stage.Candidate {
	for i, o := range options {
		if o.Score < pointsPeaked {
			if db, err := c.bench.PeakAbove(o); err == nil && db > peakedDB {
				options[i].Score += pointsPeaked
			}
		}
	}
	slices.SortStableFunc(options, func(x, y stage.Candidate) int { return cmp.Compare(x.Score, y.Score) })
	return options
}

// lookAhead asks about every section that no held stage serves, on all processors, as long
// as anybody waits for it.
func (c *chooser) lookAhead(ctx context.Context, chains [][]want, kept []*keptChain) {
	type question struct {
		section biquad.Analog
		wish    string
	}
	var all []question
	var from []string
	var behind []stage.Behind
	look := func(w want) {
		for i, sections := range w.Alt {
			for _, s := range sections {
				if q := (question{s, c.wishes[w.Line(i)]}); !slices.Contains(all, q) {
					all, from, behind = append(all, q), append(from, w.Line(i)), append(behind, w.behind)
				}
			}
		}
	}
	for k, ws := range chains {
		for i, w := range ws {
			if kept[k].of(i) == nil {
				look(w)
			}
		}
	}
	parallel.Each(len(all), func(i int) {
		if ctx.Err() == nil {
			c.before(behind[i]).options(all[i].section, from[i])
		}
	})
}

// wished are the options that a filter's own wish leaves: all of a section of the
// filter that the wish is not about.
func (c *chooser) wished(from string, options []stage.Candidate) []stage.Candidate {
	t := c.wish(from)
	if t == nil || len(options) > 0 && !t.Can(asked(options[0].Section).Shape) {
		return options
	}
	return slices.DeleteFunc(slices.Clone(options), func(o stage.Candidate) bool { return o.Topology != t })
}

// impossible says why a section, or the wish for it, cannot be built.
func (c *chooser) impossible(from string, sections []biquad.Analog) Obstacle {
	for _, s := range sections {
		all := c.anything().options(s, from)
		if len(c.wished(from, all)) > 0 {
			continue
		}
		t := c.wish(from)
		if t == nil {
			return Obstacle{From: from, Message: fmt.Sprintf("no op-amp stage can realise %s: %s", described(s), c.reasons(s)),
				Right: "change the filter, or widen the board's stock"}
		}
		why := ""
		if _, refusals, err := c.bench.Candidates(s, only(t), 1, c.behind); err == nil && len(refusals) > 0 {
			why = refusals[0].Reason
		}
		right := "no topology applies: change the filter"
		if len(all) > 0 {
			right = "leave `topology` out, or name one that applies: " + words.List(names(all))
		}
		return Obstacle{From: from, Wish: true, Message: fmt.Sprintf("`%s` cannot realise %s: %s", t.Name, described(s), why), Right: right}
	}
	return Obstacle{From: from, Message: "no op-amp stage can realise this filter", Right: "change the filter"}
}

func asked(s biquad.Analog) circuit.Asked { a, _ := circuit.Ask(s); return a }

// described is a section in words.
func described(s biquad.Analog) string {
	a := asked(s)
	w, q := s.Natural()
	switch a.Order {
	case 0:
		return "a gain of " + words.Level(biquad.GainDB(math.Abs(a.N[0])), "dB")
	case 1:
		return fmt.Sprintf("a %v at %s", a.Shape, words.Hz(w/(2*math.Pi)))
	}
	return fmt.Sprintf("a %v at %s with Q %s", a.Shape, words.Hz(w/(2*math.Pi)), words.Short(q))
}

// reasons are why the topologies for a section's shape do not apply.
func (c *chooser) reasons(s biquad.Analog) string {
	_, refusals, err := c.bench.Candidates(s, nil, 1, c.behind)
	if err != nil {
		return err.Error()
	}
	var out []string
	for _, r := range refusals {
		if !r.Topology.Balanced && r.Topology.Can(asked(s).Shape) {
			out = append(out, r.Topology.Name+": "+r.Reason)
		}
	}
	if out == nil {
		return "no topology has this shape"
	}
	return strings.Join(out, "; ")
}

func names(options []stage.Candidate) []string {
	var out []string
	for _, o := range options {
		out = append(out, o.Topology.Name)
	}
	return out
}

// idleWishes are wishes that no section of their filter has the shape for.
func (c *chooser) idleWishes(system biquad.System[biquad.Analog]) []Obstacle {
	var out []Obstacle
	look := func(slots []biquad.Slot[biquad.Analog]) {
		for _, s := range slots {
			for i, from := range s.From {
				t := c.wish(from)
				if t == nil || i >= len(s.Alt) || suits(t, from, slots) {
					continue
				}
				right := "leave `topology` out"
				if applies := names(c.anything().options(s.Alt[i], from)); len(applies) > 0 {
					right += ", or name one that applies: " + strings.Join(applies, ", ")
				}
				out = append(out, Obstacle{From: from, Wish: true, Message: fmt.Sprintf("`%s` cannot realise %s", t.Name, described(s.Alt[i])), Right: right})
			}
		}
	}
	look(system.Common.Slots)
	for _, w := range system.Ways {
		look(w.Slots)
	}
	return out
}

// suits reports whether a section of the filter has a shape of the topology.
func suits(t *circuit.Topology, from string, slots []biquad.Slot[biquad.Analog]) bool {
	for _, s := range slots {
		for i, f := range s.From {
			if f != from || i >= len(s.Alt) {
				continue
			}
			sections, _ := circuit.Split(s.Alt[i])
			if slices.ContainsFunc(sections, func(p biquad.Analog) bool { return t.Can(asked(p).Shape) }) {
				return true
			}
		}
	}
	return false
}
