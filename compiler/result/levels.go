package result

import (
	"bandwright/compiler"
	"bandwright/compiler/words"
)

// Levels are what a sine of the input's level becomes along a way's chain in one combination
// of settings: the greatest voltage behind each stage, anywhere in the band, and where
// the first op-amp clips.
type Levels struct {
	Setting map[string]string `json:"setting"`
	InputV  float64           `json:"input_v"` // V RMS, the level at the input
	ClipV   float64           `json:"clip_v"`  // V RMS at the input with which the first op-amp clips
	OutputV float64           `json:"output_v"`
	AtHz    float64           `json:"at_hz"` // where the output is greatest
	Stages  []StageLevel      `json:"stages"`
}

// StageLevel is one stage of it, in the order of the signal.
type StageLevel struct {
	Chain string  `json:"chain"` // common, or the way
	Stage int     `json:"stage"`
	V     float64 `json:"v"` // V RMS at its output
	AtHz  float64 `json:"at_hz"`
	// MarginDB is how far the input's level is below what makes OpAmp, the first of its
	// op-amps, clip: By is swing, output current or slew rate, Node the node at its output.
	MarginDB float64 `json:"margin_db"`
	By       string  `json:"by"`
	OpAmp    string  `json:"op_amp"`
	Node     string  `json:"node"`
	ClipHz   float64 `json:"clip_hz"` // where it clips first
}

// Rails is what a board takes from each of its two rails.
type Rails struct {
	RailV      float64 `json:"rail_v"`      // plus and minus this
	OpAmps     int     `json:"op_amps"`     // spare ones included
	QuiescentA float64 `json:"quiescent_a"` // of each rail, at rest
	QuiescentW float64 `json:"quiescent_w"`
	// SignalA is what the outputs take more from each rail, on average, with a sine of the
	// input's level at SignalHz, the worst, in Setting: the mean of their half waves.
	SignalA  float64           `json:"signal_a"`
	SignalW  float64           `json:"signal_w"`
	SignalHz float64           `json:"signal_hz"`
	Setting  map[string]string `json:"setting"`
}

// figure is a number of four digits: what was found between the points of a grid has no
// more.
func figure(x float64) float64 { return words.Round(x, 4) }

// levelsOf are those of each way.
func levelsOf(b *compiler.Build) [][]Levels {
	out := make([][]Levels, len(b.Board.Ways))
	for k := range out {
		out[k] = []Levels{}
	}
	s := b.BoardSubject()
	for _, c := range s.Cases() {
		if c.C == nil {
			continue
		}
		p, err := b.Board.LevelPlan(c)
		if err != nil {
			continue
		}
		x := Levels{Setting: setting(s.Choices(c)), InputV: p.InputV, OutputV: figure(p.OutV), AtHz: figure(p.OutHz), Stages: []StageLevel{}}
		for i, l := range p.Stages {
			if i == p.First {
				x.ClipV = figure(l.Clip.InputV)
			}
			x.Stages = append(x.Stages, StageLevel{Chain: l.Chain, Stage: l.Number, V: figure(l.V), AtHz: figure(l.AtHz),
				MarginDB: figure(l.Clip.MarginDB), By: l.Clip.By.String(), OpAmp: l.Clip.OpAmp, Node: l.Clip.Node, ClipHz: figure(l.Clip.AtHz)})
		}
		out[c.Way] = append(out[c.Way], x)
	}
	return out
}

// railsOf is that of the board.
func railsOf(b *compiler.Build) Rails {
	subject := b.BoardSubject()
	s := b.Board.Rails(subject.Cases())
	out := Rails{RailV: s.RailV, OpAmps: s.OpAmps, QuiescentA: figure(s.QuiescentA), QuiescentW: figure(s.QuiescentA * s.RailV),
		SignalA: figure(s.SignalA), SignalW: figure(s.SignalA * s.RailV), SignalHz: figure(s.AtHz), Setting: map[string]string{}}
	if s.Case.C != nil {
		out.Setting = setting(subject.Choices(s.Case))
	}
	return out
}
