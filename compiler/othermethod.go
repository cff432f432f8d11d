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
// words, and whether the usual method or twice the rate keeps them: each is tried. each is what was found of b.Digital.
func (b *Build) adviseMethod(ctx context.Context, each []judged) {
	parallel.Each(len(b.Digital), func(i int) {
		d := b.Digital[i]
		reference := b.reference(d.RateHz)
		if d.Laid != nil || !d.Asked || reference < 0 {
			return
		}
		broken := slices.DeleteFunc(spoilt(each[i].findings), func(f *verify.Finding) bool {
			return !slices.Contains(ofMethods, promise.ByName(f.Promise).Of) || kept(each[reference].findings, f)
		})
		if len(broken) == 0 {
			return
		}
		for _, f := range broken {
			f.Note = strings.TrimPrefix(fmt.Sprintf("%s; method %s breaks it, whatever the number format", f.Note, d.Method), "; ")
		}
		try := func(what, method string, rateHz float64) {
			found := b.madeBy(ctx, d, method, rateHz)
			for _, f := range broken {
				if kept(found, f) && !breaksMore(each[i].findings, found) {
					f.Remedy = strings.TrimSuffix(fmt.Sprintf("%s: tried, that keeps it, or %s", what, f.Remedy), ", or ")
				}
			}
		}
		if twice := 2 * d.RateHz; twice <= highestTried {
			try("use "+words.Rate(twice), d.Method, twice)
		}
		if usual := Language().DefaultMethod; usual != d.Method {
			try("write "+code("method: "+usual), usual, d.RateHz)
		}
	})
}

// reference is which of b.Digital is the reference at a rate (Hz), -1 where there is none.
func (b *Build) reference(rateHz float64) int {
	return slices.IndexFunc(b.Digital, func(x Digital) bool {
		return x.Format.Name == number.Reference && x.RateHz == rateHz && x.Laid == nil
	})
}

// madeBy is what is found of a realisation as it would be by another method or at another rate (Hz); nothing where no filters
// come of it.
func (b *Build) madeBy(ctx context.Context, d Digital, method string, rateHz float64) []verify.Finding {
	progress.Say(ctx, "looking for what keeps the promises")
	spec, digital := *b.Spec, *b.Spec.Digital
	digital.RatesHz, digital.Formats, digital.Layouts, digital.Method, spec.Digital = []float64{rateHz}, []string{d.Format.Name}, nil, method, &digital
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
