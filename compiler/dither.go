package compiler

import (
	"context"
	"fmt"
	"slices"

	"bandwright/biquad/number"
	"bandwright/compiler/language"
	"bandwright/compiler/promise"
	"bandwright/compiler/verify"
)

// Dither is what rounding to the converters' words costs in the band of the noise figures, dB
// re the RMS of a full-scale sine; false without dither.
func (d Digital) Dither() (bits int, aloneDBFS, allDBFS float64, ok bool) {
	if d.Format.Dither == 0 {
		return 0, 0, 0, false
	}
	lo, hi := noiseBand(d.RateHz)
	aloneDBFS, allDBFS = number.DitherDBFS(d.Format.Dither, d.RateHz, lo, hi)
	return d.Format.Dither, aloneDBFS, allDBFS, true
}

// unusedDither warns of dither that no format has use for.
func (w *Wanted) unusedDither() []language.Fault {
	d := w.Spec.Digital
	if d == nil || d.Dither == 0 || slices.ContainsFunc(number.Formats, func(f number.Format) bool {
		return f.Ditherable() && slices.Contains(d.Formats, f.Name)
	}) {
		return nil
	}
	return []language.Fault{w.Spec.Fault(language.Warning, d.DitherPos, "`dither` has no effect: none of the formats is fixed point",
		"add a format such as `q31`, or leave `dither` out")}
}

// adviseDither says of a noise promise that is broken with dither at which word length of
// the converters it would be kept, or whether without dither: longer words are tried one
// after another. It reports whether one of these does.
func (b *Build) adviseDither(ctx context.Context, d Digital, findings []verify.Finding) bool {
	broken := func(of []verify.Finding) bool {
		return slices.ContainsFunc(of, func(f verify.Finding) bool { return f.Promise == promise.Noise.Name && !f.Kept })
	}
	if d.Format.Dither == 0 || !broken(findings) {
		return false
	}
	remedy := ""
	for bits := d.Format.Dither + 1; remedy == "" && bits <= number.MostDither+1 && ctx.Err() == nil; bits++ {
		x := d
		x.Format = d.Format.Dithered(bits % (number.MostDither + 1)) // at last without
		if _, then := verify.Judge(ctx, b.Subject(), b.Realisation(x), b.Promises.Terms()); !broken(then) {
			if remedy = "leave `dither` out"; x.Format.Dither > 0 {
				remedy = fmt.Sprintf("take converters of %d bits, `dither: %d bit`", bits, bits)
			}
		}
	}
	for i := range findings {
		if broken(findings[i:i+1]) && remedy != "" {
			findings[i].Remedy = remedy
		}
	}
	return remedy != ""
}
