// Package selfcheck prints NAME_FORMAT_selftest.c, one a number format: a program's own
// proof, on the machine that will run it, that the filters compute there what the
// compiler's simulation does. A finished Build comes in, files go out. The one
// invariant: every expected number comes from the bit-true simulation, playing the
// same plan as the C does.
//
// Read first: tables.c.tmpl and selftest.c.tmpl, then plan.go; play.go is the C's twin.
package selfcheck

import (
	"bytes"
	_ "embed"
	"fmt"
	"math"
	"strconv"
	"strings"
	"text/template"

	"bandwright/biquad/number"
	"bandwright/compiler"
	"bandwright/compiler/cname"
	"bandwright/compiler/parallel"
)

// What the file says and expects, and what it does.
//
//go:embed tables.c.tmpl
var tables string

//go:embed selftest.c.tmpl
var source string

var page = template.Must(template.New("selftest.c").Parse(tables + source))

// Emit makes the self-test of every number format that the spec asked for, in the
// order of number.Formats.
func Emit(b *compiler.Build) ([]compiler.File, error) {
	var made [][]compiler.Digital
	for _, f := range number.Formats {
		var of []compiler.Digital
		for _, d := range b.Digital {
			if d.Asked && d.Format.Name == f.Name {
				d.System = number.Arranged(d.System)
				of = append(of, d)
			}
		}
		if len(of) > 0 {
			made = append(made, of)
		}
	}
	files := make([]compiler.File, len(made))
	err := parallel.Try(len(made), func(i int) (err error) {
		files[i], err = emit(b, made[i])
		return err
	})
	return files, err
}

// test is what the template prints.
type test struct {
	Stem, Upper, File, Format, SHA256, Precision string
	Type                                         number.CType
	Exact                                        bool   // of integers: nothing is left to compilers
	Unit                                         string // a sample of 1/32768, as a C number
	None                                         string // the bits of what is no number; "" where all words are numbers
	Settings                                     []cname.Setting
	Runs                                         int
	Choices                                      []string // of each run and channel
	Rates                                        []rate
	Covers                                       []string
	Bytes                                        int
	Changes                                      bool // at some rate settings change while it runs

	Block, Looks, Spread, After int
	Blocks                      string
	// Of the input.
	Turn, Step, Shift, Noise int
	Burst, BurstAt           string
}

// Bits are those of a word, Sizes how many lengths of blocks there are, BurstLength the samples of a
// burst and BurstLooks the comparisons in it.
func (t *test) Bits() int  { return 8 * t.Type.Bytes }
func (t *test) Sizes() int { return len(blocks) }

func (t *test) BurstLength() int { return len(burst) }

func (t *test) BurstLooks() int { return len(burstAt) }

// rate is the table's row of a rate.
type rate struct {
	Hz                uint64
	Run, Fade, Change int
	Hash              string
	Within            string // how near each way's outputs have to be
	Late              string // in samples, each way
	Latest            int
	Count             int
	Expected          []string
}

// emit makes one file.
func emit(b *compiler.Build, made []compiler.Digital) (compiler.File, error) {
	f := made[0].Format
	var ways []string
	for _, w := range made[0].System.Ways {
		ways = append(ways, w.Name)
	}
	n := cname.New(b.Spec.Name, b.Settings, ways)
	t := &test{
		Stem: n.Stem, Upper: n.Upper, File: b.Spec.Name + "_" + f.Name, Format: f.Name, SHA256: b.SHA256, Settings: n.Settings,
		Precision: f.C.Precision, Type: f.C.Type,
		Unit:  fmt.Sprintf("(%s)%s", f.C.Type.Name, strconv.FormatFloat(f.C.FullScale/fullInput, 'g', -1, 64)),
		Block: block, Looks: looks, Spread: spread, After: after, Blocks: listed(blocks[:]),
		Turn: turn, Step: stepSize, Shift: noiseShift, Noise: noiseSize,
		Burst: listed(burst[:]), BurstAt: listed(burstAt[:]),
	}
	t.Exact = f.C.Size.Name == ""
	if !t.Exact {
		t.None = fmt.Sprintf("0x%xu", f.C.Bits(math.NaN()))
		if f.C.Type.Bytes > 4 {
			t.None = fmt.Sprintf("UINT64_C(0x%x)", f.C.Bits(math.NaN()))
		}
	}
	p := planned(b, made)
	t.Runs = p.runs
	for k := range p.runs * p.channels {
		t.Choices = append(t.Choices, "{ "+listed(p.combination(k))+" }")
	}
	for i, d := range made {
		t.Rates = append(t.Rates, p.play(b, d, p.rates[i]).row(d, p.rates[i]))
	}
	t.describe(p, made)
	var text bytes.Buffer
	if err := page.Execute(&text, t); err != nil {
		return compiler.File{}, fmt.Errorf("%s_selftest.c: %w", t.File, err)
	}
	return compiler.File{Name: t.File + "_selftest.c", Data: n.Settle(text.Bytes())[0]}, nil
}

// describe says in the file what is tried and what that takes.
func (t *test) describe(p plan, made []compiler.Digital) {
	var rates []string
	for _, d := range made {
		rates = append(rates, fmt.Sprintf("%.0f", d.RateHz))
	}
	text := fmt.Sprintf("all outputs at %s Hz; blocks of %s samples and what is left at the end; run in and out of place, run_frames "+
		"and run_frames_int32; init, change of rate and resets; mute and its end; calls that have to be refused", strings.Join(rates, ", "), listed(blocks[:]))
	if p.unheard() {
		text += "; not what is behind delays that are longer than a run"
	}
	if t.None != "" {
		text += "; a sample that is no number, and what follows the reset"
	}
	if len(t.Settings) > 0 {
		text += "; every choice, and every section that choices pick"
		changed := "; no change of settings while a channel runs: its sections settle too long for that"
		for i, r := range p.rates {
			if r.change > 0 {
				t.Changes = true
				changed = fmt.Sprintf("; a change of settings while a channel runs, at %s Hz", rates[i])
			}
		}
		text += changed
	}
	t.Bytes = block * max(4, t.Type.Bytes) * p.channels * (1 + p.ways)
	t.Covers = wrap(text+".", commentWidth)
}

// commentWidth is the columns of a comment's sentences behind " * ", codeWidth those
// of a line of numbers behind its blanks.
const commentWidth, codeWidth = 93, 92

// wrap breaks text into lines of at most width characters.
func wrap(s string, width int) []string {
	var lines []string
	for _, word := range strings.Fields(s) {
		if n := len(lines); n > 0 && len(lines[n-1])+1+len(word) <= width {
			lines[n-1] += " " + word
			continue
		}
		lines = append(lines, word)
	}
	return lines
}

// listed are numbers with commas between them.
func listed[T int | uint8](of []T) string {
	var text []string
	for _, v := range of {
		text = append(text, fmt.Sprint(v))
	}
	return strings.Join(text, ", ")
}

// word is a number as C reads it as a sample of the format.
func (x *player) word(v float64) string {
	bits, suffix := 32, "f"
	if x.format.C.Type.Bytes > 4 {
		bits, suffix = 64, ""
	}
	s := strconv.FormatFloat(v+0, 'g', -1, bits) // never -0
	if !strings.ContainsAny(s, ".e") {
		s += ".0"
	}
	return s + suffix
}
