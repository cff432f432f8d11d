package compiler_test

import (
	"regexp"
	"strings"
	"testing"

	"bandwright/compiler"
)

// What is advised of an output beyond full scale keeps the promise in a compile of its own, in
// our formats and in an engine's, and what is named lifts it: a shelf below the least frequency
// that is looked at peaks there, and a way's gain lifts where no filter does.
func TestHeadroomAdviceHelps(t *testing.T) {
	const spec = `bandwright: 1
name: test
ways:
  bass: {filters: [BASS], gain: BASSGAIN dB}
  treble: {filters: [{peak: {at: 9 kHz, q: 3, gain: 4.32 dB}}]}
crossovers:
  - {between: [bass, treble], family: LR, order: 4, at: 2 kHz}
promise: {magnitude: 1 dB, sum: off, headroom: 1.5 dB}
digital: {rates: [48 kHz, 96 kHz], formats: [float32, q31], headroom: 1 dB, layouts: [{name: chip, word: 28 bit, fraction: 23 bit, accumulator: 56 bit, form: direct-1, data: 24 bit}]}
`
	advice := regexp.MustCompile(`^set digital\.headroom: ([\d.]+) dB, or set ways\.(\w+)\.gain: ([-\d.]+) dB \(quieter beside the other ways\)$`)
	for _, x := range []struct{ filter, gain, most string }{
		{"{low-shelf: {at: 40 Hz, gain: 6 dB, q: 0.7}}", "3", "ways.bass.filters[0] low-shelf lifts it most, by +6.00 dB there"},
		{"{low-shelf: {at: 40 Hz, gain: -6 dB, q: 0.7}}", "3.3", "ways.bass.gain lifts it most, by +3.30 dB there"},
	} {
		src := strings.NewReplacer("BASSGAIN", x.gain, "BASS", x.filter).Replace(spec)
		told, followed := 0, map[string]*compiler.Build{} // what formats that round alike are told is the same
		for _, f := range compileSource(t, src).Findings {
			if f.Promise != "headroom" || f.Kept {
				continue
			}
			told++
			m := advice.FindStringSubmatch(f.Remedy)
			if m == nil || f.Way != m[2] || f.Way == "bass" && !strings.Contains(f.Note, x.most) {
				t.Fatalf("%s of %s: %q, %q", f.Realisation, f.Way, f.Remedy, f.Note)
			}
			if told > 2 && f.Realisation != "digital 96 kHz chip" { // the formats round alike
				continue
			}
			gained := strings.Replace(src, "gain: "+x.gain+" dB}", "gain: "+m[3]+" dB}", 1)
			if f.Way == "treble" {
				gained = strings.Replace(src, "4.32 dB}}]}", "4.32 dB}}], gain: "+m[3]+" dB}", 1)
			}
			for what, then := range map[string]string{"headroom": strings.Replace(src, "headroom: 1 dB", "headroom: "+m[1]+" dB", 1), "gain": gained} {
				if followed[then] == nil {
					followed[then] = compileSource(t, then)
				}
				for _, g := range followed[then].Findings {
					if g.Promise == "headroom" && g.Realisation == f.Realisation && g.Way == f.Way && !g.Kept {
						t.Errorf("%s: %q was followed: %+v", what, f.Remedy, g)
					}
				}
			}
		}
		if told < 6 {
			t.Errorf("%d findings are told", told)
		}
	}
}
