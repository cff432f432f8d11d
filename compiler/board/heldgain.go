package board

import (
	"math"

	"bandwright/biquad"
	"bandwright/compiler/stage"
)

// finishKept is finish of a chain that a held board has: the way's gain stays in the
// stage that has it, at leaveDB (dB) or less it is not given at all where none has it,
// and only else is a stage for it looked for.
func (c *chooser) finishKept(ls []layout, name string, total float64, k *keptChain, leaveDB float64) finished {
	from := "ways." + name + " gain"
	var best finished
	for absorber := -1; absorber < len(ls); absorber++ {
		if absorber >= 0 && !ls[absorber].fixed() {
			continue
		}
		var rest [][2]built
		for i, l := range ls {
			if i != absorber {
				rest = append(rest, l.one)
			}
		}
		for _, b := range series(rest) {
			if !b.ok {
				continue
			}
			left := total / b.level
			for _, last := range c.gains(ls, absorber, from, left, k, leaveDB) {
				if all := then(b, last); all.ok && (!best.ok || all.cost < best.cost) {
					best = finished{all, ls, b.signs, absorber, last}
				}
			}
		}
	}
	return best
}

// gains are the ways to give a chain what is left of its level, in an absorber or, where
// that is negative, behind everything.
func (c *chooser) gains(ls []layout, absorber int, from string, left float64, k *keptChain, leaveDB float64) []built {
	dearer := func(b built, by float64) built { b.cost += by; return b }
	var held *Stage
	if k.gain >= 0 {
		if s, ok := c.heldStage(GainStage, from, biquad.Constant(left), &k.held.Places[k.gain].Alternatives[0][0]); ok && s.Level > 0 {
			held = s
		}
	}
	if absorber < 0 {
		switch {
		case held != nil:
			return []built{{ok: true, stages: []*Stage{held}, level: left}}
		case k.gain < 0 && left > 0 && math.Abs(biquad.GainDB(left)) <= leaveDB:
			return []built{dearer(nothing, costOfLeaving)}
		case k.gain < 0 && left < 0 && math.Abs(biquad.GainDB(left)) <= leaveDB:
			left = -1 // what turns the way need not mend its level too
		}
		return []built{dearer(c.times(from, left), costOfNewStage)}
	}
	l := ls[absorber]
	if !l.held {
		return []built{dearer(c.absorbed(l, left), costOfAbsorbing)}
	}
	b := l.one[asAsked]
	if !b.ok {
		b = l.one[inverted]
	}
	s := b.stages[0]
	if !absorbs(s.Topology) || math.Signbit(left) != math.Signbit(s.Level) {
		return nil
	}
	x := *s
	x.Candidate = stage.Candidate{Topology: s.Topology, Section: scaled(s.Own, left), Values: s.Values, Level: 1}
	price := costOfAbsorbing
	switch {
	case absorbed(s.held):
		price = 0
	case held != nil:
		price = 2 * costOfAbsorbing
	}
	return []built{{ok: true, stages: []*Stage{&x}, level: 1, cost: price}}
}
