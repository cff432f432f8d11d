package compiler

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"bandwright/biquad/number"
	"bandwright/compiler/parallel"
	"bandwright/compiler/progress"
	"bandwright/compiler/promise"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// ofMethods are the quantities by which a method's filters are not their prototypes.
var ofMethods = []*verify.Quantity{verify.Magnitude, verify.Phase, verify.Sum}

// highestTried (Hz) is the highest rate that is tried in the place of one at which a promise is broken.
const highestTried = 192000

// adviseRate says of promises on the response that the reference at a rate breaks, too, that the method does so and not the words,
// and whether twice the rate keeps them, which is tried. each is what was found of b.Digital.
func (b *Build) adviseRate(ctx context.Context, each []judged) {
	found := make([]*[]verify.Finding, len(b.Digital))
	parallel.Each(len(b.Digital), func(i int) {
		d := b.Digital[i]
		reference := b.reference(d.RateHz)
		if d.Laid != nil || !d.Asked || reference < 0 {
			return
		}
		for _, f := range spoilt(each[i].findings) {
			if !slices.Contains(ofMethods, promise.ByName(f.Promise).Of) || kept(each[reference].findings, f) {
				continue
			}
			if found[i] == nil {
				at := b.atRate(ctx, d, 2*d.RateHz)
				found[i] = &at
			}
			f.Note = strings.TrimPrefix(fmt.Sprintf("%s; method %s breaks it, whatever the number format", f.Note, d.Method), "; ")
			if kept(*found[i], f) && !breaksMore(each[i].findings, *found[i]) {
				f.Remedy = strings.TrimSuffix(fmt.Sprintf("use %s: tried, that keeps it, or %s", words.Rate(2*d.RateHz), f.Remedy), ", or ")
			}
		}
	})
}

// reference is which of b.Digital is the reference at a rate (Hz), -1 where there is none.
func (b *Build) reference(rateHz float64) int {
	return slices.IndexFunc(b.Digital, func(x Digital) bool {
		return x.Format.Name == number.Reference && x.RateHz == rateHz && x.Laid == nil
	})
}

// atRate is what is found of a realisation as it would be at another rate (Hz); nothing where that is too high, or no filters
// come of it.
func (b *Build) atRate(ctx context.Context, d Digital, rateHz float64) []verify.Finding {
	if rateHz > highestTried {
		return nil
	}
	progress.Say(ctx, "trying twice the rate")
	spec, digital := *b.Spec, *b.Spec.Digital
	digital.RatesHz, digital.Formats, digital.Layouts, spec.Digital = []float64{rateHz}, []string{d.Format.Name}, nil, &digital
	w := b.Wanted
	w.Spec = &spec
	made, err := discretise(ctx, &w)
	if err != nil {
		return nil
	}
	for _, x := range quantise(&digital, made) {
		if x.Asked {
			_, found := verify.Judge(ctx, b.Subject(), b.Realisation(x), b.Promises.Terms())
			return found
		}
	}
	return nil
}
