package board

import "math"

// trimmer is what sets a way's level at test: a variable resistor in series with the output
// of its last op-amp, before a resistor to ground. Its wiper is connected to one end, so
// that one that lifts only lowers the level.
type trimmer struct {
	track   float64 // ohm, all of it
	shunt   float64 // ohm
	nominal float64 // ohm, in the middle of its range in dB
}

const (
	// leastShunt (ohm) is what an op-amp should drive at least behind a trimmer.
	leastShunt = 1500
	// trackShare is what a trimmer has of its nominal resistance at least: usual types have
	// 20 % of tolerance.
	trackShare = 0.8
)

// tracks are the values (ohm) of trimmers.
var tracks = []float64{200, 500, 1e3, 2e3, 5e3, 10e3}

// trimmerOf is the trimmer for so many dB up and down before what an output has behind it
// (ohm), also where its track is at the low end of its tolerance: with t = 10^(dB/20) and r,
// the shunt in parallel with that, levels r/(r + x) from x = 0 to r(t² - 1) are t² apart.
// nil for none.
func (j *Job) trimmerOf(db, behind float64) *trimmer {
	if db == 0 {
		return nil
	}
	apart := math.Expm1(db / 10 * math.Ln10)
	stock := j.stock().Ohm
	out := &trimmer{}
	for _, out.track = range tracks {
		if trackShare*out.track/apart >= leastShunt {
			break
		}
	}
	all := func(shunt float64) float64 { return shunt * behind / (shunt + behind) }
	out.shunt = stock[0]
	for _, v := range stock {
		if all(v) <= trackShare*out.track/apart {
			out.shunt = v
		}
	}
	r := all(out.shunt)
	out.nominal = math.Sqrt(r*(r+out.track)) - r
	return out
}

// trimmed is what a trimmer in the middle of its range leaves of the level, and the
// resistance (ohm) that it puts in series with the output.
func (b *Board) trimmed() (level, ohm float64) {
	if b.trim == nil {
		return 1, 0
	}
	x := b.trim
	return x.shunt / (x.shunt + x.nominal), x.shunt * x.nominal / (x.shunt + x.nominal)
}
