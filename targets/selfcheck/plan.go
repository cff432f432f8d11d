package selfcheck

import (
	"math"
	"slices"

	"bandwright/biquad"
	"bandwright/biquad/number"
	"bandwright/compiler"
)

// How blocks follow each other. A whole round has 160 samples, five ticks, so that
// rounds begin at ticks and vectors of 64 samples come in. How a block is run
// goes round by itself: with 8 lengths and 5 ways each comes with each.
var blocks = [8]int{64, 32, 0, 1, 2, 7, 33, 21}

// block is the longest one, hows how many ways to run one there are.
const block, hows = 64, 5

// What how means.
const (
	planar = iota
	inFirst
	frames
	inLast
	frames32
)

// The input is white noise of half of full scale and a step that turns back every
// turn samples, nearly as large: low corners need something low. Its numbers have
// 16 bits, so that every format and the converters' integers have the same ones.
const (
	fullInput  = 1 << 15
	noiseSize  = 1 << 14
	noiseShift = 17
	stepSize   = 15000
	turn       = 1024
)

// A run begins with a burst of the highest frequency, the coefficients of (1 - z⁻¹)¹⁶, which have
// nothing low: what is left of it behind low-passes is as small as their numerators, and so are its
// errors. There numerators are seen that noise and step bury under the round-off of what is low. Its
// first sample comes where the fade of the start is no longer zero, and what it makes at an output
// without delay is the product of b0 and gains alone: the least of them is as large in it as the others.
// burstAt is where outputs are compared then, a way's so many samples later as it is late, each with a
// tolerance of its own; blocks that begin before the latest has it are planar, as integers have no such
// small numbers.
var burst = [24]int{0, 0, 0, 0, 1, -16, 120, -560, 1820, -4368, 8008, -11440, 12870, -11440, 8008, -4368, 1820, -560, 120, -16, 1}

var burstAt = [3]int{4, 13, 18}

// Outputs are compared with expected numbers in so many places of a run of n samples:
// n·j²/spread before its end, from its middle on, where it fades in as well as behind that.
// beyond is how long a run goes on when it has faded in, so that vectors come in; behind,
// what follows other fades: past a tick, and so short that a comparison falls into the fade.
const looks, spread, beyond, behind = 4, 18, 192, 48

// after is how long a channel is watched behind a reset of its own, or the end of its mute.
const after = 224

// shortest is how short a run may become where all of it takes too long.
const shortest = 200

// limit is how many instructions the whole may take, estimated from what one section, one
// with states of 64 bits, and one sample of an input or output take on a Cortex-M4. 10
// million are 0.1 s at 100 MHz.
const limit, ofSection, ofWide, ofSample = 9.5e6, 14.0, 24.0, 40.0

// little is what may be taken where more is only better.
const little = 2e6

// plan is what the test does; the C and the simulation both follow it.
type plan struct {
	channels, ways int
	ofSection      float64
	combinations   []biquad.Combination
	runs           int
	rates          []lengths
}

// lengths are those of a rate, in samples: of each run from a reset; of what follows a
// mute; and of a change of settings, 0 where none is tried.
type lengths struct {
	run, fade, change int
	late              []int // of each way, how late it hears
}

func (l lengths) latest() int { return slices.Max(l.late) }

// short are the shortest lengths with which every way is heard.
func (l lengths) short() lengths {
	return lengths{run: shortest + l.latest(), fade: shortest, late: l.late}
}

// combination is what channel k mod channels has in run k / channels.
func (p plan) combination(k int) biquad.Combination { return p.combinations[k%len(p.combinations)] }

// planned makes the plan for all rates of one format.
func planned(b *compiler.Build, made []compiler.Digital) plan {
	p := plan{channels: b.Spec.Digital.Channels, ways: len(made[0].System.Ways), ofSection: ofSection}
	if made[0].Format.Kernel.States[0].Type.Bytes > 4 {
		p.ofSection = ofWide
	}
	lowest := 0
	for i, d := range made {
		fade := number.FadeSamples(b.Spec.Digital.FadeS, d.RateHz)
		l := lengths{fade: fade + behind, late: number.Late(d.System, d.RateHz)[1:]}
		l.run = fade + beyond + l.latest()
		p.rates = append(p.rates, l)
		if d.RateHz < made[lowest].RateHz {
			lowest = i
		}
	}
	takes := p.choose(cover(b, made, true), made)
	if takes > limit {
		takes = p.choose(cover(b, made, false), made)
	}
	if takes > limit {
		takes = p.shorten(takes, made)
	} else {
		takes = p.lengthen(takes, made)
	}
	if len(p.combinations) < 2 {
		return p
	}
	d := made[lowest]
	change := number.SettleSamples(d.System) + number.FadeSamples(b.Spec.Digital.FadeS, d.RateHz) + behind
	if takes+float64(change+p.rates[lowest].latest())*p.each(d.System, true) <= limit {
		p.rates[lowest].change = change
	}
	return p
}

// choose takes combinations into the plan, and tells how many instructions all rates
// take without a change, about.
func (p *plan) choose(combinations []biquad.Combination, made []compiler.Digital) float64 {
	p.combinations, p.runs = combinations, (len(combinations)+p.channels-1)/p.channels
	return p.takes(made, p.rates)
}

// takes is how many instructions all rates take that are so long, about.
func (p *plan) takes(made []compiler.Digital, rates []lengths) float64 {
	sum := 0.0
	for i, d := range made {
		sum += float64(p.runs*rates[i].run+rates[i].fade+2*after) * float64(p.channels) * p.each(d.System, false)
	}
	return sum
}

// shorten makes a plan that takes too long as much shorter as it has to be, and tells what it takes then.
// Ways that are so late that all of it would be waiting for them are not waited for.
func (p *plan) shorten(takes float64, made []compiler.Digital) float64 {
	least := make([]lengths, len(p.rates))
	for i, r := range p.rates {
		least[i] = r.short()
	}
	if p.takes(made, least) > limit {
		for i, r := range least {
			least[i].run -= r.latest()
		}
	}
	shortest := p.takes(made, least)
	part := max(0, (limit-shortest)/(takes-shortest))
	for i, r := range p.rates {
		p.rates[i].run = least[i].run + int(part*float64(r.run-least[i].run))
		p.rates[i].fade = least[i].fade + int(part*float64(r.fade-least[i].fade))
	}
	return p.takes(made, p.rates)
}

// lengthen lets the step turn back in every run of a plan that takes little even so, and tells what it
// takes then: high-passes of the lowest corners are heard better.
func (p *plan) lengthen(takes float64, made []compiler.Digital) float64 {
	longer := slices.Clone(p.rates)
	for i, r := range longer {
		longer[i].run = max(r.run, turn+beyond)
	}
	if t := p.takes(made, longer); t <= little {
		p.rates, takes = longer, t
	}
	return takes
}

// unheard is whether a way is so late at some rate that no run waits for it.
func (p *plan) unheard() bool {
	return slices.ContainsFunc(p.rates, func(l lengths) bool { return l.latest()+len(burst) > l.run })
}

// each is what a sample of one channel takes; twice: during a change, with what the other
// channels take beside it.
func (p plan) each(s biquad.System[biquad.Digital], twice bool) float64 {
	sections, samples := running(s.Common.Slots), 1+p.ways
	for _, w := range s.Ways {
		sections += running(w.Slots)
	}
	if twice {
		samples *= 2
		for i, d := range number.DoubledOf(s) {
			slots := s.Common.Slots
			if i > 0 {
				slots = s.Ways[i-1].Slots
			}
			sections += running(slots[d.From:])
		}
	}
	return p.ofSection*float64(sections) + ofSample*float64(samples)
}

// running is how many positions change something, at least under some choice.
func running(slots []biquad.Slot[biquad.Digital]) int {
	n := 0
	for _, s := range slots {
		for _, r := range number.Rows(s) {
			if !r.Through() {
				n++
				break
			}
		}
	}
	return n
}

// cover is combinations of settings in which every choice is made and every
// alternative of every position runs that some combination picks. The first is the
// first choice of all settings. Each further one has, where alone is set, one choice or
// what one alternative takes, and the first of all else, so that no two sections always
// come together; otherwise it takes in what it can.
func cover(b *compiler.Build, made []compiler.Digital, alone bool) []biquad.Combination {
	c := &covering{alone: alone}
	for _, s := range b.Settings {
		c.chosen = append(c.chosen, make([]bool, len(s.Choices)))
	}
	c.take(make(biquad.Combination, len(b.Settings)))
	for _, d := range made {
		for _, cascade := range cascades(d) {
			for _, s := range cascade.Slots {
				for alt := range s.Alt {
					if picked := s.Choices(alt); len(picked) > 0 && !c.runs(s, alt) {
						c.take(c.with(s.By, picked[0]))
					}
				}
			}
		}
	}
	for i, of := range c.chosen {
		for k := range of {
			if !of[k] {
				c.take(c.with([]biquad.Axis{{Setting: i}}, []int{k}))
			}
		}
	}
	return c.taken
}

// covering is a cover in the making.
type covering struct {
	alone  bool
	taken  []biquad.Combination
	chosen [][]bool // of each setting's choices
}

func (c *covering) take(x biquad.Combination) {
	c.taken = append(c.taken, x)
	for i, k := range x {
		c.chosen[i][k] = true
	}
}

// runs reports whether a combination that was taken picks an alternative.
func (c *covering) runs(s biquad.Slot[biquad.Digital], alt int) bool {
	for _, x := range c.taken {
		if s.Index(x) == alt {
			return true
		}
	}
	return false
}

// with is the combination that has these choices; where they say nothing, the first one,
// or the first one that was not made yet.
func (c *covering) with(by []biquad.Axis, choices []int) biquad.Combination {
	x := make(biquad.Combination, len(c.chosen))
	for i, of := range c.chosen {
		for k, made := range of {
			if !made && !c.alone {
				x[i] = uint8(k)
				break
			}
		}
	}
	for i, axis := range by {
		x[axis.Setting] = uint8(choices[i])
	}
	return x
}

// cascades are the common one and the ways' in order.
func cascades(d compiler.Digital) []biquad.Cascade[biquad.Digital] {
	out := []biquad.Cascade[biquad.Digital]{d.System.Common}
	for _, w := range d.System.Ways {
		out = append(out, w.Cascade)
	}
	return out
}

// hertz is a rate as the header's init takes it.
func hertz(rateHz float64) uint64 { return uint64(math.Round(rateHz)) }
