package cheader

import (
	"bytes"
	_ "embed"
	"encoding/binary"
	"fmt"
	"math"
	"math/rand"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
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

// programs are those of a format and some shapes, made once.
var programs sync.Map // string → func() program

// simulated are the trials of a format and a shape, made once: programs share them.
var simulated sync.Map // string → func() trial

// newProgram puts all shapes of one format together; different headers have to
// get on with each other in one translation unit.
func newProgram(t *testing.T, format number.Format) program {
	return programOf(t, format, shapes)
}

// programOf puts some shapes together.
func programOf(t *testing.T, format number.Format, some []shape) program {
	key := format.Name
	for _, s := range some {
		key += " " + s.name
	}
	once, _ := programs.LoadOrStore(key, sync.OnceValue(func() program { return makeProgram(t, format, some) }))
	return once.(func() program)()
}

func makeProgram(t *testing.T, format number.Format, shapes []shape) program {
	p := program{format: format, headers: map[string][]byte{}}
	var include, runs, calls strings.Builder
	for _, s := range shapes {
		b := s.build()
		var header []byte
		for _, f := range emit(t, b) {
			switch f.Name {
			case s.name + "_" + format.Name + ".h":
				header = f.Data
			case s.name + "_" + format.Name + ".c":
				fmt.Fprintf(&include, "#include \"%s\"\n", f.Name)
			default:
				continue
			}
			p.headers[f.Name] = f.Data
		}
		one := strings.NewReplacer("STEM", s.name, "UPPER", strings.ToUpper(s.name), "TYPE", format.C.Type.Name,
			"SCALE", fmt.Sprintf("%.1f", format.C.FullScale), "SETTINGS", s.setCases()).Replace(oneSource)
		runs.WriteString(one)
		fmt.Fprintf(&calls, "    if (strcmp(argv[1], \"%s\") == 0) {\n        return run_%s();\n    }\n", s.name, s.name)
		once, _ := simulated.LoadOrStore(format.Name+" "+s.name, sync.OnceValue(func() trial { return s.trial(b, format, header, s.seed-1) }))
		p.trials = append(p.trials, once.(func() trial)())
	}
	p.source = include.String() + driverSource + runs.String() +
		"\nint main(int argc, char **argv)\n{\n    if (argc != 2) {\n        return 1;\n    }\n" + calls.String() + "    return 1;\n}\n"
	return p
}

// setCases are the cases of the driver's switch, one a setting.
func (s shape) setCases() string {
	var out strings.Builder
	for i, set := range s.settings {
		ident := strings.ReplaceAll(set.Name, "-", "_")
		fmt.Fprintf(&out, "            case %[1]d:\n                write_word(%[2]s_set_%[3]s(&filters, channel, (enum %[2]s_%[3]s)command[3]));\n"+
			"                write_word(%[2]s_get_%[3]s(&filters, channel));\n                break;\n", i, s.name, ident)
	}
	return out.String()
}

// script collects commands and the answers that the simulation gives.
type script struct {
	s        shape
	in, want bytes.Buffer
	format   number.Format
	machines []*number.Machine
	chosen   []biquad.Combination
	muted    []bool
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
	p.chosen, p.muted = nil, make([]bool, p.s.channels)
	for range p.s.channels {
		p.chosen = append(p.chosen, make(biquad.Combination, len(p.s.settings)))
	}
	p.start(d)
}

// start has simulations begin with the choices and mutes that there are.
func (p *script) start(d compiler.Digital) {
	p.format = d.Format
	choices := make([]int, len(p.s.settings))
	for i, set := range p.s.settings {
		choices[i] = len(set.Choices)
	}
	p.machines = nil
	for c := range p.s.channels {
		m := d.Format.NewMachine(d.System, d.InputGain, d.RateHz, p.s.fadeS, choices)
		m.OfChannel(c)
		m.Set(p.chosen[c])
		m.Mute(p.muted[c])
		p.machines = append(p.machines, m)
	}
}

func (p *script) setRate(d compiler.Digital) {
	p.command(6, int32(d.RateHz))
	p.answer(0)
	p.start(d)
}

func (p *script) set(channel, setting, choice int) {
	p.command(2, int32(channel), int32(setting), int32(choice))
	p.answer(0)
	p.answer(int32(choice)) // the getter's
	p.chosen[channel][setting] = uint8(choice)
	if !p.machines[channel].Set(p.chosen[channel]) {
		panic("the simulation refuses a choice that exists")
	}
}

func (p *script) mute(channel int, on bool) {
	asked := int32(0)
	if on {
		asked = 1
	}
	p.command(4, int32(channel), 7*asked)
	p.answer(0)
	p.answer(asked)
	p.muted[channel] = on
	p.machines[channel].Mute(on)
}

func (p *script) reset() {
	p.command(1)
	for _, m := range p.machines {
		m.Reset()
	}
}

func (p *script) resetChannel(channel int) {
	p.command(5, int32(channel))
	p.answer(0)
	p.machines[channel].Restart()
}

// How run is called.
const (
	planar = iota
	inFrames
	inInt32
)

// run gives every channel as many samples, all after one another in x.
func (p *script) run(x []float64, how, inPlace int) {
	n := len(x) / p.s.channels
	p.command(3, int32(n), int32(inPlace), int32(how))
	if how == inInt32 {
		x = slices.Clone(x)
		for i, v := range x {
			x[i] = math.Round(v * (1<<31 - 1))
		}
	}
	samples(&p.in, x)
	p.answer(0)
	for c, m := range p.machines {
		in := slices.Clone(x[c*n : (c+1)*n])
		if how == inInt32 {
			for i, v := range in {
				if p.format.C.Type.Name == "float" {
					v = float64(float32(v)) // C converts to its own type
				}
				in[i] = v / (1 << 31)
			}
		}
		for _, y := range m.Run(in) {
			if how == inInt32 {
				for i, v := range y {
					y[i] = max(-1<<31, min(1<<31-1, math.Round(v*(1<<31)))) + 0 // no -0
				}
			}
			samples(&p.want, y)
		}
	}
	for c, m := range p.machines {
		p.command(7, int32(c))
		if m.Garbage() {
			p.answer(1)
		} else {
			p.answer(0)
		}
	}
}

// blocks are lengths around the kernel's own block, and odd ones.
var blocks = []int{0, 1, 1, 2, 3, 5, 31, 32, 33, 64, 65, 100}

// trial exercises one shape at all of its rates.
func (s shape) trial(b *compiler.Build, format number.Format, header []byte, seed int64) trial {
	r := rand.New(rand.NewSource(seed))
	p := &script{s: s}
	_ = binary.Write(&p.want, binary.NativeEndian, slices.Max(statedBytes(header)))

	// Nothing works before a rate that exists.
	p.command(0, 47999)
	p.answer(1)
	p.refused(0)
	p.command(6, int32(s.rates[0]))
	p.answer(1)
	p.command(3, 0, -1)
	p.answer(1)
	first := true
	for _, d := range b.Digital {
		if d.Format.Name != format.Name {
			continue
		}
		if first {
			p.init(d)
		} else {
			p.setRate(d) // keeps choices and mutes
		}
		first = false
		// What does not exist is refused and changes nothing.
		for _, channel := range []int32{-1, int32(s.channels)} {
			p.refused(channel)
		}
		p.command(3, -5, -1)
		p.answer(1)
		p.command(6, 47999)
		p.answer(1)
		for i, set := range s.settings {
			for _, bad := range []int32{-1, int32(len(set.Choices)), 256} {
				p.command(2, 0, int32(i), bad)
				p.answer(1)
				p.answer(int32(p.chosen[0][i]))
			}
		}
		p.everyChoice()
		p.anyOrder(r)
		p.silence(r)
		p.spoilt(r)
		p.oneByOne(r)
	}
	return trial{s.name, p.in.Bytes(), p.want.Bytes()}
}

// refused are calls for a channel that does not exist, or of a state that is not
// initialised.
func (p *script) refused(channel int32) {
	for i := range p.s.settings {
		p.command(2, channel, int32(i), 1)
		p.answer(1)
		p.answer(-1)
	}
	p.command(4, channel, 1)
	p.answer(1)
	p.answer(-1)
	p.command(5, channel)
	p.answer(1)
	p.command(7, channel)
	p.answer(-1)
}

// noise is so many samples of every channel.
func (p *script) noise(r *rand.Rand, n int) []float64 {
	x := make([]float64, n*p.s.channels)
	for i := range x {
		x[i] = p.format.Round(float64(float32(2*r.Float64() - 1)))
		if full := p.format.C.FullScale; full > 1 { // samples are whole numbers
			x[i] = math.Floor(x[i]*full) / full
		}
	}
	return x
}

// everyChoice is an impulse through every choice from a reset, once the outputs
// are open.
func (p *script) everyChoice() {
	open := make([]float64, 2000*p.s.channels)
	impulse := make([]float64, 300*p.s.channels)
	for c := range p.s.channels {
		impulse[300*c] = 0.5 // a word of every format
	}
	p.run(open, planar, -1)
	p.run(impulse, planar, -1)
	for i, set := range p.s.settings {
		for choice := range set.Choices {
			p.reset()
			for c := range p.s.channels {
				p.set(c, i, choice)
			}
			p.run(open, inFrames, 0)
			p.run(impulse, planar, 0)
		}
	}
}

// anyOrder is noise in blocks, in place or not, with changes, mutes and resets
// between them at any time.
func (p *script) anyOrder(r *rand.Rand) {
	for step := range 90 {
		channel := r.Intn(p.s.channels)
		if len(p.s.settings) > 0 && step%2 == 1 {
			for range 1 + r.Intn(2) {
				i := r.Intn(len(p.s.settings))
				p.set(channel, i, r.Intn(len(p.s.settings[i].Choices)))
			}
		}
		switch step % 30 {
		case 9, 22, 23:
			p.mute(channel, !p.muted[channel])
		case 15:
			p.resetChannel(channel)
		}
		if step == 40 {
			p.reset()
		}
		n := blocks[r.Intn(len(blocks))]
		if step%10 == 0 {
			n = 2000
		}
		p.run(p.noise(r, n), []int{planar, planar, planar, inFrames, inInt32}[step%5], r.Intn(p.s.ways+1)-1)
	}
	for c := range p.s.channels {
		p.mute(c, false)
	}
	p.run(p.noise(r, 2000), planar, -1)
}

// silence is what follows when the input ends, down to an exact zero.
func (p *script) silence(r *rand.Rand) {
	quiet := make([]float64, 4000*p.s.channels)
	for range 4 {
		p.run(quiet, planar, -1)
	}
	p.run(p.noise(r, 500), planar, -1)
}

// spoilt is a sample that is none, in the middle of a block.
func (p *script) spoilt(r *rand.Rand) {
	if p.format.C.Size.Name == "" {
		return // there are none
	}
	for i, bad := range []float64{math.NaN(), math.Inf(-1), 1e30} {
		x := p.noise(r, 100)
		c := i % p.s.channels
		x[100*c+17*(i+1)] = bad
		x[100*c] = 3 // no garbage, but looks a little like it
		p.run(x, planar, -1)
		p.run(p.noise(r, 50), planar, -1)
		p.resetChannel(c)
		p.run(p.noise(r, 700), planar, -1)
	}
}

// oneByOne is single samples of channels that are alike, and then differ by a choice, by a mute, by a sample
// that is none and by a reset, as two that are alike go through sections together.
func (p *script) oneByOne(r *rand.Rand) {
	singles := func() {
		p.run(p.noise(r, 2000), planar, -1) // fades are over
		for range 40 {                      // more than lie between two ticks
			p.run(p.noise(r, 1), planar, -1)
		}
	}
	last := p.s.channels - 1
	for i := range p.s.settings {
		for c := range p.s.channels {
			p.set(c, i, 0)
		}
	}
	singles()
	for i := range p.s.settings {
		p.set(last, i, 1)
	}
	singles()
	p.mute(last, true)
	singles()
	p.mute(last, false)
	singles()
	for c := range p.s.channels {
		x := p.noise(r, 1)
		if p.format.C.Size.Name != "" {
			x[c] = math.NaN()
		}
		p.run(x, planar, -1)
		p.run(p.noise(r, 1), inFrames, -1)
		p.run(p.noise(r, 1), planar, -1)
		p.resetChannel(c)
		p.run(p.noise(r, 1), planar, 0)
	}
	singles()
}

var stateSize = regexp.MustCompile(`(?i)The[\s*]+state[\s*]+takes[\s*]+(\d+)[\s*]+bytes`)

// statedBytes are the sizes that the header's comment states, that with lanes last.
func statedBytes(header []byte) (sizes []int32) {
	for _, m := range stateSize.FindAllSubmatch(header, -1) {
		n, _ := strconv.Atoi(string(m[1]))
		sizes = append(sizes, int32(n))
	}
	return sizes
}
