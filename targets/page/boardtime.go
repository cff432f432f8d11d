package page

import (
	"fmt"
	"math"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/parallel"
	"bandwright/compiler/words"
)

// boardRateHz is the rate of the times at which a board is looked at where there is no digital realisation, and finely
// how many of them an octave are kept.
const (
	boardRateHz = 48e3
	finely      = 64
)

// answers are what a way of the board makes of a step and of an impulse of one sample and area 1 (1/ms).
type answers struct{ step, pulse *own }

// boardAnswers are those of all ways: in the default settings from the board's response at biquad.StepHz, in others
// from that and by what the page's curves differ, which beyond them is what it is at their ends.
func (p *Paper) boardAnswers() []answers {
	if p.board == nil {
		p.board = p.answered()
	}
	return p.board
}

func (p *Paper) answered() []answers {
	of := slices.IndexFunc(p.curves.made, func(m made) bool { return m.board })
	if of < 0 {
		return nil
	}
	hz, ways, settings := biquad.StepHz(), len(p.curves.ways), len(p.Settings)
	on := p.Board.On(hz)
	h := make([][]complex128, ways)
	for way := range h {
		h[way] = make([]complex128, len(hz))
		on.Response(h[way], way, make(biquad.Combination, settings))
	}
	type job struct {
		way         int
		c           biquad.Combination
		step, pulse []float64
	}
	var jobs []job
	axes := make([][]biquad.Axis, ways)
	for way := range ways {
		axes[way] = p.axesOver(of, way)
		for _, c := range combinations(axes[way], settings) {
			jobs = append(jobs, job{way: way, c: c})
		}
	}
	ms, before := p.boardMS()
	parallel.Each(len(jobs), func(i int) {
		j := &jobs[i]
		if s := p.boardStep(of, j.way, j.c, hz, h[j.way]); s != nil {
			for i, at := range ms {
				y, past := s.At(at/1e3), s.At(before[i]/1e3)
				j.step, j.pulse = append(j.step, y), append(j.pulse, (y-past)/(at-before[i]))
			}
		}
	})
	middle := make([]float64, len(ms)) // an impulse of one sample that begins with the step has its middle half a sample later
	for i := range ms {
		middle[i] = (ms[i] + before[i] + 1e3/p.boardRate()) / 2
	}
	out := make([]answers, ways)
	for way := range out {
		list := func(x []float64, pick func(job) []float64) *own {
			mine := jobs
			for mine[0].way != way {
				mine = mine[1:]
			}
			return ownIn(axes[way], settings, func(biquad.Combination) (_, y []float64) {
				y, mine = pick(mine[0]), mine[1:]
				if y == nil {
					return nil, nil
				}
				return x, y
			})
		}
		out[way] = answers{list(ms, func(j job) []float64 { return j.step }), list(middle, func(j job) []float64 { return j.pulse })}
	}
	return out
}

// boardRate is that of the first digital realisation, which is drawn as well.
func (p *Paper) boardRate() float64 {
	if asked := p.asked(); asked != nil {
		return asked[0].RateHz
	}
	return boardRateHz
}

// boardMS are the times (ms) at which a board is drawn, in the middle of samples as digital realisations are, and that of the
// sample before each; late ones are as far apart as digital ones, and no closer than a line shows.
func (p *Paper) boardMS() (ms, before []float64) {
	sample := 1e3 / p.boardRate()
	all := append([]float64{-0.5 * sample}, sampled(sample)...)
	last := -1.0
	for i, at := range all[1:] {
		if at >= last*(1+math.Ln2/finely) {
			ms, before = append(ms, at), append(before, all[i])
			last = at
		}
	}
	return ms, before
}

// sampled are the middles of samples (ms): of each at first, then of every second, and so on.
func sampled(sampleMS float64) (ms []float64) {
	for n, by := 0, 1; float64(n)*sampleMS <= lastMS; n += by {
		for n >= closeBy*by*2 {
			by *= 2
		}
		ms = append(ms, (float64(n)+0.5)*sampleMS)
	}
	return ms
}

// axesOver are the settings that a way of a realisation hangs on.
func (p *Paper) axesOver(of, way int) (out []biquad.Axis) {
	for _, s := range []series{p.curves.ideal[way][magnitudeQ], p.curves.ideal[way][phaseQ], p.curves.made[of].ways[way][magnitudeQ], p.curves.made[of].ways[way][phaseQ]} {
		for _, a := range s.By {
			if !slices.ContainsFunc(a.Alt, func(x []float64) bool { return x != nil }) {
				continue
			}
			for _, x := range a.Axes {
				if !slices.Contains(out, x) {
					out = append(out, x)
				}
			}
		}
	}
	slices.SortFunc(out, func(a, b biquad.Axis) int { return a.Setting - b.Setting })
	return out
}

// mostTurned is by how much (dB) a setting may change a response of which its own is still told: what mutes a way leaves
// nothing to tell another from.
const mostTurned = 60

// boardStep is a way's step in a combination; nil where it cannot be told from that in the default settings, whose response
// at hz is h.
func (p *Paper) boardStep(of, way int, c biquad.Combination, hz []float64, h []complex128) *biquad.ResponseStep {
	if slices.Max(append(c, 0)) == 0 {
		return biquad.NewResponseStep(h)
	}
	ratio := make([]complex128, len(p.curves.hz))
	total := func(q int, c biquad.Combination) []float64 {
		out := p.curves.ideal[way][q].at(c)
		for i, v := range p.curves.made[of].ways[way][q].at(c) {
			out[i] += v
		}
		return out
	}
	rest := make(biquad.Combination, len(c))
	db, was, deg, before := total(magnitudeQ, c), total(magnitudeQ, rest), total(phaseQ, c), total(phaseQ, rest)
	for i := range ratio {
		if math.Abs(db[i]-was[i]) > mostTurned {
			return nil
		}
		ratio[i] = polar(db[i]-was[i], deg[i]-before[i])
	}
	out := make([]complex128, len(hz))
	k, grid := 0, p.curves.hz
	for i, f := range hz {
		for k < len(grid)-2 && grid[k+1] < f {
			k++
		}
		t := math.Max(0, math.Min(1, math.Log2(f/grid[k])/math.Log2(grid[k+1]/grid[k])))
		out[i] = h[i] * (ratio[k] + complex(t, 0)*(ratio[k+1]-ratio[k]))
	}
	return biquad.NewResponseStep(out)
}

// boardFrom says where the board's line is from.
func (p *Paper) boardFrom() string {
	if p.Board == nil {
		return ""
	}
	return fmt.Sprintf(". The dashed line is the board, from its response at %d frequencies, which gives the step to 0.001, in other settings to 0.005", len(biquad.StepHz()))
}

// wantedAnswers are the answers of a way's prototype at the times of a board, where no digital realisation has it drawn.
func (p *Paper) wantedAnswers(way int) answers {
	path, all := p.Prototype.Path(way), sampled(1e3/boardRateHz)
	ms, before := p.boardMS()
	axes, settings := biquad.Axes(path), len(p.Settings)
	var step, pulse [][]float64
	middle := make([]float64, len(ms))
	for i := range ms {
		middle[i] = (ms[i] + before[i] + 1e3/boardRateHz) / 2
	}
	for _, c := range combinations(axes, settings) {
		s, whole := biquad.NewAnalogStep(path, c)
		stand, past, k := 0.0, 0.0, 0
		up, slope := slices.Repeat([]float64{math.NaN()}, len(ms)), slices.Repeat([]float64{math.NaN()}, len(ms))
		for _, at := range all {
			v := 0.0
			if t := at/1e3 - path.DelayS; whole && t > 0 {
				s.Wait(words.Round(t-stand, 9)) // the rounding of a difference is no other time
				stand, v = t, s.Value()
			}
			if whole && k < len(ms) && at == ms[k] {
				up[k], slope[k] = v, (v-past)/(at-before[k])
				k++
			}
			past = v
		}
		step, pulse = append(step, up), append(pulse, slope)
	}
	each := func(x []float64, list [][]float64) *own {
		return ownIn(axes, settings, func(biquad.Combination) (_, y []float64) {
			y, list = list[0], list[1:]
			return x, y
		})
	}
	return answers{each(ms, step), each(middle, pulse)}
}

// alone is a way's strip of a board without digital realisations.
func (p *Paper) alone(way int, board, wanted *own, unit string) strip {
	s := strip{kind: timeKind, name: p.nameOf(way), way: way, unit: unit, scale: 1, lines: []line{
		{made: wantedLine, class: "wanted", name: "wanted", hz: wanted.x[0], y: wanted.y[0], shown: true, own: []*own{wanted}},
		{made: 0, class: "board", name: "board", hz: board.x[0], y: board.y[0], shown: true, own: []*own{board}}}}
	s.between(extremes(board, wanted))
	return s
}

// boardSays is the chapter's sentence where there is nothing but a board.
func (p *Paper) boardSays() string {
	boards := p.boardAnswers()
	if boards == nil {
		return ""
	}
	most, text := -1.0, ""
	for way, name := range p.curves.ways {
		got, want := boards[way].step, p.wantedAnswers(way).step.y[0]
		for i, ms := range got.x[0] {
			if off := math.Abs(got.y[0][i] - want[i]); ms >= firstMS && ms <= lastMS && off > most {
				most = off
				text = fmt.Sprintf("On the board no way's step is further from the wanted one than %s of the input's: %s, %s ms after it.", words.Three(off), name, words.Three(ms))
			}
		}
	}
	return text
}
