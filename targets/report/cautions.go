package report

import (
	"fmt"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/words"
)

// passesDC is the level at 0 Hz above which a way is said to pass it: 60 dB
// below its input a converter's offset no longer moves a cone.
const passesDC = -60.0

// cautions are what a person should know before the first sound.
func cautions(p *page, b *compiler.Build) {
	p.heading("Before the first sound")
	say := func(s string) { p.item(s, "  * ", "    ") }
	say("A wrong channel, a wrong sign or a swapped coefficient can destroy a driver at once. Start with the amplifiers " +
		"turned down, try one way at a time, quietly, and keep a capacitor in series with every treble driver " +
		"until all ways are known to be right.")
	var through []string
	for k, w := range b.Prototype.Ways {
		if level := atDC(b, k); level > passesDC {
			through = append(through, fmt.Sprintf("%s (%s)", w.Name, words.Level(level, "dB")))
		}
	}
	if len(through) > 0 {
		say("No filter here keeps 0 Hz from " + words.List(through) + ": an offset or a turn-on thump goes straight to " +
			"the amplifier. See that the converters or the amplifiers block it.")
	}
	say("Sound above 85 dB(A) damages hearing over hours, above 100 dB(A) within minutes. Measure quietly or protect your ears.")
	if b.Board != nil {
		say("The board is calculated, not tested: build it, measure every way and compare it with this report before a loudspeaker is " +
			"connected. What is printed holds for nominal parts; tolerances come on top.")
		say("A broken joint, a wrong polarity or a turn-on thump can put direct current or full bass on a driver: give the power " +
			"amplifiers protection against direct current and a mute while supplies rise, try the board on a dummy load first, and " +
			"keep a capacitor in series with every treble driver.")
		say("Where a way lifts the level it multiplies excursion and amplifier power: start at the lowest level, as test signals can " +
			"be loud without warning.")
		say("A mains supply can kill. Use a finished, approved one, or leave it to licensed practice and the codes of the place: fuse, " +
			"protective earth, clearances.")
	}
	say("Work on anything connected to the mains is for people qualified to do it, by the rules of the place; capacitors " +
		"stay charged after the plug is pulled.")
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
