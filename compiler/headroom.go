package compiler

import (
	"context"
	"fmt"
	"math"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/promise"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// mostGainDB is what the language takes of digital.headroom, and of a way's gain to both
// sides.
const mostGainDB = 120

// leastLiftDB is what a filter has to add where an output is greatest to be named.
const leastLiftDB = 0.1

// adviseHeadroom says of each output that is too near full scale what lifts it there, and
// which headroom, or which gain of the way, keeps it: with both the realisation is judged
// anew.
func (b *Build) adviseHeadroom(ctx context.Context, d Digital, findings []verify.Finding) {
	var broken []*verify.Finding
	more, lower := 0.0, make([]float64, len(d.System.Ways)) // dB
	for i := range findings {
		f := &findings[i]
		way := b.wayOf(f)
		if f.Promise != promise.Headroom.Name || f.Kept || way < 0 {
			continue
		}
		broken = append(broken, f)
		lower[way] = tenthUp(f.Worst - f.Limit)
		more = math.Max(more, tenthUp(f.Worst-f.Limit-biquad.GainDB(d.InputGain)))
		b.sayLift(f, way)
	}
	if broken == nil || ctx.Err() != nil {
		return
	}
	byHeadroom := b.louder(ctx, d, more, make([]float64, len(lower)))
	byGain := b.louder(ctx, d, b.Spec.Digital.HeadroomDB, lower)
	for _, f := range broken {
		keeps := func(found []verify.Finding) bool {
			return slices.ContainsFunc(found, func(g verify.Finding) bool { return g.Promise == f.Promise && g.Way == f.Way && g.Kept })
		}
		way := b.wayOf(f)
		gain := words.Round(b.Spec.Ways[way].GainDB-lower[way], 6)
		var advice []string
		if more <= mostGainDB && keeps(byHeadroom) {
			advice = append(advice, fmt.Sprintf("set digital.headroom: %s dB", words.Exact(more)))
		}
		if gain >= -mostGainDB && keeps(byGain) {
			text := fmt.Sprintf("set ways.%s.gain: %s dB", f.Way, words.Exact(gain))
			if len(lower) > 1 {
				text += " (quieter beside the other ways)"
			}
			advice = append(advice, text)
		}
		switch len(advice) {
		case 0:
			f.Remedy = "neither digital.headroom nor a gain of the way does: change the filters"
		case 1:
			f.Remedy = advice[0]
		default:
			f.Remedy = advice[0] + ", or " + advice[1]
		}
	}
}

// tenthUp is the next tenth of a decibel upwards.
func tenthUp(db float64) float64 { return words.Round(math.Ceil(db*10)/10, 6) }

// wayOf is the place of a finding's way, -1 of the sum.
func (b *Build) wayOf(f *verify.Finding) int {
	return slices.IndexFunc(b.Prototype.Ways, func(w biquad.Way[biquad.Analog]) bool { return w.Name == f.Way })
}

// louder are the findings on headroom of a realisation with another headroom (dB) and ways
// that are quieter by so much (dB).
func (b *Build) louder(ctx context.Context, d Digital, headroomDB float64, lower []float64) []verify.Finding {
	quieter := func(s biquad.System[biquad.Digital]) biquad.System[biquad.Digital] {
		s.Ways = slices.Clone(s.Ways)
		for k := range s.Ways {
			s.Ways[k].Gain *= biquad.FromDB(-lower[k])
		}
		return s
	}
	x := d
	if d.Laid == nil {
		x.InputGain, x.System = biquad.FromDB(-headroomDB), quieter(d.System)
	} else { // an engine's words hang on its levels
		w, spec, block := b.Wanted, *b.Spec, *b.Spec.Digital
		block.HeadroomDB = headroomDB
		spec.Digital, w.Spec = &block, &spec
		made := d.Laid.made
		made.System = quieter(made.System)
		laid, _, refusal := w.laid(d.Laid.Layout, made, d.RateHz)
		if refusal != nil {
			return nil
		}
		x = laid
	}
	t := b.Promises.Terms()
	t.Demands = slices.DeleteFunc(slices.Clone(t.Demands), func(d verify.Demand) bool { return d.Name != promise.Headroom.Name })
	_, found := verify.Judge(ctx, b.Subject(), b.Realisation(x), t)
	return found
}

// sayLift adds to a finding which line of the spec lifts the way most where it is greatest,
// of the prototype.
func (b *Build) sayLift(f *verify.Finding, way int) {
	lines, lift := []string{}, map[string]float64{}
	add := func(line string, db float64) {
		if !slices.Contains(lines, line) {
			lines = append(lines, line)
		}
		lift[line] += db
	}
	if b.Spec.Ways[way].GainDB != 0 {
		add("ways."+f.Way+".gain", b.Spec.Ways[way].GainDB)
	}
	h := make([]complex128, 1)
	for _, s := range b.Prototype.Path(way).Slots {
		alt := s.Index(f.C)
		one := biquad.Cascade[biquad.Analog]{Gain: 1, Slots: []biquad.Slot[biquad.Analog]{biquad.Fixed(s.Alt[alt])}}
		biquad.AnalogAt(h, one, f.C, []float64{f.AtHz})
		add(s.Line(alt), biquad.DB(h[0]))
	}
	most := ""
	for _, line := range lines {
		if lift[line] >= leastLiftDB && (most == "" || lift[line] > lift[most]) {
			most = line
		}
	}
	if most == "" {
		return
	}
	if f.Note != "" {
		f.Note += "; "
	}
	f.Note += fmt.Sprintf("%s lifts it most, by %s there", most, words.Level(lift[most], "dB"))
}
