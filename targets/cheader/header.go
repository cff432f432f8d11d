package cheader

import (
	"cmp"
	"crypto/sha256"
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"

	"bandwright/biquad"
	"bandwright/biquad/number"
	"bandwright/compiler"
	"bandwright/compiler/cname"
	"bandwright/compiler/words"
)

// header is everything that the template prints, as text wherever it is text.
type header struct {
	kernel
	File, FormatUpper string
	SHA256            string
	Title             []string
	Channels          int

	// Ready and Check are what init leaves in a state: words of their own for every
	// spec and format.
	Ready, Check string

	WaysInWords                                                      string
	WayLines, Meaning, UseLines, CallLines, ContextLines, LevelLines []string
	SettingLines, SilenceLines                                       []string

	Ways     []string // enumerators
	wayNames []string
	hertz    []uint64 // the sampling rates
	names    *cname.Names
	Settings []setting

	tables
}

type setting struct {
	name, Ident, Comment string
	Count                string // the macro that is how many choices there are
	Room                 int    // bytes for the longest choice's name, with what ends it
	Choices              []choice
}

type choice struct{ text, Name, Pad, Comment, Text string }

// textWidth is the columns of the top comment behind " * ", proseWidth those of
// its sentences that hold nothing of the spec.
const textWidth, proseWidth = 92, 93

func newHeader(b *compiler.Build, made []compiler.Digital) (*header, error) {
	h := named(b, made)
	if err := h.collision(); err != nil {
		return nil, err
	}
	if err := h.addTables(b, made); err != nil {
		return nil, err
	}
	h.describe(made)
	return h, nil
}

// named is a header that has its names and what stands at its top, and no tables.
func named(b *compiler.Build, made []compiler.Digital) *header {
	f := made[0].Format
	var ways []string
	for _, w := range made[0].System.Ways {
		ways = append(ways, w.Name)
	}
	n := cname.New(b.Spec.Name, b.Settings, ways)
	h := &header{
		kernel:      kernel{Format: f, Stem: n.Stem, Upper: n.Upper},
		FormatUpper: strings.ToUpper(f.Name),
		File:        b.Spec.Name + "_" + f.Name,
		SHA256:      b.SHA256,
		Channels:    b.Spec.Digital.Channels,
		Ways:        n.Ways,
		wayNames:    ways,
		names:       n,
	}
	for _, d := range made {
		h.hertz = append(h.hertz, wholeHz(d.RateHz))
	}
	h.Ready, h.Check = readyWord(b.SHA256, f.Name+" ready"), readyWord(b.SHA256, f.Name+" check")
	h.Title = wrap(words.Comment(b.Spec.Title), textWidth)
	if r := words.Comment(b.Spec.Revision); r != "" {
		h.Title = append(h.Title, wrap("Revision "+r, textWidth)...)
	}
	h.addSettings(b)
	return h
}

// SmallCounts reports whether one of the counts that the code adds or multiplies with leaves all as it is.
func (h *header) SmallCounts() bool {
	return h.Channels == 1 || len(h.Ways) == 1 || len(h.Settings) == 0
}

func (h *header) addSettings(b *compiler.Build) {
	for i, s := range b.Settings {
		called := h.names.Settings[i]
		out := setting{name: s.Name, Ident: called.Ident, Count: called.Count, Comment: words.Comment(s.Name)}
		widest := 0
		for j, c := range s.Choices {
			name := called.Choices[j]
			out.Choices = append(out.Choices, choice{text: c, Name: name, Comment: words.Comment(c), Text: quoted(c)})
			widest, out.Room = max(widest, len(name)), max(out.Room, len(c)+1)
		}
		for i := range out.Choices {
			out.Choices[i].Pad = strings.Repeat(" ", widest-len(out.Choices[i].Name))
		}
		h.Settings = append(h.Settings, out)
	}
}

// describe writes what the top comment says of rates, ways and levels.
func (h *header) describe(made []compiler.Digital) {
	var rates []string
	for _, r := range h.Rates {
		rates = append(rates, strconv.FormatUint(r.Hz, 10))
	}
	channels := "channel 0"
	if h.Channels > 1 {
		channels = fmt.Sprintf("channel 0 to %d", h.Channels-1)
	}
	use := [][2]string{
		{fmt.Sprintf("static %s_state filters;", h.Stem), "all the memory that is used"},
		{fmt.Sprintf("%s_init(&filters, %s);", h.Stem, rates[0]), "the rate in Hz: " + words.OrList(rates)},
		{fmt.Sprintf("%s_run(&filters, in, out, n);", h.Stem), "n samples of every channel"},
	}
	for _, s := range h.Settings {
		use = append(use, [2]string{fmt.Sprintf("%s_set_%s(&filters, channel, %s);", h.Stem, s.Ident, s.Choices[0].Name), ""})
	}
	use = append(use,
		[2]string{fmt.Sprintf("%s_mute(&filters, channel, 1);", h.Stem), channels},
		[2]string{fmt.Sprintf("%s_reset(&filters);", h.Stem), "clears every state and delay"})
	widest := 0
	for _, u := range use {
		if u[1] != "" {
			widest = max(widest, len(u[0]))
		}
	}
	for _, u := range use {
		h.UseLines = append(h.UseLines, strings.TrimRight(fmt.Sprintf("%-*s   %s", widest, u[0], u[1]), " "))
	}
	h.WaysInWords = fmt.Sprintf("%d ways", len(h.Ways))
	if len(h.Ways) == 1 {
		h.WaysInWords = "1 way"
	}
	for i, name := range h.wayNames {
		polarity := "normal polarity"
		if made[0].System.Ways[i].Polarity < 0 {
			polarity = "inverted polarity"
		}
		var delays, counts, gains []string
		for _, d := range made {
			c := d.System.Ways[i].Cascade
			gains = append(gains, decibels(c.Gain)+" dB")
			counts = append(counts, strconv.Itoa(len(c.Slots)))
			if n := number.DelaySamples(c, d.RateHz); n > 0 {
				delays = append(delays, fmt.Sprintf("%d at %.0f Hz", n, d.RateHz))
			}
		}
		line := fmt.Sprintf("out[%s]: %s, %s, %s, sections: %s", h.Ways[i], words.Comment(name), onlyOr(gains), polarity, onlyOr(counts))
		if len(delays) > 0 {
			line += ", samples of delay: " + strings.Join(delays, ", ")
		}
		for i, l := range wrap(line, textWidth-4) {
			h.WayLines = append(h.WayLines, strings.Repeat("  ", min(i, 1))+l)
		}
	}
	level := "The input is not attenuated: boosts can raise the outputs above full scale."
	if g := made[0].InputGain; g != 1 {
		db := decibels(1 / g)
		level = fmt.Sprintf("The input is attenuated by %s dB (times %s), headroom for the filters' boosts. "+
			"Add %s dB of make-up gain after the converters.", db, strconv.FormatFloat(g, 'g', 6, 64), db)
	}
	h.LevelLines = wrap(level+" "+h.C.Overflow+h.aboutDither(made), textWidth)
	h.Meaning = wrap(h.C.Meaning+" Do not edit this file: change the spec instead.", proseWidth)
	h.CallLines = wrap(fmt.Sprintf("n is any number of samples from 0 up; the output does not depend on the "+
		"block size. %s The state takes %d bytes, the arrays on the stack %d in run and %d in run_frames.%s",
		h.C.Samples, h.stateBytes(false), h.stackBytes(), h.stackBytes()+h.C.Type.Bytes*number.Tick*(1+len(h.Ways)), h.lanesStack()), proseWidth)
	if h.OneByOne() {
		h.CallLines = append(h.CallLines, wrap(fmt.Sprintf("Single samples have code of their own. To do without, define %s_NO_SINGLES where %s.c is compiled: "+
			"they go as blocks of one then, with the same bits in more time.", h.Upper, h.File), proseWidth)...)
	}
	h.addContexts()
	h.addChanges(made)
}

// aboutDither tells what it is, how it is made and what it costs.
func (h *header) aboutDither(made []compiler.Digital) string {
	if h.Dither == 0 {
		return ""
	}
	var noise []string
	for _, d := range made {
		_, _, all, _ := d.Dither()
		noise = append(noise, words.Level(all, "dBFS"))
	}
	return fmt.Sprintf(" Outputs are rounded to their first %d bits with triangular dither: in front of the rounding the first %d bits of a "+
		"word are added and its last %d subtracted, in units of the 32nd bit. Each output has a word of its own, every sample the next one: "+
		"w ^= w << 13, w ^= w >> 17, w ^= w << 5 (xorshift, period 2^32 - 1); after init and every reset it begins at %s * (1 + "+
		"channel * %s_WAYS + way). What is rounded off then is noise whatever the signal, %s from 20 Hz to 20 kHz, also in silence; a "+
		"muted output is zero.", h.Dither, 32-h.Dither, 32-h.Dither, h.SeedStep(), h.Upper, onlyOr(noise))
}

// lanesStack tells of the stack of lanes.
func (h *header) lanesStack() string {
	if !h.Lanes() {
		return ""
	}
	bytes := laneBlock*(h.LaneBytes()+h.C.Type.Bytes) + (laneBlock+h.History())*h.C.Type.Bytes*h.Channels
	if h.Late() {
		bytes += h.LaneCount() * laneBlock * h.C.Type.Bytes
	}
	return fmt.Sprintf(" Where the compiler has vectors (x86-64, AArch64), run works on several ways at once: the state "+
		"takes %d bytes there, and run's arrays %d. To do without, define %s_NO_LANES in every file that includes this.",
		h.stateBytes(true), bytes, h.Upper)
}

// addContexts says what holds where calls come from an interrupt and the main
// loop, or from threads.
func (h *header) addContexts() {
	asking := "mute"
	if len(h.Settings) > 0 {
		asking = "A set call and mute"
		h.ContextLines = wrap("Different state structs may be used at the same time.", proseWidth)
	}
	h.ContextLines = wrap(fmt.Sprintf("Different state structs may be used at the same time. On one struct: %s may come from "+
		"anywhere at any time, from the main loop while run works in an interrupt, or the other way round, without masking: each writes one "+
		"byte, which run reads when it looks for changes. What tells something may come from anywhere, too. All other calls (run, "+
		"init, set_rate, the resets) must not begin before another one of them has returned: mask the interrupt around them where "+
		"run is called there. Threads on several processor cores need a lock, or a fence that makes the byte visible.", asking), proseWidth)
}

// addChanges says how settings, mutes and starts are faded, what becomes of
// silence and of garbage.
func (h *header) addChanges(made []compiler.Digital) {
	var settle, fade []string
	for i, r := range h.Rates {
		ms := func(samples int) string { return strconv.FormatFloat(float64(samples)*1000/made[i].RateHz, 'f', 0, 64) }
		settle, fade = append(settle, ms(r.Settle)), append(fade, ms(r.Fade))
	}
	if h.Then > 0 {
		h.SettingLines = wrap(fmt.Sprintf("A set call may come at any time. Within %d samples the sections with the new choice begin to run beside "+
			"the old ones. They settle unheard for %s ms, then the outputs fade over to them in %s ms. A call during that waits "+
			"until it is over; of several the last counts. For a steady tone no output is louder during a change than before or "+
			"after it. While a change lasts, up to %d sections of a channel run besides its own. To set the choice that is set already costs nothing.",
			number.Tick, onlyOr(settle), onlyOr(fade), h.Then), proseWidth)
	} else {
		h.SettingLines = wrap("No setting changes anything at these rates.", proseWidth)
	}
	text := fmt.Sprintf("After init and after a reset the outputs fade in within %s ms, and so they do where a mute ends. ", onlyOr(fade))
	if h.GuardBits > 0 {
		text += "When the input falls silent, every section comes to zero, or to a few of its last bits where rounding keeps them " +
			"alive. Every word is a sample: there is no garbage."
	} else {
		text += "When the input falls silent, every section comes to an exact zero, whatever the processor: numbers " +
			"below the least normal one, which slow some down, come up for a moment at most. "
	}
	if h.C.Size.Name != "" {
		text += "An input that is no number (a NaN, an infinity) or is beyond 2^64 times full scale mutes its channel at " +
			"once and until it is reset; " + h.Stem + "_garbage tells."
	}
	h.SilenceLines = wrap(text, proseWidth)
}

// bytesOf are the sizes of C's types that numbers of the state have.
var bytesOf = map[string]int{"unsigned char": 1, "int16_t": 2, "uint16_t": 2, "int32_t": 4, "uint32_t": 4}

// stackBytes are the arrays of run.
func (h *header) stackBytes() int {
	blocks, list := 1, 0
	if h.Whole {
		blocks = 2
	}
	if h.Then > 0 {
		blocks++
		list = (h.Switches + 1) * h.index.Bytes
	}
	return (blocks*number.Tick+h.History())*h.C.Type.Bytes + list
}

// What the templates ask for.
func (h *header) Tick() int { return number.Tick }

// Four is for a loop of as many samples at once.
func (h *header) Four() []int      { return make([]int, 4) }
func (h *header) LongestPass() int { return slices.Max(slices.Collect(maps.Values(h.longest))) }

// History is how many samples of the blocks before stand in front of one: of all delays, or where the longest
// is longer than a block, of one less than a block has. Late reports that.
func (h *header) History() int { return min(h.DelayWords, h.longestBlock()-1) }
func (h *header) Late() bool   { return h.DelayWords > h.History() }

func (h *header) longestBlock() int {
	if h.Lanes() {
		return laneBlock
	}
	return number.Tick
}

func (h *header) Rest() int       { return number.RestEvery }
func (h *header) Garbage() string { return fmt.Sprintf("0x%x", h.C.Garbage<<1) }
func (h *header) Full() string    { return fmt.Sprintf("0x%xu", h.longestRun()<<h.CountShift()) }

// Tiny is the size below which a state counts as none, TinyBelow the same with a minus.
func (k kernel) Tiny(s number.Variable) string      { return k.Literal(cmp.Or(s.Still, k.C.Tiny)) }
func (k kernel) TinyBelow(s number.Variable) string { return k.Literal(-cmp.Or(s.Still, k.C.Tiny)) }

// IsTiny is C's condition that state s of section k of m counts as none: where sizes are told apart by
// bits, by those of the bound, which is a power of two.
func (k kernel) IsTiny(s number.Variable) string {
	bound, state := cmp.Or(s.Still, k.C.Tiny), "m[k]."+s.Name
	if behind := 8*k.C.Type.Bytes - 32; k.C.Size.Name != "" && behind >= 0 && k.C.Bits(bound)&(1<<behind-1) == 0 {
		return fmt.Sprintf("(%s << 1) < 0x%xu", k.call(k.C.Size.Name, state), k.C.Bits(bound)>>behind<<1)
	}
	return fmt.Sprintf("%s < %s && %s > %s", state, k.Tiny(s), state, k.TinyBelow(s))
}

// frames is how samples of 32 bits become those of a block and back, where they
// stand side by side.
type frames struct{ From, To string }

// Frames is that of the format.
func (h *header) Frames() frames {
	return frames{h.call(h.C.FromInt32.Name, "f->in32[at]"), h.call(h.C.ToInt32.Name, "f->to[w][i]")}
}

// LaneFrames is that where ways are lanes.
func (h *header) LaneFrames() frames {
	return frames{h.call(h.C.FromInt32.Name, "f->in32[k]"), h.call(h.C.ToInt32.Name, "x[i].one[l]")}
}

// readyWord is 32 bits of a hash, in hexadecimal. Memory that was filled with one
// byte does not hold it.
func readyWord(spec, format string) string {
	sum := sha256.Sum256([]byte(spec + " " + format))
	for at := 0; ; at++ {
		if w := sum[at : at+4]; w[0] != w[1] || w[1] != w[2] || w[2] != w[3] {
			return fmt.Sprintf("0x%x", w)
		}
	}
}

// decibels is a gain's level to a thousandth of a decibel, without "-0".
func decibels(gain float64) string {
	s := strconv.FormatFloat(biquad.GainDB(gain), 'f', 3, 64)
	s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	if s == "-0" {
		return "0"
	}
	return s
}

// onlyOr is the one value where all are the same, otherwise all of them in the
// order of the rates.
func onlyOr(s []string) string {
	for _, v := range s {
		if v != s[0] {
			return strings.Join(s, ", ") + " (by rate)"
		}
	}
	return s[0]
}

// stateBytes is the size of the state struct, with lanes or without, with the usual alignment: every
// number at a multiple of its own size.
func (h *header) stateBytes(lanes bool) int {
	size, widest := 0, 1
	add := func(each, count int) {
		if count == 0 {
			return
		}
		size = (size+each-1)/each*each + each*count
		widest = max(widest, each)
	}
	for _, s := range h.States() {
		widest = max(widest, s.Type.Bytes)
	}
	size += h.memoryBytes() * (h.Positions + h.Then)
	if h.DelayWords > 0 {
		add(h.C.Type.Bytes, h.DelayWords)
	}
	if h.Dithers() {
		add(h.Kernel.Seed.Type.Bytes, len(h.Ways))
	}
	if h.Then > 0 {
		add(h.index.Bytes, h.Switches+1+len(h.Ways))
	}
	add(bytesOf[h.Counter()], 1+min(h.Then, 1))
	if h.DelayWords > 0 {
		add(bytesOf[h.Delays()], 1)
	}
	add(1, 4)
	if h.Then > 0 {
		add(1, len(h.Settings))
	}
	channel := (size + widest - 1) / widest * widest
	widest = max(widest, 4)
	total := channel*h.Channels + 4*4 + h.Channels*(len(h.Settings)+1) // ready, check, rate, count and asked
	if lanes {
		const laned, at = 1, 1
		total = (total+laned+at+h.C.Type.Bytes-1)/h.C.Type.Bytes*h.C.Type.Bytes + h.LaneWords()*h.C.Type.Bytes
	}
	return (total + widest - 1) / widest * widest
}

// memoryBytes is what C makes of what a section remembers: a multiple of its widest number.
func (h *header) memoryBytes() int {
	size, widest := 0, 1
	for _, s := range h.States() {
		size += s.Type.Bytes
		widest = max(widest, s.Type.Bytes)
	}
	return (size + widest - 1) / widest * widest
}

// wholeHz is a rate as the header's init takes it.
func wholeHz(rateHz float64) uint64 { return uint64(math.Round(rateHz)) }
