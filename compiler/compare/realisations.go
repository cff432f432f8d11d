package compare

import (
	"fmt"
	"math"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/language"
	"bandwright/compiler/result"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// pairs are the realisations that both results have.
func (c *comparison) pairs(f func(o, n *result.AcceptedDigital)) {
	for i := range c.new.Digital {
		n := &c.new.Digital[i]
		for j := range c.old.Digital {
			if o := &c.old.Digital[j]; o.RateHz == n.RateHz && o.Format == n.Format {
				f(o, n)
			}
		}
	}
}

// realisations adds what the realised responses moved beside the prototype,
// the worst of every way. Of a result whose spec is not known it is the whole
// change.
func (c *comparison) realisations() {
	type worst struct {
		own
		where string
	}
	var found []worst
	c.pairs(func(o, n *result.AcceptedDigital) {
		s := c.scope
		s.nearOnly = c.a != nil
		above := slices.IndexFunc(s.hz, func(f float64) bool { return f > verify.TopOfRate*n.RateHz })
		if above >= 0 {
			s.hz = s.hz[:above]
		}
		if len(s.hz) == 0 {
			return
		}
		old, new := s.sides()
		a, b := s.digital(o, old), s.digital(n, new)
		whole := c.whole(&s, a, b)
		for _, m := range c.beside(&s, c.a, c.b, a, b) {
			i := slices.IndexFunc(found, func(w worst) bool { return w.way == m.way })
			w := worst{c.own(m, whole), words.Rate(n.RateHz) + " " + n.Format}
			switch {
			case i < 0:
				found = append(found, w)
			case w.beyond != found[i].beyond:
				if w.beyond {
					found[i] = w
				}
			case math.Abs(w.db) > math.Abs(found[i].db)+leastDB, math.Abs(w.deg) > math.Abs(found[i].deg)+leastDeg && !c.tol.beyond(found[i].move):
				found[i] = w
			}
		}
	})
	paths, why := c.anew()
	for _, w := range found {
		switch {
		case w.beyond:
			c.add(Change{Kind: OfRealisation, Way: w.way, DB: w.db, AtHz: w.hz, Setting: c.choices(w.combo), Causes: paths, Beyond: true,
				Sentence: fmt.Sprintf("%s: %s in the realisation at %s%s, %s", w.way, c.worst(w.move), w.where, w.beside, why)})
		case w.behind:
			c.add(Change{Kind: OfRealisation, Way: w.way, Causes: paths,
				Sentence: fmt.Sprintf("%s: the realisation at %s does not follow the spec's change: its response is as it was", w.way, w.where)})
		}
	}
	c.delays(paths, why)
}

// own is what a realisation moved by itself.
type own struct {
	move // beside the spec's change, or the whole where that is what goes beyond
	// beyond says that the realisation moved further than the tolerances allow,
	// and not because the spec wants it.
	beyond bool
	// still says that the realisation did not move while the spec changed, behind
	// that the prototype did, further than the tolerances allow.
	still, behind bool
	beside        string // what move stands for, "" where the spec changed no prototype
}

// whole is what a realisation moved from a to b in all; nil where the spec changed
// no prototype, or none is known.
func (c *comparison) whole(s *scope, a, b *responses) []move {
	if _, _, wanted := c.having(0); !wanted || c.a == nil {
		return nil
	}
	return s.between(a, b)
}

// own judges a move that the prototypes do not explain, of a realisation that
// moved so in all. It is beyond the tolerances only where the realisation itself
// moved that far: one that stays where it was while the prototype moves a little
// is what was accepted.
func (c *comparison) own(rest move, whole []move) own {
	out := own{move: rest}
	if whole == nil {
		out.beyond = c.tol.beyond(rest)
		return out
	}
	all, wish := c.of(whole, rest.way), c.of(c.total, rest.way)
	turned := math.Abs(rest.deg) > c.tol.PhaseDeg && math.Abs(all.deg) > c.tol.PhaseDeg
	out.beside = ", beyond the spec's change"
	switch {
	case c.tol.level(rest) && c.tol.level(all), turned:
		out.beyond = true
	case c.tol.level(all) && !c.tol.level(wish):
		out.move, out.beyond, out.beside = all, true, ", the spec's change included"
	}
	out.still = !out.beyond && !all.any()
	out.behind = out.still && c.tol.beyond(rest)
	return out
}

// of is the move of a way among some; none where it is not there.
func (c *comparison) of(moves []move, way string) move {
	if i := slices.IndexFunc(moves, func(m move) bool { return m.way == way }); i >= 0 {
		return moves[i]
	}
	return move{way: way}
}

// beside is the move from a to b that the prototypes' from p to q does not
// explain; p is nil where they are not known.
func (c *comparison) beside(s *scope, p, q, a, b *responses) []move {
	if p == nil {
		return s.between(a, b)
	}
	// The prototypes' change is taken out of b, and what is left is compared.
	rest := &responses{ways: b.ways, late: b.late, sign: b.sign}
	for k := range s.combos {
		var row [][]complex128
		for j, name := range b.ways {
			h := slices.Clone(b.h[k][j])
			if i, from, to := a.way(name), p.way(name), q.way(name); i >= 0 && from >= 0 && to >= 0 {
				unexplained(h, a.h[k][i], p.h[k][from], q.h[k][to])
			}
			row = append(row, h)
		}
		rest.h = append(rest.h, row)
	}
	out := s.between(a, rest)
	if last := len(out) - 1; last >= 0 && out[last].way == sumOfWays {
		out = out[:last]
		if slices.Equal(a.ways, b.ways) {
			out = append(out, s.sumBeside(p, q, a, b))
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

// sumBeside is how the realised sum moved beside the prototype's.
func (s *scope) sumBeside(p, q, a, b *responses) move {
	explained := make([][]float64, len(s.combos))
	for k := range explained {
		from, to := p.sum(k), q.sum(k)
		for i := range s.hz {
			explained[k] = append(explained[k], ratio(from[i], to[i]))
		}
	}
	return s.heard(sumOfWays, a, b, math.Min, func(k, i int) float64 { return explained[k][i] })
}

// having are the edits that have one of some effects beside the prototype, by
// their paths and sentences, and whether there are others that change it.
func (c *comparison) having(any language.Effect) (paths, said []string, wanted bool) {
	for _, e := range c.edits {
		wanted = wanted || e.wanted()
		if e.effect.Has(any) && !e.wanted() {
			paths, said = append(paths, e.path), append(said, e.said)
		}
	}
	return paths, said, wanted
}

// anew names what else can move a digital realisation: a line of the spec that
// does so, the filters that changed, or Bandwright itself.
func (c *comparison) anew() (paths []string, why string) {
	paths, said, wanted := c.having(language.RealisesDigital)
	if c.a != nil && said == nil && wanted {
		return nil, "because the changed filters were realised again"
	}
	return c.because(paths, said)
}

// because joins reasons; where there is none, it is Bandwright's own.
func (c *comparison) because(paths, said []string) ([]string, string) {
	switch {
	case c.a == nil:
		return nil, "the cause cannot be traced without both specs"
	case said == nil:
		return paths, "because Bandwright itself changed, not the spec"
	}
	return paths, "because " + lines(said)
}

// worst is a way's level, or its phase where that alone is beyond the tolerances.
func (c *comparison) worst(m move) string {
	if c.tol.beyond(m) && !c.tol.level(m) {
		return m.phase()
	}
	return c.level(m)
}

// delays adds the common delay of a rate that moved.
func (c *comparison) delays(paths []string, why string) {
	c.pairs(func(o, n *result.AcceptedDigital) {
		if d := n.CommonDelayS - o.CommonDelayS; n.Format == result.Reference && math.Abs(d) > c.tol.DelayS {
			c.add(Change{Kind: OfFigure, Causes: paths, Beyond: true,
				Sentence: fmt.Sprintf("every way: %s at %s, %s", late(d), words.Rate(n.RateHz), why)})
		}
	})
}
