package cheader

import (
	"bytes"
	_ "embed"
	"encoding/binary"
	"fmt"
	"math/rand"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/biquad/number"
	"bandwright/compiler"
)

var (
	//go:embed testdata/driver.c
	driverSource string
	//go:embed testdata/one.c
	oneSource string
)

// program is C source with the headers of every shape in one format, and what
// it must write for each shape's commands.
type program struct {
	format  number.Format
	headers map[string][]byte
	source  string
	trials  []trial
}

type trial struct {
	stem        string
	stdin, want []byte
}

// newProgram puts all shapes of one format together; different headers have to
// get on with each other in one translation unit.
func newProgram(t *testing.T, format number.Format) program {
	p := program{format: format, headers: map[string][]byte{}}
	var include, runs, calls strings.Builder
	for i, s := range shapes {
		b := s.build()
		var header []byte
		for _, f := range emit(t, b) {
			if f.Name == s.name+"_"+format.Name+".h" {
				header = f.Data
				p.headers[f.Name] = f.Data
				fmt.Fprintf(&include, "#include \"%s\"\n", f.Name)
			}
		}
		one := strings.NewReplacer("STEM", s.name, "UPPER", strings.ToUpper(s.name), "TYPE", format.C.Type.Name,
			"SCALE", fmt.Sprintf("%.1f", format.C.FullScale), "SETTINGS", s.setCases()).Replace(oneSource)
		runs.WriteString(one)
		fmt.Fprintf(&calls, "    if (strcmp(argv[1], \"%s\") == 0) {\n        return run_%s();\n    }\n", s.name, s.name)
		p.trials = append(p.trials, s.trial(b, format, header, int64(i)))
	}
	p.source = include.String() + driverSource + runs.String() +
		"\nint main(int argc, char **argv)\n{\n    if (argc != 2) {\n        return 1;\n    }\n" + calls.String() + "    return 1;\n}\n"
	return p
}

// setCases are the cases of the driver's switch, one a setting.
func (s shape) setCases() string {
	var out strings.Builder
	for i, set := range s.settings {
		ident := identifier(set.Name)
		fmt.Fprintf(&out, "            case %d:\n                write_word(%s_set_%s(&filters, channel, (enum %s_%s)command[3]));\n                break;\n", i, s.name, ident, s.name, ident)
	}
	return out.String()
}

// script collects commands and the answers that the simulation gives.
type script struct {
	s        shape
	in, want bytes.Buffer
	machines []*number.Machine
	chosen   []biquad.Combination
}

func (p *script) command(words ...int32) {
	var c [5]int32
	copy(c[:], words)
	_ = binary.Write(&p.in, binary.NativeEndian, c)
}

func (p *script) answer(code int32) { _ = binary.Write(&p.want, binary.NativeEndian, code) }

// samples are words, exchanged as doubles re full scale.
func samples(b *bytes.Buffer, x []float64) { _ = binary.Write(b, binary.NativeEndian, x) }

func (p *script) init(d compiler.Digital) {
	p.command(0, int32(d.RateHz))
	p.answer(0)
	p.machines, p.chosen = nil, nil
	choices := make([]int, len(p.s.settings))
	for i, set := range p.s.settings {
		choices[i] = len(set.Choices)
	}
	for range p.s.channels {
		p.machines = append(p.machines, d.Format.NewMachine(d.System, d.InputGain, d.RateHz, choices))
		p.chosen = append(p.chosen, make(biquad.Combination, len(choices)))
	}
}

func (p *script) set(channel, setting, choice int) {
	p.command(2, int32(channel), int32(setting), int32(choice))
	p.answer(0)
	p.chosen[channel][setting] = uint8(choice)
	if !p.machines[channel].Set(p.chosen[channel]) {
		panic("the simulation refuses a choice that exists")
	}
}

func (p *script) reset() {
	p.command(1)
	for _, m := range p.machines {
		m.Reset()
	}
}

func (p *script) run(channel int, x []float64, inPlace int) {
	p.command(3, int32(channel), int32(len(x)), int32(inPlace))
	samples(&p.in, x)
	p.answer(0)
	for _, y := range p.machines[channel].Run(x) {
		samples(&p.want, y)
	}
}

// blocks are lengths around the kernel's own block, and odd ones.
var blocks = []int{0, 1, 1, 2, 3, 5, 31, 32, 33, 64, 65, 100}

// trial exercises one shape at all of its rates.
func (s shape) trial(b *compiler.Build, format number.Format, header []byte, seed int64) trial {
	r := rand.New(rand.NewSource(seed))
	p := &script{s: s}
	_ = binary.Write(&p.want, binary.NativeEndian, statedBytes(header))

	// Nothing works before a rate that exists.
	p.command(0, 47999)
	p.answer(1)
	p.command(3, 0, 0, -1)
	p.answer(1)
	if len(s.settings) > 0 {
		p.command(2, 0, 0, 0)
		p.answer(1)
	}
	noise := func(n int) []float64 {
		x := make([]float64, n)
		for i := range x {
			x[i] = format.Round(float64(float32(2*r.Float64() - 1)))
		}
		return x
	}
	for _, d := range b.Digital {
		if d.Format.Name != format.Name {
			continue
		}
		p.init(d)
		// What does not exist is refused and changes nothing.
		for _, channel := range []int32{-1, int32(s.channels)} {
			p.command(3, channel, 0, -1)
			p.answer(1)
			if len(s.settings) > 0 {
				p.command(2, channel, 0, 1)
				p.answer(1)
			}
		}
		p.command(3, 0, -5, -1)
		p.answer(1)
		for i, set := range s.settings {
			for _, bad := range []int32{-1, int32(len(set.Choices)), 256} {
				p.command(2, 0, int32(i), bad)
				p.answer(1)
			}
		}
		// An impulse through every choice from a reset.
		for channel := range s.channels {
			impulse := make([]float64, 300)
			impulse[0] = 0.5 // a word of every format
			p.run(channel, impulse, -1)
			for i, set := range s.settings {
				for choice := range set.Choices {
					p.reset()
					p.set(channel, i, choice)
					p.run(channel, impulse, 0)
				}
			}
		}
		// Noise in blocks, in place or not, with switches between them.
		for step := range 60 {
			channel := r.Intn(s.channels)
			if len(s.settings) > 0 && step%2 == 1 {
				for range 1 + r.Intn(2) {
					i := r.Intn(len(s.settings))
					p.set(channel, i, r.Intn(len(s.settings[i].Choices)))
				}
			}
			if step == 40 {
				p.reset()
			}
			p.run(channel, noise(blocks[r.Intn(len(blocks))]), r.Intn(s.ways+1)-1)
		}
		for channel := range s.channels {
			p.run(channel, noise(500), -1)
		}
	}
	return trial{s.name, p.in.Bytes(), p.want.Bytes()}
}

var stateSize = regexp.MustCompile(`The[\s*]+state[\s*]+takes[\s*]+(\d+)[\s*]+bytes`)

// statedBytes is the size that the header's comment states.
func statedBytes(header []byte) int32 {
	m := stateSize.FindSubmatch(header)
	if m == nil {
		return -1
	}
	n, _ := strconv.Atoi(string(m[1]))
	return int32(n)
}
