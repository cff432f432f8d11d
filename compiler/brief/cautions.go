package brief

import (
	"fmt"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/words"
)

// passesDC is the level at 0 Hz above which a way is said to pass it: 60 dB
// below its input a converter's offset no longer moves a cone.
const passesDC = -60.0

// passing are the ways that pass DC, with the level.
func passing(b *compiler.Build) []string {
	var out []string
	for k, w := range b.Prototype.Ways {
		if level := atDC(b, k); level > passesDC {
			out = append(out, fmt.Sprintf("%s (%s)", w.Name, words.Level(level, "dB")))
		}
	}
	return out
}

// blocked says that capacitors at the outputs block DC, whatever is before them.
func blocked(b *compiler.Build) bool {
	return b.Spec.Digital == nil && b.Board != nil && b.Spec.Board.Output.CouplingF > 0
}

// atDC is the greatest level of way k at 0 Hz over its settings, in dB.
func atDC(b *compiler.Build, k int) float64 {
	path := b.Prototype.Path(k)
	r := biquad.OnAnalog(path, []float64{0})
	worst := biquad.DB(0)
	var h [1]complex128
	biquad.Each(biquad.Axes(path), len(b.Settings), func(c biquad.Combination) {
		r.Response(h[:], c)
		worst = max(worst, biquad.DB(h[0]))
	})
	return worst
}

// inAir says how far a full-scale sine would drive the cones, and how loud the drivers get.
func inAir(b *compiler.Build, say func(string)) {
	if b.Air == nil {
		return
	}
	way, times, at, of := "", 1.0, 0.0, ""
	loudest, hz := 0.0, 0.0
	for _, h := range b.Air.Heard {
		for k, w := range h.Ways {
			if limit := b.Air.System.Ways[k].LimitM(); limit > 0 && w.Excursion.Known && b.Air.System.Ways[k].Known && w.Excursion.Value/limit > times {
				way, times, at, of = w.Way, w.Excursion.Value/limit, w.Excursion.AtHz, h.Realisation
			}
		}
		for i, db := range h.MaximumDB {
			if db > loudest {
				loudest, hz = db, b.Air.Hz[i]
			}
		}
	}
	if way != "" {
		say(fmt.Sprintf("A full-scale sine of %s would move the cone of %s %s times as far as it may (%s): begin far below full scale, and stop at the first odd sound. "+
			"Excursion is computed for small signals; a cone near its limit does what no model here says.", words.Hz(words.Round(at, 3)), way, words.Short(words.Round(times, 2)), of))
	}
	if loudest >= 85 && b.Air.Whole() {
		say(fmt.Sprintf("These drivers reach %.0f dB at 1 m (%s): protect your hearing, and test at low level.", loudest, words.Hz(words.Round(hz, 2))))
	}
}

// Cautions are what a person should know before the first sound, a paragraph each.
func Cautions(b *compiler.Build) []string {
	var out []string
	say := func(s string) { out = append(out, s) }
	wrong := "A wrong channel, a wrong sign or a swapped coefficient"
	if b.Spec.Digital == nil {
		wrong = "A wrong way or a wrong polarity"
	}
	say(wrong + " can destroy a driver at once. Start with the amplifiers " +
		"turned down, test one way at a time at low level, and keep a capacitor in series with every treble driver " +
		"until all ways have been verified.")
	if through := passing(b); through != nil && !blocked(b) {
		blockers := "the converters or the amplifiers block"
		if b.Spec.Digital == nil {
			blockers = "the amplifiers block"
		}
		say("No filter blocks DC in " + words.List(through) + ": an offset or turn-on thump goes straight to " +
			"the amplifier. Make sure that " + blockers + " it.")
	}
	inAir(b, say)
	say("Sound above 85 dB(A) damages hearing over hours, above 100 dB(A) within minutes. Measure at low level or wear hearing protection.")
	if b.Board != nil {
		parts := "All figures are for nominal parts; tolerances add to the errors."
		if b.Batch != nil {
			parts = "Simulated boards have parts anywhere within their tolerances, each by itself; a reel of parts that all lie on one side, " +
				"and op-amps unlike their data, are not in them."
		}
		say("The board is calculated, not tested: build it, measure every way and compare it with this report before you connect a loudspeaker. " + parts)
		say("A broken joint, a wrong polarity or a turn-on thump can put DC or full bass on a driver: use power amplifiers with " +
			"DC protection and muting at power-up, test the board with dummy loads first, and " +
			"keep a capacitor in series with every treble driver.")
		say("Boost multiplies excursion and amplifier power: start at the lowest level, as test signals can " +
			"be loud without warning.")
		say("A mains supply can kill. Use a finished, approved one, or leave it to a qualified person and local codes: fuse, " +
			"protective earth, clearances.")
	}
	say("Work on mains equipment is for qualified people, by local codes; capacitors " +
		"stay charged after it is unplugged.")
	return out
}
