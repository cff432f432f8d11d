package cheader

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"bandwright/biquad"
	"bandwright/biquad/number"
	"bandwright/compiler"
	"bandwright/compiler/language"
)

// header is everything that the template prints, as text wherever it is text.
type header struct {
	kernel
	File, FormatUpper string
	SHA256            string
	Title             []string
	Channels          int

	WaysInWords                                        string
	WayLines, Meaning, UseLines, CallLines, LevelLines []string

	Ways     []string // enumerators
	wayNames []string
	Settings []setting
	Rates    []rate

	tables
}

type setting struct {
	name, Ident, Comment string
	Choices              []choice
}

type choice struct{ text, Name, Pad, Comment string }

// textWidth is the columns of the top comment behind " * ", proseWidth those of
// its sentences that hold nothing of the spec.
const textWidth, proseWidth = 92, 93

func newHeader(b *compiler.Build, made []compiler.Digital) (*header, error) {
	f := made[0].Format
	h := &header{
		kernel:      kernel{Format: f, Stem: b.Spec.Name, Upper: strings.ToUpper(b.Spec.Name)},
		FormatUpper: strings.ToUpper(f.Name),
		File:        b.Spec.Name + "_" + f.Name + ".h",
		SHA256:      b.SHA256,
		Channels:    b.Spec.Digital.Channels,
	}
	h.Title = wrap(comment(b.Spec.Title), textWidth)
	if r := comment(b.Spec.Revision); r != "" {
		h.Title = append(h.Title, wrap("Revision "+r, textWidth)...)
	}
	h.addSettings(b)
	for _, w := range made[0].System.Ways {
		h.wayNames = append(h.wayNames, w.Name)
		h.Ways = append(h.Ways, h.Upper+"_WAY_"+language.EnumName(w.Name))
	}
	if err := h.check(); err != nil {
		return nil, err
	}
	if err := h.addTables(b, made); err != nil {
		return nil, err
	}
	h.describe(made)
	return h, nil
}

func (h *header) addSettings(b *compiler.Build) {
	for _, s := range b.Settings {
		out := setting{name: s.Name, Ident: identifier(s.Name), Comment: comment(s.Name)}
		widest := 0
		for _, c := range s.Choices {
			name := h.Upper + "_" + language.EnumName(s.Name) + "_" + language.EnumName(c)
			out.Choices = append(out.Choices, choice{text: c, Name: name, Comment: comment(c)})
			widest = max(widest, len(name))
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
		{fmt.Sprintf("static %s_state filters;", h.Stem), "all the memory there is"},
		{fmt.Sprintf("%s_init(&filters, %s);", h.Stem, rates[0]), "the rate in Hz: " + orList(rates)},
	}
	for _, s := range h.Settings {
		use = append(use, [2]string{fmt.Sprintf("%s_set_%s(&filters, channel, %s);", h.Stem, s.Ident, s.Choices[0].Name), ""})
	}
	use = append(use,
		[2]string{fmt.Sprintf("%s_run(&filters, channel, in, out, n);", h.Stem), channels},
		[2]string{fmt.Sprintf("%s_reset(&filters);", h.Stem), "silence in every state and delay"})
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
		line := fmt.Sprintf("out[%s]: %s, %s dB, %s", h.Ways[i], comment(name),
			decibels(made[0].System.Ways[i].Gain), polarity)
		var delays, counts []string
		for _, d := range made {
			c := d.System.Ways[i].Cascade
			counts = append(counts, strconv.Itoa(len(c.Slots)))
			if n := number.DelaySamples(c, d.RateHz); n > 0 {
				delays = append(delays, fmt.Sprintf("%d at %.0f Hz", n, d.RateHz))
			}
		}
		line += ", sections: " + onlyOr(counts)
		if len(delays) > 0 {
			line += ", samples of delay: " + strings.Join(delays, ", ")
		}
		for i, l := range wrap(line, textWidth-4) {
			h.WayLines = append(h.WayLines, strings.Repeat("  ", min(i, 1))+l)
		}
	}
	level := "The input is not attenuated: what the filters boost above full scale leaves them above full scale."
	if g := made[0].InputGain; g != 1 {
		db := decibels(1 / g)
		level = fmt.Sprintf("The input is attenuated by %s dB (times %s), the headroom for what the filters boost. "+
			"Give it back behind the converters: %s dB of make-up gain.", db, strconv.FormatFloat(g, 'g', 6, 64), db)
	}
	h.LevelLines = wrap(level+" "+h.C.Overflow, textWidth)
	h.Meaning = wrap(h.C.Meaning+" Nothing here is meant to be edited: change the spec instead.", proseWidth)
	h.CallLines = wrap(fmt.Sprintf("n is any number of samples from 0 up; splitting them into blocks in another way does not change "+
		"a bit. in may be the same array as one of out. %s Different state structs may be used at the same time. Calls on one struct "+
		"may not interrupt each other: a set call from the main loop has to wait while run works in an interrupt. "+
		"The state takes %d bytes.", h.C.Samples, h.stateBytes()), proseWidth)
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

// orList is "1", "1 or 2", "1, 2 or 3".
func orList(s []string) string {
	if len(s) == 1 {
		return s[0]
	}
	return strings.Join(s[:len(s)-1], ", ") + " or " + s[len(s)-1]
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

// stateBytes is the size of the state struct with the usual alignment: every
// number at a multiple of its own size.
func (h *header) stateBytes() int {
	size, widest := 0, 1
	add := func(each, count int) {
		if count == 0 {
			return
		}
		size = (size+each-1)/each*each + each*count
		widest = max(widest, each)
	}
	for _, s := range h.Kernel.States {
		add(s.Type.Bytes, h.Positions)
	}
	if len(h.Settings) > 0 {
		add(h.C.Type.Bytes, 2*h.Switched)
	}
	if h.DelayWords > 0 {
		add(h.C.Type.Bytes, h.DelayWords)
		add(4, 1+len(h.Ways))
	}
	if len(h.Settings) > 0 {
		add(h.index.Bytes, h.Positions)
		add(1, len(h.Settings)+2)
	}
	channel := (size + widest - 1) / widest * widest
	widest = max(widest, 4)
	total := channel*h.Channels + 4
	return (total + widest - 1) / widest * widest
}

// wholeHz is a rate as the header's init takes it.
func wholeHz(rateHz float64) uint64 { return uint64(math.Round(rateHz)) }
