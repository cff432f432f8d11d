package selfcheck

import (
	"fmt"
	"math"
	"slices"

	"bandwright/biquad/number"
	"bandwright/compiler"
)

// player does in the simulation what the C does, call for call.
type player struct {
	plan
	lengths
	format    number.Format
	machines  []*number.Machine
	reference []*number.Machine // the same words in the most precise arithmetic

	noise, time, hash uint32
	opened            uint32 // when the last run began
	block             int    // how many blocks there were

	expected []float64
	peak     []float64 // of each way's outputs
	off      []float64 // how far those of the reference are from them

	// The same of every output, of its samples up to each since the last run began, as long as some way
	// hears the burst.
	burstPeak, burstOff [][]float64
}

// play runs the plan at one rate.
func (p plan) play(b *compiler.Build, d compiler.Digital, l lengths) *player {
	x := &player{plan: p, lengths: l, format: d.Format, noise: 1, hash: hashStart, peak: make([]float64, p.ways), off: make([]float64, p.ways)}
	var choices []int
	for _, s := range b.Settings {
		choices = append(choices, len(s.Choices))
	}
	for c := range p.channels {
		x.machines = append(x.machines, d.Format.NewMachine(d.System, d.InputGain, d.RateHz, b.Spec.Digital.FadeS, choices))
		x.machines[c].OfChannel(c)
		x.reference = append(x.reference, reference().NewMachine(d.System, d.InputGain, d.RateHz, b.Spec.Digital.FadeS, choices))
	}
	for k := range p.runs {
		x.each(func(c int, m *number.Machine) {
			if k > 0 {
				m.Reset()
			}
			m.Set(p.combination(k*p.channels + c))
		})
		x.opened = x.time
		x.burstPeak, x.burstOff = make([][]float64, p.channels*p.ways), make([][]float64, p.channels*p.ways)
		for k := range x.burstPeak {
			x.burstPeak[k], x.burstOff[k] = make([]float64, len(burst)+l.latest()), make([]float64, len(burst)+l.latest())
		}
		x.run(l.run, nil, looks)
	}
	last := p.channels - 1
	var first, others []int // those to spoil, where there is garbage
	if d.Format.C.Size.Name != "" {
		first = []int{0}
		for c := 1; c < p.channels; c++ {
			others = append(others, c)
		}
	}
	x.on(last, func(m *number.Machine) { m.Mute(true) })
	x.run(l.fade, nil, looks)
	x.on(last, func(m *number.Machine) { m.Mute(false) })
	x.run(after, first, 1)
	x.on(0, (*number.Machine).Restart)
	x.run(after, nil, 1)
	if l.change > 0 {
		x.each(func(_ int, m *number.Machine) { m.Reset() })
		x.on(0, func(m *number.Machine) { m.Set(p.combination(0)) })
		x.block = 0
		x.run(block+l.latest(), others, 0)
		x.on(0, func(m *number.Machine) { m.Set(p.combination(1)) })
		x.reference = nil
		x.run(l.change, nil, looks)
	}
	return x
}

// reference is the format that all others are compared with.
func reference() number.Format {
	for _, f := range number.Formats {
		if f.Name == number.Reference {
			return f
		}
	}
	panic("no reference among the formats")
}

func (x *player) each(f func(c int, m *number.Machine)) {
	for c := range x.channels {
		x.on(c, func(m *number.Machine) { f(c, m) })
	}
}

func (x *player) on(c int, f func(m *number.Machine)) {
	f(x.machines[c])
	if x.reference != nil {
		f(x.reference[c])
	}
}

// run is n samples of every channel in blocks. The channels spoilt get a sample that is
// none as soon as the kind of block has such ones.
func (x *player) run(n int, spoilt []int, looks int) {
	for done := 0; done < n; {
		size, how, into := min(blocks[x.block%len(blocks)], n-done), x.block%hows, int(x.time-x.opened)
		if into < len(burst)+x.latest() {
			how = planar
		}
		x.block++
		in := x.input(size)
		if size > 0 && how != frames32 {
			for _, c := range spoilt {
				in[c][0] = math.NaN()
			}
			spoilt = nil
		}
		out := x.outputs(in, how)
		x.look(out, how)
		x.compareBurst(out, into)
		x.compare(out, n, done, looks)
		done += size
	}
}

// input is a block of every channel: the burst, or noise and a step. The noise is the linear congruential generator of
// Numerical Recipes, section 7.1.
func (x *player) input(size int) [][]float64 {
	in := make([][]float64, x.channels)
	for c := range in {
		for i := range size {
			if t := int(x.time-x.opened) + i; t < len(burst) {
				in[c] = append(in[c], float64(burst[t])/fullInput)
				continue
			}
			step := stepSize
			if (x.time+uint32(i))&turn != 0 {
				step = -stepSize
			}
			x.noise = x.noise*1664525 + 1013904223
			in[c] = append(in[c], float64(int(x.noise>>noiseShift)-noiseSize+step)/fullInput)
		}
	}
	x.time += uint32(size)
	return in
}

// outputs runs a block: those of all channels, in the order of the ways of each. With
// integers they are those of converters, re full scale.
func (x *player) outputs(in [][]float64, how int) [][]float64 {
	var out [][]float64
	for c, m := range x.machines {
		out = append(out, m.Run(in[c])...)
	}
	if how == frames32 {
		for _, y := range out {
			for i, v := range y {
				y[i] = max(-1, min(math.Round(v*(1<<31)), 1<<31-1)/(1<<31))
			}
		}
	}
	if x.reference == nil {
		return out
	}
	for c, m := range x.reference {
		for w, y := range m.Run(in[c]) {
			for i, v := range y {
				if x.format.C.Size.Name == "" || how == frames32 { // all words are samples within full scale
					v = max(-1, min(v, 1))
				}
				off := math.Abs(v - out[c*x.ways+w][i])
				x.off[w] = max(x.off[w], off)
				grow(x.burstOff[c*x.ways+w], int(x.time-x.opened)-len(y)+i, off)
			}
		}
	}
	return out
}

// look takes a block's outputs into the hash.
func (x *player) look(out [][]float64, how int) {
	for k, y := range out {
		for _, v := range y {
			x.peak[k%x.ways] = max(x.peak[k%x.ways], math.Abs(v))
			switch bits := x.format.C.Bits(v); {
			case how == frames32:
				x.mix(uint32(int32(v * (1 << 31))))
			case x.format.C.Type.Bytes > 4:
				x.mix(uint32(bits >> 32))
				x.mix(uint32(bits))
			default:
				x.mix(uint32(bits))
			}
		}
	}
}

// compare keeps the outputs of a block in the places that are compared: it begins at done
// of n samples.
func (x *player) compare(out [][]float64, n, done, looks int) {
	for j := looks - 1; j >= 0; j-- {
		i := n - done - 1 - n*j*j/spread
		if i < 0 || i >= len(out[0]) {
			continue
		}
		for _, y := range out {
			x.expected = append(x.expected, y[i])
		}
	}
}

// compareBurst does the same where a block has a place where the burst is compared, that far into its
// run, with how near each output has to be.
func (x *player) compareBurst(out [][]float64, into int) {
	for k, y := range out {
		for i, v := range y {
			grow(x.burstPeak[k], into+i, math.Abs(v))
			if at := into + i; slices.Contains(burstAt[:], at-x.late[k%x.ways]) {
				x.expected = append(x.expected, v, rounded(max(x.near()*x.burstPeak[k][at], ofFew*x.burstOff[k][at], 1e-30)))
			}
		}
	}
}

// grow puts sample at among the greatest so far of all those before that count.
func grow(greatest []float64, at int, v float64) {
	if at > 0 && at < len(greatest) {
		v = max(v, greatest[at-1])
	}
	if at < len(greatest) {
		greatest[at] = v
	}
}

// The hash is FNV-1a's step (its 32 bits), of whole words instead of bytes: no change of
// a single word leaves it as it was.
const hashStart, hashTimes = 2166136261, 16777619

func (x *player) mix(word uint32) { x.hash = (x.hash ^ word) * hashTimes }

// ofRoundOff is how far from the expected number an output may be, re what the format's round-off takes it
// from the reference at most.
const ofRoundOff = 4

// ofFew is the same where that was seen in a few samples only.
const ofFew = 16

// near is how far it may be in any case, re the greatest of its way: four roundings in float32. Of the
// reference no round-off is known; there it is -156 dB.
func (x *player) near() float64 {
	if x.format.C.Type.Bytes > 4 {
		return 0x1p-26
	}
	return 0x1p-22
}

// row is the table's row.
func (x *player) row(d compiler.Digital, l lengths) rate {
	r := rate{Hz: hertz(d.RateHz), Run: l.run, Fade: l.fade, Change: l.change, Latest: l.latest(), Hash: fmt.Sprintf("0x%08xu", x.hash), Count: len(x.expected)}
	for w := range x.ways {
		if w > 0 {
			r.Within, r.Late = r.Within+", ", r.Late+", "
		}
		r.Within += x.word(rounded(max(x.near()*x.peak[w], ofRoundOff*x.off[w], 1e-30)))
		r.Late += fmt.Sprint(l.late[w])
	}
	line := ""
	for i, v := range x.expected {
		line += x.word(v)
		if i < len(x.expected)-1 {
			line += ", "
		}
	}
	r.Expected = wrap(line, codeWidth)
	return r
}

// rounded has three digits.
func rounded(x float64) float64 {
	digits := math.Floor(math.Log10(x)) - 2
	unit := 1.0
	for range int(math.Abs(digits)) {
		unit *= 10
	}
	if digits < 0 {
		return math.Round(x*unit) / unit
	}
	return math.Round(x/unit) * unit
}
