package discretize

import (
	"context"
	"fmt"
	"math"

	"bandwright/biquad"
)

// sectionWise realises every section on its own by one method, turns the fraction
// of a pure delay into all-pass sections and puts the sections in order. Its
// common delay is zero.
func sectionWise(ctx context.Context, j Job, by Method) (Made, error) {
	top := 0.0
	for _, f := range j.Goals.DelayToHz {
		top = max(top, f)
	}
	m := Made{WayNotes: make([]string, len(j.Prototype.Ways))}
	c, err := sectionWiseCascade(ctx, j.Prototype.Common, j, by, "common", top)
	if err != nil {
		return Made{}, err
	}
	m.System.Common = c.finish(j.RateHz)
	for i, w := range j.Prototype.Ways {
		c, err := sectionWiseCascade(ctx, w.Cascade, j, by, "ways."+w.Name, at(j.Goals.DelayToHz, i))
		if err != nil {
			return Made{}, err
		}
		m.System.Ways = append(m.System.Ways, biquad.Way[biquad.Digital]{Name: w.Name, Polarity: w.Polarity, Cascade: c.finish(j.RateHz)})
	}
	return m, nil
}

func sectionWiseCascade(ctx context.Context, c biquad.Cascade[biquad.Analog], j Job, by Method, name string, delayToHz float64) (*made, error) {
	out := &made{}
	out.cascade.Gain = c.Gain
	for _, s := range c.Slots {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if err := out.addAlone(s, by, j); err != nil {
			return nil, err
		}
	}
	out.addDelay(c.DelayS*j.RateHz, j, name, delayToHz)
	return out, nil
}

// at is element i, or the zero value where the list is shorter.
func at[T any](list []T, i int) (zero T) {
	if i < len(list) {
		return list[i]
	}
	return zero
}

// made is a cascade on its way.
type made struct {
	cascade biquad.Cascade[biquad.Digital]
}

// addAlone realises one position by its own method, or by the given one where it
// has none, each alternative by itself, so that a setting swaps its coefficients and no
// others.
func (m *made) addAlone(s biquad.Slot[biquad.Analog], by Method, j Job) error {
	if s.Method != "" {
		var ok bool
		if by, ok = ByName(s.Method); !ok {
			return fmt.Errorf("there is no method %q", s.Method)
		}
	}
	d := biquad.Slot[biquad.Digital]{From: s.From, By: s.By, Pick: s.Pick}
	for _, a := range s.Alt {
		z := biquad.Digital{Form: biquad.Delta, B: [3]float64{a.B[0] / a.A[0]}, A: [3]float64{1}}
		if a.Order() > 0 {
			var err error
			if z, d.How, err = by.Section(a, j); err != nil {
				return err
			}
		}
		d.Alt = append(d.Alt, z)
	}
	if d.How == "" {
		d.How = "gain"
	}
	m.cascade.Slots = append(m.cascade.Slots, d)
	return nil
}

// addDelay puts whole samples into the delay line and realises the rest by as
// few all-pass sections as the phase needs up to toHz.
func (m *made) addDelay(samples float64, j Job, name string, toHz float64) {
	whole, fraction := splitDelay(samples, 2*math.Pi*toHz/j.RateHz, j.Goals.DelayDeg*math.Pi/180)
	m.cascade.DelayS = float64(whole) / j.RateHz
	for _, d := range fraction {
		s := biquad.Fixed(d, name+" delay")
		s.How = "all-pass for the fractional delay"
		m.cascade.Slots = append(m.cascade.Slots, s)
	}
}

// finish pairs first-order positions and puts all in order.
func (m *made) finish(rateHz float64) biquad.Cascade[biquad.Digital] {
	m.pairFirstOrder()
	order := inOrder(m.cascade.Slots, rateHz)
	slots := make([]biquad.Slot[biquad.Digital], len(order))
	for i, k := range order {
		slots[i] = m.cascade.Slots[k]
	}
	m.cascade.Slots = slots
	return m.cascade
}

// pairFirstOrder joins fixed first-order positions two by two, so that a way
// carries at most one position that is only half used.
func (m *made) pairFirstOrder() {
	slots := m.cascade.Slots
	m.cascade.Slots = nil
	waiting := -1
	for _, s := range slots {
		first := len(s.By) == 0 && s.Alt[0].Order() == 1
		if !first || waiting < 0 {
			if first {
				waiting = len(m.cascade.Slots)
			}
			m.cascade.Slots = append(m.cascade.Slots, s)
			continue
		}
		w := &m.cascade.Slots[waiting]
		pair := biquad.Fixed(w.Alt[0].Times(s.Alt[0]), append(append([]string{}, w.From...), s.From...)...)
		if pair.How = w.How; s.How != w.How {
			pair.How += ", " + s.How
		}
		*w = pair
		waiting = -1
	}
}
