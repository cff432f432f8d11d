// Package suggest finds filters that bring a response to a target: the fewest of the
// kinds in Forms that keep a tolerance. Levels over frequency come in, lines of a spec go out.
// The one invariant: no filter is beyond the bounds that were asked for, and the same wish has
// the same answer.
//
// Only the level is looked at. What is proposed has minimum phase, and so has a driver: where
// its level is brought to a target of minimum phase, its phase comes along.
//
// Read first: Wish, Find, Forms.
package suggest

import (
	"cmp"
	"context"
	"math"
	"slices"

	"bandwright/compiler/language"
	"bandwright/compiler/parallel"
	"bandwright/compiler/progress"
	"bandwright/compiler/words"
)

// Wish is what is wanted of filters.
type Wish struct {
	Response func(hz float64) float64 // what there is, in dB
	Target   func(hz float64) float64 // what it shall become, in dB but for a constant
	FromHz   float64                  // the range that counts, 0 < FromHz < ToHz
	ToHz     float64
	// WithinDB is how far the result may be from the target, once a constant has been taken out.
	WithinDB float64
	// BoostDB is the most that all filters together may boost anywhere, above what they do to
	// most of the range (their median there): what is cut everywhere else is boosted as well.
	BoostDB float64
	// BoostFromHz is down to where boost counts, if that is below 10 Hz and the range; 0 for no further.
	BoostFromHz float64
	LowestQ     float64
	HighestQ    float64
	Most        int  // filters
	OneMore     bool // an answer of one filter more is wanted as well, where it leaves far less
	IsMeasured  bool // the response has ripple and noise: it is smoothed over a sixth of an octave
}

// Line is a filter of an answer.
type Line struct {
	Kind string
	Args *language.Value
	Text string // as a spec has it, without the dash
}

// Answer is a list of filters that was tried.
type Answer struct {
	Lines []Line
	// ErrorDB is what is left at worst, at ErrorHz; LevelDB the constant: the level of the
	// result above the target's.
	ErrorDB, ErrorHz, LevelDB float64
	BoostDB, BoostHz          float64 // the most that all filters together boost in the range, as of Wish
	OutsideDB, OutsideHz      float64 // the most outside of the range
	Sections                  int     // of second order or first
	Kept                      bool    // ErrorDB is within what was wished for
	odd                       float64 // dB
	beyond                    float64 // dB of boost beyond what is allowed
}

// Null is a narrow hole of a response that is deeper than may be boosted.
type Null struct{ Hz, DepthDB, FromHz, ToHz float64 }

// Found is what Find found.
type Found struct {
	Before Answer // without filters
	// Answers are the best first, all of the fewest filters, behind them one of OneMore; or one
	// that is not Kept.
	Answers []Answer
	Nulls   []Null // which no answer fills, and where nothing counts
	// RippleDB is the ripple and noise (RMS) of a measured response that smoothing took out,
	// WithinDB what was held: WithinDB of the wish, or more where ripple does not let it.
	RippleDB, WithinDB float64
	Tried              int // lists of filters
}

const (
	perOctave = 16 // points of the range
	beside    = 3  // points an octave outside of it, where only boost counts
	wide      = 5  // partial lists that are gone on with
	refined   = 14 // lists whose filters are all adjusted together
	most      = 3  // answers
	exchanges = 4  // rounds of them
	hopeless  = 6  // tolerances: a list further off is not worth exchanges
)

// Find looks for the filters. The error is the context's.
func Find(ctx context.Context, w Wish) (*Found, error) {
	g := newGrid(w)
	out := &Found{Before: g.answer(nil), Nulls: g.nulls, RippleDB: g.ripple, WithinDB: g.within}
	lists := []list{{g: g}}
	best := out.Before
	n := 0
	for n < w.Most && len(g.kept(lists)) == 0 {
		n++
		progress.Say(ctx, "trying "+words.Count(n, "filter", "filters"))
		lists = g.extended(ctx, lists, &out.Tried)
		for k := 0; k < exchanges && len(g.kept(lists)) == 0; k++ {
			lists = g.refine(ctx, append(g.exchanged(ctx, lists, k == 0, &out.Tried), lists...))
		}
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		// One more filter has to be worth it, where the tolerance is not kept anyway.
		if a := g.answer(lists[0].filters); a.ErrorDB < 0.8*best.ErrorDB {
			best = a
		}
	}
	for _, l := range g.kept(lists) {
		out.Answers = append(out.Answers, g.answer(l.filters))
	}
	slices.SortStableFunc(out.Answers, func(a, b Answer) int { return cmp.Compare(a.rank(), b.rank()) })
	out.Answers = out.Answers[:min(len(out.Answers), most)]
	if len(out.Answers) == 0 {
		out.Answers = []Answer{best}
		return out, nil
	}
	if w.OneMore && n > 0 && n < w.Most {
		progress.Say(ctx, "trying one filter more")
		lists = g.extended(ctx, lists, &out.Tried)
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		if a := g.answer(lists[0].filters); a.Kept && a.ErrorDB < worthOneMore*out.Answers[0].ErrorDB {
			out.Answers = append(out.Answers, a)
		}
	}
	return out, nil
}

// worthOneMore is how much of the error may be left for one filter more to be told.
const worthOneMore = 0.6

// extended are the best lists with one filter more than these.
func (g *grid) extended(ctx context.Context, lists []list, tried *int) []list {
	var next []list
	for _, l := range lists {
		more, n := l.longer(ctx)
		*tried += n
		next = append(next, more...)
	}
	return g.refine(ctx, next)
}

// rank orders answers with equally many filters: by error, boost and sections, of which
// small differences say nothing.
func (a Answer) rank() float64 {
	return math.Round(20*(a.ErrorDB+max(a.BoostDB, a.OutsideDB)/20+float64(a.Sections)/10+a.odd)) / 20
}

// list is filters, in the order in which they were found.
type list struct {
	g       *grid
	filters []filter
	cost    float64
}

// longer are the lists with one filter more, each adjusted by itself, and how many were tried.
func (l list) longer(ctx context.Context) ([]list, int) {
	have := l.g.sum(l.filters)
	type start struct {
		form *Form
		x    []float64
	}
	var starts []start
	for i := range Forms {
		f := &Forms[i]
		for _, x := range l.g.starts(f, have) {
			starts = append(starts, start{f, x})
		}
	}
	// A few steps tell which are worth more.
	out := make([]list, len(starts))
	adjust := func(lists []list, rounds int) {
		parallel.Each(len(lists), func(i int) {
			if ctx.Err() != nil {
				return
			}
			added := lists[i].filters[len(l.filters):]
			lists[i].cost = l.g.adjust(added, have, rounds, nil) + oddness(lists[i].filters)
		})
		slices.SortStableFunc(lists, byCost)
	}
	for i, s := range starts {
		out[i] = list{g: l.g, filters: append(slices.Clone(l.filters), filter(s))}
	}
	adjust(out, 4)
	out = out[:min(len(out), 3*refined)]
	adjust(out, 8)
	return apart(out, refined), len(starts)
}

func byCost(a, b list) int { return cmp.Compare(a.cost, b.cost) }

// apart are the first lists, without those that are like one before.
func apart(lists []list, n int) []list {
	var out []list
	for _, l := range lists {
		if len(out) == n {
			break
		}
		if !slices.ContainsFunc(out, func(o list) bool { return o.like(l) }) {
			out = append(out, l)
		}
	}
	return out
}

// like is whether two lists do the same to the response, nearly.
func (l list) like(o list) bool {
	low, high := math.Inf(1), math.Inf(-1)
	a, b := l.g.sum(l.filters), l.g.sum(o.filters)
	for i := range a {
		if l.g.counts[i] {
			low, high = min(low, a[i]-b[i]), max(high, a[i]-b[i])
		}
	}
	return high-low < 2*alikeDB
}

// alikeDB is how little two lists may differ to be the same.
const alikeDB = 0.15

// refine adjusts all filters of each list together, and keeps the best lists.
func (g *grid) refine(ctx context.Context, lists []list) []list {
	slices.SortStableFunc(lists, byCost)
	lists = apart(lists, 2*refined)
	parallel.Each(len(lists), func(i int) {
		if ctx.Err() != nil {
			return
		}
		l := &lists[i]
		none := make([]float64, len(g.hz))
		l.filters = copied(l.filters)
		l.cost = g.adjust(l.filters, none, 40, nil) + oddness(l.filters) + g.highest(l.filters)/200
		if worst := g.worst(g.sum(l.filters)); worst > 0.8*g.within && worst < 2*g.within {
			l.filters = g.levelled(l.filters)
		}
	})
	slices.SortStableFunc(lists, byCost)
	return apart(lists, wide)
}

// exchanged are the best lists with another filter in the place of each in turn: any,
// or only a sibling.
func (g *grid) exchanged(ctx context.Context, lists []list, byAny bool, tried *int) (out []list) {
	near := slices.Clone(lists)
	slices.SortStableFunc(near, func(a, b list) int { return cmp.Compare(g.worst(g.sum(a.filters)), g.worst(g.sum(b.filters))) })
	near = near[:min(len(near), 2)]
	for _, l := range near {
		if !byAny || len(l.filters) < 2 || g.worst(g.sum(l.filters)) > hopeless*g.within {
			continue
		}
		for i := range l.filters {
			more, n := list{g: g, filters: slices.Delete(slices.Clone(l.filters), i, i+1)}.longer(ctx)
			*tried += n
			out = append(out, more[:min(len(more), refined/2)]...)
		}
	}
	// By small steps no order or family becomes another.
	for _, l := range near {
		for i, f := range l.filters {
			for _, other := range f.siblings() {
				swapped := list{g: g, filters: copied(l.filters)}
				swapped.filters[i] = other
				swapped.cost = g.adjust(swapped.filters, make([]float64, len(g.hz)), 8, nil)
				out = append(out, swapped)
				*tried++
			}
		}
	}
	return out
}

// levelled adjusts for the least of the greatest errors: least squares with weights that grow
// where the error is great (C. L. Lawson, 1961).
func (g *grid) levelled(filters []filter) []filter {
	best, least := copied(filters), g.worst(g.sum(filters))
	weight := make([]float64, len(g.hz))
	for i := range weight {
		weight[i] = 1
	}
	none := make([]float64, len(g.hz))
	now := copied(filters)
	for range 12 {
		left := g.left(g.sum(now))
		sum, n := 0.0, 0.0
		for i, e := range left {
			if g.counts[i] {
				weight[i] *= math.Abs(e) + 0.02*least
				sum, n = sum+weight[i], n+1
			}
		}
		for i := range weight {
			weight[i] *= n / sum
		}
		g.adjust(now, none, 8, weight)
		if worst := g.worst(g.sum(now)); worst < least {
			best, least = copied(now), worst
		}
	}
	return best
}

// kept are the lists that keep the tolerance as they are written.
func (g *grid) kept(lists []list) []list {
	var out []list
	for _, l := range lists {
		if g.answer(l.filters).Kept {
			out = append(out, l)
		}
	}
	return out
}

// answer is what becomes of the response with filters as they are written: with so many
// digits that the error is hardly greater than with all.
func (g *grid) answer(filters []filter) Answer {
	exact := g.worst(g.sum(filters))
	var written []filter
	for digits := 2; digits <= 5; digits++ {
		written = rounded(filters, digits)
		if e := g.worst(g.sum(written)); e <= g.within && e <= exact+0.1*g.within || e <= exact*1.02 {
			break
		}
	}
	a := Answer{odd: oddness(written)}
	have := g.sum(written)
	for _, f := range written {
		args := f.args()
		a.Lines = append(a.Lines, Line{f.form.Kind, args, f.form.Kind + ": " + f.text()})
		a.Sections += f.form.Sections
	}
	slices.SortStableFunc(a.Lines, func(x, y Line) int { return cmp.Compare(place(x), place(y)) })
	mean, usual := g.constant(have), g.median(have)
	a.LevelDB = mean
	for i := range g.hz {
		if e := g.db[i] + have[i] - mean; g.counts[i] && math.Abs(e) >= math.Abs(a.ErrorDB) {
			a.ErrorDB, a.ErrorHz = e, g.hz[i]
		}
		boost := have[i] - usual
		a.beyond = max(a.beyond, have[i]-g.ceiling(have, usual, i))
		if !g.counts[i] && boost > a.OutsideDB {
			a.OutsideDB, a.OutsideHz = boost, g.hz[i]
		}
		if g.counts[i] && boost > a.BoostDB {
			a.BoostDB, a.BoostHz = boost, g.hz[i]
		}
	}
	a.ErrorDB = math.Abs(a.ErrorDB)
	a.Kept = a.ErrorDB <= g.within+1e-9 && a.beyond <= slightlyMore
	return a
}

// slightlyMore (dB) is what rounding may add to the boost.
const slightlyMore = 0.1

// place is where in frequency a line acts first.
func place(l Line) float64 {
	for _, key := range []string{"at", "from"} {
		if v := l.Args.Get(key); v != nil {
			if v.Fields != nil {
				v = v.Get("at")
			}
			return v.Number
		}
	}
	return 0
}
