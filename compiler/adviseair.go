package compiler

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"bandwright/compiler/acoustic"
	"bandwright/compiler/progress"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// mostNudges is how many steps of its corner a high-pass may go up, where what is built moves further than the prototype.
const mostNudges = 2

// adviseAir says of promises about drivers and amplifiers that are broken what would keep them: inAir are the findings on them, of
// b.Findings, which have all others.
func (b *Build) adviseAir(ctx context.Context, inAir []verify.Finding) {
	if b.extent.unadvised || !slices.ContainsFunc(inAir, func(f verify.Finding) bool { return !f.Kept }) {
		return
	}
	promised := b.promisedOf(b.Air)
	t := airTrials{Build: b, tried: map[string][]verify.Finding{}}
	promised.Mend = b.Air.mend
	promised.HighPass = func(name string, way int, of []acoustic.HighPass) string { return t.highPass(ctx, name, way, of) }
	copy(inAir, b.Promises.InAir(promised))
}

// airTrials are high-passes that were tried.
type airTrials struct {
	*Build
	tried map[string][]verify.Finding // what was found with one, by way and line; nil where nothing came of it
}

// highPass is promise.Air.HighPass: each is tried in specs that have it behind the way's filters, or else in front of them, as
// filters are made and noise falls by their order.
func (t *airTrials) highPass(ctx context.Context, name string, way int, of []acoustic.HighPass) string {
	var spoilt, with []string // what is broken, and with which
	for _, h := range of {
		at, breaks, ok := t.place(ctx, name, way, h)
		for n := 0; !ok && breaks == "" && n < mostNudges; n++ {
			h.AtHz = next(h.AtHz)
			at, breaks, ok = t.place(ctx, name, way, h)
		}
		if ok {
			return ", or with " + h.String() + at
		}
		if k := slices.Index(spoilt, breaks); k >= 0 {
			with[k] += ", " + h.String()
		} else if breaks != "" {
			spoilt, with = append(spoilt, breaks), append(with, h.String())
		}
	}
	if spoilt == nil {
		return ""
	}
	for k := range with {
		with[k] = "with " + with[k] + ": " + spoilt[k]
	}
	return "; each high-pass that was tried and keeps it breaks another promise, or one further, " + strings.Join(with, "; ")
}

// place is where a high-pass keeps a promise of a way and breaks no other, in words; or else what the one behind the way's filters
// breaks though it keeps that, "" where it does not.
func (t *airTrials) place(ctx context.Context, name string, way int, h acoustic.HighPass) (at, breaks string, ok bool) {
	w := t.Spec.Ways[way]
	places := []string{" behind its other filters", " in front of its other filters"}
	if len(w.Filters) == 0 {
		places = []string{""}
	}
	for front, at := range places {
		found := t.with(ctx, way, h, front == 1)
		if found == nil || slices.ContainsFunc(found, func(f verify.Finding) bool { return f.Promise == name && f.Way == w.Name && !f.Kept }) {
			return "", breaks, false
		}
		spoils := others(t.Findings, found)
		if spoils == "" {
			return at, "", true
		}
		breaks = cmp.Or(breaks, spoils)
	}
	return "", breaks, false
}

// next is a corner of two digits one step up.
func next(hz float64) float64 {
	step := 1.0
	for hz/step >= 100 {
		step *= 10
	}
	for hz/step < 10 {
		step /= 10
	}
	return words.Round(hz+step, 2)
}

// with is what is found with a high-pass more in a way, in front of its filters or behind them; nil where nothing comes of it.
func (t *airTrials) with(ctx context.Context, way int, h acoustic.HighPass, front bool) []verify.Finding {
	key := t.key(way, h, front)
	if found, ok := t.tried[key]; ok {
		return found
	}
	progress.Say(ctx, "trying "+h.String())
	t.tried[key] = nil
	if spec := withFilter(t.Spec, way, h.Line(), front); spec != nil {
		if found, ok := t.judgedAnew(ctx, spec); ok {
			t.tried[key] = found
		}
	}
	return t.tried[key]
}

// worsened is the part by which a broken promise may be further from its limit than before to be said to be no worse.
const worsened = 0.05

func (t *airTrials) key(way int, h acoustic.HighPass, front bool) string {
	return fmt.Sprint(way, h.Line(), front)
}

// others names the promises that are broken of those that were kept, or that are further broken than they were, each once and with
// the first realisation of which that is so: "noise of bass (digital 48 kHz float32)".
func others(before, after []verify.Finding) string {
	var said, about []string
	for _, f := range after {
		if !f.Kept && !slices.Contains(about, f.About) && spoils(before, f) {
			about = append(about, f.About)
			said = append(said, fmt.Sprintf("%s (%s)", f.About, f.Realisation))
		}
	}
	return words.List(said)
}

// spoils reports whether a promise that is broken was kept before, or less broken.
func spoils(before []verify.Finding, f verify.Finding) bool {
	beyond := func(f verify.Finding) float64 { return math.Abs(f.Worst - f.Limit) }
	i := slices.IndexFunc(before, func(o verify.Finding) bool { return o.About == f.About && o.Realisation == f.Realisation })
	return i < 0 || before[i].Kept || beyond(f) > (1+worsened)*beyond(before[i])
}
