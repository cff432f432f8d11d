package result

import (
	"fmt"
	"math"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// pairs are the realisations that both results have.
func (c *comparison) pairs(f func(o, n *Reached)) {
	for i := range c.new.Digital {
		n := &c.new.Digital[i]
		for j := range c.old.Digital {
			if o := &c.old.Digital[j]; o.RateHz == n.RateHz && o.Format == n.Format {
				f(o, n)
			}
		}
	}
}

// realisations adds what the realised responses changed beside the prototype,
// the worst of every way. Of a result whose spec is not known it is the whole
// change.
func (c *comparison) realisations() {
	type worst struct {
		change
		where string
	}
	var found []worst
	c.pairs(func(o, n *Reached) {
		s := c.scope
		hi := verify.TopOfRate * n.RateHz
		s.hz = slices.Clone(c.hz)
		for len(s.hz) > 0 && s.hz[len(s.hz)-1] > hi {
			s.hz = s.hz[:len(s.hz)-1]
		}
		if len(s.hz) == 0 {
			return
		}
		a, b := realised(o, s.hz, c.oldNames), realised(n, s.hz, c.newNames)
		for _, t := range c.realised(&s, a, b) {
			i := slices.IndexFunc(found, func(w worst) bool { return w.way == t.way })
			w := worst{t, words.Rate(n.RateHz) + " " + n.Format}
			switch {
			case i < 0:
				found = append(found, w)
			case math.Abs(t.db) > math.Abs(found[i].db)+leastDB, math.Abs(t.deg) > math.Abs(found[i].deg)+leastDeg && !c.tol.beyond(found[i].change):
				found[i] = w
			}
		}
	})
	paths, why := c.why()
	for _, w := range found {
		if !c.tol.beyond(w.change) {
			continue
		}
		text := c.level(w.change)
		if math.Abs(w.db) <= c.tol.MagnitudeDB {
			text = fmt.Sprintf("%+.1f deg at %s", w.deg, hertz(w.degHz))
		}
		c.add(Change{Kind: OfRealisation, Way: w.way, DB: w.db, AtHz: w.hz, Setting: c.choices(w.combo), Causes: paths, Beyond: true,
			Sentence: fmt.Sprintf("%s: %s in the realisation at %s, %s", w.way, text, w.where, why)})
	}
	c.delays(paths, why)
}

// realised is the change from a to b that the prototypes do not explain.
func (c *comparison) realised(s *scope, a, b *sheet) []change {
	if c.a == nil {
		return s.between(a, b)
	}
	// The prototypes' change is taken out of b, and what is left is compared.
	rest := &sheet{ways: b.ways, late: b.late, sign: b.sign}
	for k := range c.combos {
		var row [][]complex128
		for j, name := range b.ways {
			h := slices.Clone(b.h[k][j])
			if i, p, q := a.way(name), c.a.way(name), c.b.way(name); i >= 0 && p >= 0 && q >= 0 {
				unexplained(h, a.h[k][i], c.a.h[k][p], c.b.h[k][q])
			}
			row = append(row, h)
		}
		rest.h = append(rest.h, row)
	}
	out := s.between(a, rest)
	if last := len(out) - 1; last >= 0 && out[last].way == "sum" {
		out = out[:last]
		if slices.Equal(a.ways, b.ways) {
			out = append(out, c.sums(s, a, b))
		}
	}
	return out
}

// restDownTo is how far below its peak a response is still compared with what
// a changed prototype explains (dB): further down, at the bottom of a notch,
// the words have no digits left.
const restDownTo = -40

// unexplained takes the change of a prototype out of h, the response that
// follows was. Where either lies too deep, nothing is left of the change.
func unexplained(h, was, from, to []complex128) {
	tops := [4]float64{peak(h), peak(was), peak(from), peak(to)}
	for i := range was {
		if from[i] == to[i] {
			continue
		}
		deep := false
		for k, v := range [4]complex128{h[i], was[i], from[i], to[i]} {
			deep = deep || biquad.DB(v)-tops[k] < restDownTo
		}
		if deep {
			h[i] = was[i]
		} else {
			h[i] *= from[i] / to[i]
		}
	}
}

// sums is how the realised sum moved beside the prototype's.
func (c *comparison) sums(s *scope, a, b *sheet) change {
	out := change{way: "sum"}
	for k := range c.combos {
		x, y, from, to := a.sum(k), b.sum(k), c.a.sum(k), c.b.sum(k)
		px, py := peak(x), peak(y)
		for i := range x {
			if math.Min(biquad.DB(x[i])-px, biquad.DB(y[i])-py) < heardDB {
				continue
			}
			if d := ratio(x[i], y[i]) - ratio(from[i], to[i]); math.Abs(d) > math.Abs(out.db)+1e-9 {
				out.db, out.hz, out.combo = d, s.hz[i], k
			}
		}
	}
	return out
}

// why names what else can move a realisation: a line of the spec that does so,
// the filters that changed, or Bandwright itself.
func (c *comparison) why() (paths []string, text string) {
	if c.a == nil {
		return nil, "the cause cannot be traced without both specs"
	}
	var said []string
	for _, e := range c.edits {
		if e.realises {
			paths, said = append(paths, e.path), append(said, e.said)
		}
	}
	if said == nil && slices.ContainsFunc(c.edits, func(e edit) bool { return !e.dull }) {
		return nil, "because the changed filters are realised anew"
	}
	return paths, becauseOf(said)
}

// becauseOf joins reasons; where there is none, it is Bandwright's own.
func becauseOf(said []string) string {
	switch {
	case len(said) > causesNamed:
		return "because " + words.List(append(said[:causesNamed:causesNamed], words.Count(len(said)-causesNamed, "more line", "more lines")))
	case said != nil:
		return "because " + words.List(said)
	}
	return "because Bandwright itself changed: no line of the spec did it"
}

// delays adds the common delay of a rate that moved.
func (c *comparison) delays(paths []string, why string) {
	c.pairs(func(o, n *Reached) {
		if late := n.CommonDelayS - o.CommonDelayS; n.Format == reference && math.Abs(late) > c.tol.DelayS {
			word := "later"
			if late < 0 {
				word = "earlier"
			}
			c.add(Change{Kind: OfFigure, Causes: paths, Beyond: true,
				Sentence: fmt.Sprintf("every way: %s %s at %s, %s", words.Seconds(math.Abs(late)), word, words.Rate(n.RateHz), why)})
		}
	})
}

// verdicts adds promises that are now broken or kept again, the worst
// realisation of each promise and way.
func (c *comparison) verdicts() {
	type group struct {
		worst Verdict
		n     int
	}
	var groups []group
	for _, n := range c.new.Findings {
		i := slices.IndexFunc(c.old.Findings, func(o Verdict) bool {
			return o.Promise == n.Promise && o.Realisation == n.Realisation && o.Way == n.Way
		})
		if i < 0 && n.Kept || i >= 0 && c.old.Findings[i].Kept == n.Kept {
			continue
		}
		g := slices.IndexFunc(groups, func(g group) bool {
			return g.worst.Promise == n.Promise && g.worst.Way == n.Way && g.worst.Kept == n.Kept
		})
		switch {
		case g < 0:
			groups = append(groups, group{n, 1})
			continue
		case math.Abs(n.Worst) > math.Abs(groups[g].worst.Worst):
			groups[g].worst = n
		}
		groups[g].n++
	}
	for _, g := range groups {
		w := g.worst
		who := w.Way
		if who == "" {
			who = "every way"
		}
		text := fmt.Sprintf("%s: the promise %s is kept again", who, w.Promise)
		if !w.Kept {
			text = fmt.Sprintf("%s: the promise %s is now broken, %s where %s is promised", who, w.Promise, words.Quantity(w.Worst, w.Unit), words.Limit(w.Limit, w.Unit))
			if w.AtHz > 0 {
				text += ", at " + hertz(w.AtHz)
			}
		}
		text += " (" + w.Realisation
		if g.n > 1 {
			text += fmt.Sprintf(" and %d more", g.n-1)
		}
		c.add(Change{Kind: OfPromise, Way: w.Way, AtHz: w.AtHz, Beyond: !w.Kept, Sentence: text + ")", missed: math.Abs(w.Worst - w.Limit)})
	}
}

const (
	noiseStepDB    = 1.0 // noise that changed by less is told by nobody's ear
	headroomStepDB = 0.1
	quietDBFS      = -180.0 // below every converter, by far
)

// figures adds cost, noise, headroom and latency, the greatest change of each
// way.
func (c *comparison) figures() {
	type key struct{ way, figure string }
	best := map[key]float64{}
	texts := map[key]Change{}
	var order []key
	note := func(way, figure string, size float64, beyond bool, text string) {
		k := key{way, figure}
		if _, known := texts[k]; !known {
			order = append(order, k)
		} else if math.Abs(size) <= best[k] {
			return
		}
		best[k] = math.Abs(size)
		texts[k] = Change{Kind: OfFigure, Way: way, Beyond: beyond, Sentence: way + ": " + text}
	}
	c.pairs(func(o, n *Reached) {
		name := " at " + words.Rate(n.RateHz) + " " + n.Format
		for _, w := range n.Ways {
			k := o.way(w.Way)
			if k < 0 {
				continue
			}
			was := o.Ways[k]
			if was.Biquads != w.Biquads {
				note(w.Way, "sections", float64(w.Biquads-was.Biquads), false, fmt.Sprintf("%s instead of %d%s", words.Count(w.Biquads, "section", "sections"), was.Biquads, name))
			}
			if d := w.NoiseDBFS - was.NoiseDBFS; math.Abs(d) >= noiseStepDB && math.Max(was.NoiseDBFS, w.NoiseDBFS) > quietDBFS {
				note(w.Way, "noise", d, false, fmt.Sprintf("the noise went from %s to %s%s", words.Level(was.NoiseDBFS, "dBFS"), words.Level(w.NoiseDBFS, "dBFS"), name))
			}
			if d := w.HeadroomDB - was.HeadroomDB; math.Abs(d) >= headroomStepDB {
				note(w.Way, "headroom", d, false, fmt.Sprintf("the headroom went from %s to %s%s", words.Level(was.HeadroomDB, "dB"), words.Level(w.HeadroomDB, "dB"), name))
			}
			// What the common delay moved is said already; a latency is never
			// less than nothing.
			d := w.LatencyS - was.LatencyS
			said := math.Max(0, n.CommonDelayS) - math.Max(0, o.CommonDelayS)
			if math.Abs(d) > c.tol.DelayS && math.Abs(d-said) > c.tol.DelayS {
				note(w.Way, "latency", d*1e6, true, fmt.Sprintf("the latency went from %s to %s%s", words.Seconds(was.LatencyS), words.Seconds(w.LatencyS), name))
			}
		}
	})
	for _, k := range order {
		c.add(texts[k])
	}
}

// Rounding to nine digits moves a coefficient by 5e-9 at most, and fits of
// other machines agree to 1e-9; what is left of a zero stays below dust.
const (
	sameWord = 1e-6
	dust     = 1e-12
)

func differ(x, y float64) bool {
	return math.Abs(x-y) > sameWord*math.Max(math.Abs(x), math.Abs(y)) && math.Abs(x-y) > dust
}

// coefficients adds one sentence on all coefficients that changed.
func (c *comparison) coefficients() {
	changed, all := 0, 0
	var rates, formats []string
	c.pairs(func(o, n *Reached) {
		before := changed
		chains := func(d *Reached) []Chain { return append([]Chain{d.Common}, d.Ways...) }
		olds := chains(o)
		for _, w := range chains(n) {
			all += len(w.Coefficients)
			k := slices.IndexFunc(olds, func(x Chain) bool { return x.Way == w.Way })
			if k < 0 {
				changed += len(w.Coefficients)
				continue
			}
			changed += c.unlike(olds[k], w)
		}
		if changed > before || differ(o.InputGain, n.InputGain) {
			rates, formats = append(rates, words.Rate(n.RateHz)), append(formats, n.Format)
		}
	})
	if rates == nil {
		return
	}
	text := fmt.Sprintf("%d of %s changed in coefficients", changed, words.Count(all, "section", "sections"))
	if changed == 0 {
		text = "the gain at the input changed"
	}
	text += fmt.Sprintf(", at %s in %s", words.List(words.Once(rates)), words.List(words.Once(formats)))
	told := slices.ContainsFunc(c.out.Changes, func(x Change) bool { return x.Kind == OfResponse || x.Kind == OfRealisation || x.Kind == OfInteraction })
	if !told {
		text += ", but no response by more than " + c.tol.String()
		if len(c.edits) == 0 && c.a != nil {
			text = "Bandwright itself: " + text
		}
	}
	c.add(Change{Kind: OfCoefficients, Sentence: text})
}

// unlike counts the sections of a chain that changed; a changed gain, polarity
// or delay of whole samples is one of them.
func (c *comparison) unlike(o, n Chain) int {
	count := 0
	if differ(o.Gain, n.Gain) || o.Polarity != n.Polarity || o.DelaySamples != n.DelaySamples {
		count++
	}
	olds := map[string]Words9{}
	for _, w := range o.Coefficients {
		if key, offered := c.place(w); offered {
			olds[key] = w
		}
	}
	news := 0
	for _, w := range n.Coefficients {
		key, offered := c.place(w)
		if !offered {
			continue
		}
		news++
		was, there := olds[key]
		if !there || was.Form != w.Form || slices.ContainsFunc([]int{0, 1, 2}, func(i int) bool {
			return differ(was.B[i], w.B[i]) || differ(was.A[i], w.A[i])
		}) {
			count++
		}
	}
	return count + max(0, len(olds)-news)
}

// place is the position of a section and its conditions, so far as both results
// have the settings and choices; false where it applies at none of them.
func (c *comparison) place(w Words9) (key string, offered bool) {
	when := map[string][]string{}
	for name, allowed := range w.When {
		both := c.both(name)
		if both == nil {
			when[name] = allowed // a setting that only one has
			continue
		}
		var left []string
		for _, x := range both {
			if slices.Contains(allowed, x) {
				left = append(left, x)
			}
		}
		switch {
		case left == nil:
			return "", false
		case len(left) < len(both):
			when[name] = left
		}
	}
	return fmt.Sprint(w.Position, when), true
}

// both are the choices of a setting that both results have.
func (c *comparison) both(name string) []string {
	choices := func(a *Accepted) []string {
		for _, s := range a.Settings {
			if s.Name == name {
				return s.Choices
			}
		}
		return nil
	}
	old := choices(c.old)
	var out []string
	for _, x := range choices(c.new) {
		if slices.Contains(old, x) {
			out = append(out, x)
		}
	}
	return out
}
