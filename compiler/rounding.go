package compiler

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"bandwright/biquad"
	"bandwright/biquad/number"
	"bandwright/compiler/parallel"
	"bandwright/compiler/progress"
	"bandwright/compiler/promise"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// ofWords are the quantities that words may spoil.
var ofWords = []*verify.Quantity{verify.Magnitude, verify.Phase, verify.Sum, verify.Noise, verify.PoleMargin}

// spoilt are the promises on ofWords that findings break.
func spoilt(findings []verify.Finding) (out []*verify.Finding) {
	for i := range findings {
		f := &findings[i]
		if r := promise.ByName(f.Promise); !f.Kept && r != nil && slices.Contains(ofWords, r.Of) {
			out = append(out, f)
		}
	}
	return out
}

// adviseRounding says of promises that a realisation breaks and the reference at its rate keeps that the words of its format
// alone break them, and which other formats keep them: each is tried. each is what was found of b.Digital.
func (b *Build) adviseRounding(ctx context.Context, each []judged) {
	parallel.Each(len(b.Digital), func(i int) {
		d := b.Digital[i]
		reference := b.reference(d.RateHz)
		if d.Laid != nil || !d.Asked || reference < 0 || reference == i {
			return
		}
		broken := slices.DeleteFunc(spoilt(each[i].findings), func(f *verify.Finding) bool {
			return !kept(each[reference].findings, f) || each[i].dither && f.Promise == promise.Noise.Name
		})
		if len(broken) == 0 {
			return
		}
		keeps := make([][]string, len(broken))
		for _, f := range number.Formats {
			if f.Name == d.Format.Name || d.Format.Dither > 0 && !f.Ditherable() || ctx.Err() != nil {
				continue // converters round what floating point gives them, too
			}
			found := b.inFormat(ctx, f, d.RateHz, each)
			for k, x := range broken {
				if kept(found, x) && !breaksMore(each[i].findings, found) {
					keeps[k] = append(keeps[k], code(f.Name))
				}
			}
		}
		for k, f := range broken {
			f.Note = strings.TrimPrefix(f.Note+"; rounding to the words of "+code(d.Format.Name)+" alone breaks it", "; ")
			f.Remedy = "no other number format keeps this without breaking another promise"
			if keeps[k] != nil {
				f.Remedy = "write " + words.OrList(keeps[k]) + " into digital.formats instead: tried at " + words.Rate(d.RateHz) + ", that keeps it"
			}
			for _, x := range b.Promises.Terms().Demands {
				if x.Name == f.Promise && x.Loosened != nil {
					f.Remedy += fmt.Sprintf(", or allow promise.%s: %s", f.Promise, x.Loosened(f.Worst))
				}
			}
		}
	})
}

// kept reports whether findings on another realisation have a promise kept.
func kept(findings []verify.Finding, of *verify.Finding) bool {
	return slices.ContainsFunc(findings, func(f verify.Finding) bool { return f.Promise == of.Promise && f.Way == of.Way && f.Kept })
}

// inFormat is what is found of the system of a rate (Hz) in another format: what was found already, if the spec has it.
func (b *Build) inFormat(ctx context.Context, f number.Format, rateHz float64, each []judged) []verify.Finding {
	var exact []biquad.System[biquad.Digital]
	var rates []float64
	at := 0
	var like Digital
	for i, d := range b.Digital {
		if d.Laid != nil {
			continue
		}
		if d.Format.Name == f.Name && d.RateHz == rateHz {
			return each[i].findings
		}
		if d.Format.Name == number.Reference {
			if d.RateHz == rateHz {
				at, like = len(rates), d
			}
			exact, rates = append(exact, d.System), append(rates, d.RateHz)
		}
	}
	progress.Say(ctx, "looking for a number format that keeps the promises")
	fitted, systems := f.Dithered(b.Spec.Digital.Dither).Systems(exact, like.InputGain, rates)
	like.Format, like.System = fitted, systems[at]
	_, found := verify.Judge(ctx, b.Subject(), b.Realisation(like), b.Promises.Terms())
	return found
}
