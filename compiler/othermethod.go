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

// adviseMethod says of promises on the response that the reference at a rate breaks, too, that the method does so and not the
// words, and whether the usual method, or else twice the rate, keeps them: each is tried. each is what was found of b.Digital.
func (b *Build) adviseMethod(ctx context.Context, each []judged) {
	if b.Spec.Digital == nil {
		return
	}
	rates := b.Spec.Digital.RatesHz
	parallel.Each(len(rates), func(k int) {
		rateHz := rates[k]
		broken := map[int][]*verify.Finding{}
		for i, d := range b.Digital {
			if d.RateHz != rateHz || d.Laid != nil || !d.Asked {
				continue
			}
			if found := b.ofMethod(d, each, i); len(found) > 0 {
				broken[i] = found
			}
		}
		if len(broken) == 0 {
			return
		}
		left := func(what, method string, rateHz float64) (more bool) {
			made := b.madeBy(ctx, method, rateHz)
			for i, findings := range broken {
				found := b.foundOf(ctx, made, b.Digital[i].Format.Name)
				for _, f := range findings {
					if !kept(found, f) || breaksMore(each[i].findings, found) {
						more = true
						continue
					}
					f.Remedy = strings.TrimSuffix(fmt.Sprintf("%s: tried, that keeps it, or %s", what, f.Remedy), ", or ")
				}
			}
			return more
		}
		method, usual := b.Spec.Digital.Method, Language().DefaultMethod
		if usual != method && !left("write "+code("method: "+usual), usual, rateHz) {
			return
		}
		if twice := 2 * rateHz; twice <= highestTried {
			left("use "+words.Rate(twice), method, twice)
		}
	})
}

// ofMethod are the promises on the response of a realisation, number i of b.Digital, that the reference at its rate breaks, too.
// They say so from here on.
func (b *Build) ofMethod(d Digital, each []judged, i int) []*verify.Finding {
	reference := b.reference(d.RateHz)
	if reference < 0 {
		return nil
	}
	broken := slices.DeleteFunc(spoilt(each[i].findings), func(f *verify.Finding) bool {
		return !slices.Contains(ofMethods, promise.ByName(f.Promise).Of) || kept(each[reference].findings, f)
	})
	for _, f := range broken {
		f.Note = strings.TrimPrefix(fmt.Sprintf("%s; method %s breaks it, whatever the number format", f.Note, d.Method), "; ")
	}
	return broken
}

// reference is which of b.Digital is the reference at a rate (Hz), -1 where there is none.
func (b *Build) reference(rateHz float64) int {
	return slices.IndexFunc(b.Digital, func(x Digital) bool {
		return x.Format.Name == number.Reference && x.RateHz == rateHz && x.Laid == nil
	})
}

// madeBy are the realisations in all formats as they would be by another method or at another rate (Hz); none where no filters
// come of it.
func (b *Build) madeBy(ctx context.Context, method string, rateHz float64) []Digital {
	progress.Say(ctx, "looking for what keeps the promises")
	spec, digital := *b.Spec, *b.Spec.Digital
	digital.RatesHz, digital.Layouts, digital.Method, spec.Digital = []float64{rateHz}, nil, method, &digital
	w := b.Wanted
	w.Spec = &spec
	made, err := discretise(ctx, &w)
	if err != nil {
		return nil
	}
	return quantise(&digital, made)
}

// foundOf is what is found of the one in a format; nothing where there is none.
func (b *Build) foundOf(ctx context.Context, made []Digital, format string) []verify.Finding {
	for _, x := range made {
		if x.Asked && x.Format.Name == format {
			_, found := verify.Judge(ctx, b.Subject(), b.Realisation(x), b.Promises.Terms())
			return found
		}
	}
	return nil
}
