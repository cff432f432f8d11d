package values

import (
	"errors"
	"math"
	"slices"

	"bandwright/compiler/assign"
	"bandwright/compiler/parallel"
	"bandwright/compiler/stage"
)

// Held is a stage of a board that stands.
type Held struct {
	// Candidate is the section that is wanted now, with the parts that stand: they need
	// not be in stock.
	stage.Candidate
	// Free says that parts may take other values; whether an optional part is fitted
	// stays.
	Free bool
	// Gone marks parts, as Candidate.Values has them, that may not keep their value. Nil:
	// none.
	Gone []bool
}

// Closest is a plan with few parts unlike those that stand.
type Closest struct {
	Plan
	// Changed is how many parts have another value.
	Changed int
	// Kept reports whether the plan is within the limits.
	Kept bool
}

// ProvenParts is up to how many changed parts all there are were tried.
const ProvenParts = 2

const (
	// shortlisted is how many of the best ways to change so many parts are looked at for
	// what they do besides.
	shortlisted = 24
	// worse (dB) is by how much more noise, and swing of an op-amp, a stage may have than
	// with the parts that stand where there is a choice.
	worse = 2.0
)

// FindClosest chooses values of the stages that may change so that every path and every
// sum is within limits (dB, > 0) with as few parts as possible unlike those that stand.
// That none, one or two changed parts are the fewest is certain, as every value in stock
// of every part, and every pair of them, is tried with the real op-amp; more are found by
// a search. Of the ways to change so many parts those come first that are not much noisier
// and swing not much further, then those with the smallest errors. Where nothing that is
// found is within the limits, the plan misses them by little, with no change that does not
// help. p.Stages is not looked at.
func FindClosest(p Problem, held []Held, limits assign.Limits) (Closest, error) {
	if !(limits.PathDB > 0) || !(limits.SumDB > 0) {
		return Closest{}, errors.New("a limit has to be above 0 dB")
	}
	c := &closest{Problem: p, held: held, limits: limits}
	return c.find()
}

// closest is a search for few changes under way.
type closest struct {
	Problem
	held    []Held
	limits  assign.Limits
	tables  assign.Problem
	stages  [][]stage.Candidate // of each table
	varied  []*stage.Variation  // of each stage that may change
	free    []int
	stands  *assign.Held
	ones    [][]int // choices of each stage that change one part
	changed [][][]stage.Change
}

func (c *closest) find() (Closest, error) {
	if err := c.begin(); err != nil {
		return Closest{}, err
	}
	if c.stands.Within() {
		return c.plan(nil, true)
	}
	if err := c.vary(); err != nil {
		return Closest{}, err
	}
	tries := []func() []change{c.one, c.two, c.three}
	if c.Proven {
		tries = tries[:ProvenParts]
	}
	for _, try := range tries {
		if c.useless() {
			return Closest{}, errUseless
		}
		if found := try(); len(found) > 0 {
			best, err := c.quietest(found)
			if err != nil {
				return Closest{}, err
			}
			return c.plan(best.stages, true)
		}
	}
	if c.Proven {
		return c.plan(nil, false)
	}
	return c.more()
}

// begin judges what stands.
func (c *closest) begin() (err error) {
	c.varied, c.stages = make([]*stage.Variation, len(c.held)), make([][]stage.Candidate, len(c.held))
	for i, h := range c.held {
		h.Values = slices.Clone(h.Values)
		c.stages[i] = []stage.Candidate{h.Candidate}
		if h.Free {
			c.free = append(c.free, i)
		}
	}
	c.Stages = c.stages
	c.tables = c.blank(0)
	if err := parallel.Try(len(c.stages), func(i int) error {
		return c.At.Errors(c.stages[i], tabulate(&c.tables.Tables[i], c.stages[i], (*stage.Candidate).Points))
	}); err != nil {
		return err
	}
	for i := range c.tables.Tables {
		c.tables.Tables[i].Changes = []int{0}
		c.tables.Tables[i].Gone = slices.Contains(c.held[i].Gone, true)
	}
	return c.hold()
}

// hold judges what stands with the choices that there are.
func (c *closest) hold() (err error) {
	c.stands, err = assign.Hold(c.tables, make([]int, len(c.held)), c.limits)
	return err
}

// change is another set of values for one stage or two.
type change struct {
	stages []changedStage
	cost   float64
}

type changedStage struct {
	stage   int
	changes []stage.Change
}

// vary adds every other value of every part of the stages that may change.
func (c *closest) vary() error {
	c.varied, c.ones, c.changed = make([]*stage.Variation, len(c.held)), make([][]int, len(c.held)), make([][][]stage.Change, len(c.held))
	if err := parallel.Try(len(c.free), func(n int) (err error) {
		i := c.free[n]
		if c.useless() {
			return errUseless
		}
		v, err := c.At.Vary(c.stages[i][0])
		if err != nil {
			return err
		}
		c.varied[i], c.changed[i] = v, [][]stage.Change{nil}
		room, _ := c.stands.RoomOf(i)
		s := v.Sweep((*stage.Room)(&room))
		t := &c.tables.Tables[i]
		for _, part := range v.Fitted() {
			s.On(nil, part)
			s.Every(func(value float64, db, rad []float64) {
				if c.stays(i, part) {
					return
				}
				c.ones[i] = append(c.ones[i], len(t.Choices))
				c.changed[i] = append(c.changed[i], []stage.Change{{Part: part, Value: value}})
				t.Choices, t.Points, t.Changes = append(t.Choices, assign.Errors{DB: db, Rad: rad}), append(t.Points, 0), append(t.Changes, 1)
			})
		}
		return nil
	}); err != nil {
		return err
	}
	return c.hold()
}

// stays reports whether a part of a stage stays that may not where only others change.
func (c *closest) stays(i int, changed ...int) bool {
	for part, gone := range c.held[i].Gone {
		if gone && !slices.Contains(changed, part) {
			return true
		}
	}
	return false
}

// alike reports whether two changes are one.
func (x change) alike(y change) bool {
	return x.cost == y.cost && slices.EqualFunc(x.stages, y.stages, func(a, b changedStage) bool {
		return a.stage == b.stage && slices.Equal(a.changes, b.changes)
	})
}

// shortlist are the cheapest changes, the first of equal ones first.
type shortlist []change

func (l *shortlist) add(x change) {
	x.cost = math.Round(x.cost*1e9) / 1e9
	at, _ := slices.BinarySearchFunc(*l, x.cost, func(y change, cost float64) int {
		if y.cost <= cost {
			return -1
		}
		return 1
	})
	if at > 0 && at <= len(*l) && x.alike((*l)[at-1]) {
		return
	}
	if at < shortlisted {
		*l = slices.Insert(*l, at, x)
		*l = (*l)[:min(len(*l), shortlisted)]
	}
}

// joined are the cheapest changes of several lists.
func joined(lists []shortlist) []change {
	var out shortlist
	for _, l := range lists {
		for _, x := range l {
			out.add(x)
		}
	}
	return out
}

// one lists the cheapest changes of one part that are within the limits.
func (c *closest) one() []change {
	lists := make([]shortlist, len(c.free))
	parallel.Each(len(c.free), func(n int) {
		i := c.free[n]
		c.stands.Ones(c.stands.Trial(), i, c.ones[i], func(k int, cost float64) {
			lists[n].add(change{[]changedStage{{i, c.changed[i][k]}}, cost})
		})
	})
	return joined(lists)
}

// two lists the cheapest changes of two parts that are within the limits: of one stage,
// and of two.
func (c *closest) two() []change {
	type job struct{ i, j, part int }
	var jobs []job
	for n, i := range c.free {
		for _, part := range c.varied[i].Fitted() {
			jobs = append(jobs, job{i, i, part})
		}
		for _, j := range c.free[n+1:] {
			jobs = append(jobs, job{i, j, -1})
		}
	}
	lists := make([]shortlist, len(jobs))
	parallel.Each(len(jobs), func(n int) {
		x := jobs[n]
		switch {
		case c.useless():
		case x.part >= 0:
			c.twoOf(&lists[n], x.i, x.part)
		default:
			c.stands.Pairs(c.stands.Trial(), [2]int{x.i, x.j}, [2][]int{c.ones[x.i], c.ones[x.j]}, func(pair [2]int, cost float64) {
				lists[n].add(change{[]changedStage{{x.i, c.changed[x.i][pair[0]]}, {x.j, c.changed[x.j][pair[1]]}}, cost})
			})
		}
	})
	return joined(lists)
}

// twoOf lists the changes of one part of a stage and of one that comes after it.
func (c *closest) twoOf(list *shortlist, i, part int) {
	var from []variant
	for _, value := range c.varied[i].Others(part) {
		from = append(from, variant{changes: []stage.Change{{Part: part, Value: value}}})
	}
	c.oneMore(list, i, from, func(changes []stage.Change, next int) bool { return next > part })
}

// oneMore lists the changes of one part more than some have, where may allows it, that are
// within the limits.
func (c *closest) oneMore(list *shortlist, i int, from []variant, may func(changes []stage.Change, next int) bool) {
	room, ok := c.stands.RoomOf(i)
	if !ok {
		return
	}
	v, trial := c.varied[i], c.stands.Trial()
	s := v.Sweep((*stage.Room)(&room))
	fitted := v.Fitted()
	for _, x := range from {
		for _, next := range fitted {
			if !may(x.changes, next) || c.stays(i, append(parts(x.changes), next)...) {
				continue
			}
			s.On(x.changes, next)
			s.Within(func(value float64, db, rad []float64) {
				cost := trial.Cost(assign.Instead{Stage: i, Errors: assign.Errors{DB: db, Rad: rad}})
				if !math.IsInf(cost, 1) {
					changes := append(slices.Clone(x.changes), stage.Change{Part: next, Value: value})
					slices.SortFunc(changes, func(a, b stage.Change) int { return a.Part - b.Part })
					list.add(change{[]changedStage{{i, changes}}, cost})
				}
			})
		}
	}
}

// three lists the cheapest changes of three parts of one stage, two of them to near values,
// that are within the limits.
func (c *closest) three() []change {
	lists := make([]shortlist, len(c.free))
	parallel.Each(len(c.free), func(n int) {
		if i := c.free[n]; !c.useless() {
			c.oneMore(&lists[n], i, pairs(c.varied[i], mostTriples/len(c.free)), func(changes []stage.Change, next int) bool {
				return !slices.Contains(parts(changes), next)
			})
		}
	})
	return joined(lists)
}

// quietest is the first of some changes that makes no stage much noisier nor swing much
// further than it does with what stands, or else the first.
func (c *closest) quietest(all []change) (change, error) {
	for _, x := range all {
		loud := false
		for _, s := range x.stages {
			quiet, err := c.quiet(s)
			if err != nil {
				return x, err
			}
			loud = loud || !quiet
		}
		if !loud {
			return x, nil
		}
	}
	return all[0], nil
}

// quiet reports whether changes of a stage make it not much noisier, and swing not much
// further, than what stands.
func (c *closest) quiet(x changedStage) (bool, error) {
	all, err := c.quietOf(x.stage, []way{{changes: x.changes}})
	return err == nil && len(all) > 0, err
}

// quietOf are those of some ways to change a stage that make it not much noisier, nor swing
// much further, than what stands.
func (c *closest) quietOf(i int, ways []way) ([]way, error) {
	list := []stage.Candidate{c.stages[i][0]}
	for _, x := range ways {
		list = append(list, c.varied[i].Changed(x.changes...))
	}
	if err := c.At.Bench.Measure(list); err != nil {
		return nil, err
	}
	var out []way
	for n, x := range list[1:] {
		if !much(x.NoiseV, list[0].NoiseV) && !much(x.Swing, math.Max(list[0].Swing, 1)) {
			out = append(out, ways[n])
		}
	}
	return out, nil
}

// much reports whether a quantity is much more than another one.
func much(is, was float64) bool { return 20*math.Log10(is/was) > worse }

// plan is what stands with some changes.
func (c *closest) plan(all []changedStage, kept bool) (Closest, error) {
	out := Closest{Kept: kept}
	p := c.Problem
	p.Stages = make([][]stage.Candidate, len(c.held))
	for i := range c.held {
		p.Stages[i] = c.stages[i][:1]
	}
	for _, x := range all {
		if len(x.changes) > 0 {
			out.Changed += len(x.changes)
			p.Stages[x.stage] = []stage.Candidate{c.varied[x.stage].Changed(x.changes...)}
		}
	}
	var err error
	out.Plan, err = Each(p)
	return out, err
}
