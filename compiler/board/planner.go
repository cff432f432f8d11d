package board

import (
	"context"
	"slices"
	"strings"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
	"bandwright/compiler/stage"
)

// Planner chooses the stages of boards that differ in little: what was worked out for a
// section is known to the next board.
type Planner struct{ bench *stage.Bench }

// NewPlanner plans boards with the stock, the op-amps and the band of a job.
func NewPlanner(j Job) *Planner { return &Planner{bench: benchOf(j)} }

// Planner is the one that a board was made with: it knows the board's sections.
func (b *Board) Planner() *Planner { return b.planner }

// Plan is a board of which the topologies are chosen, but not the values.
type Plan struct {
	// OpAmps and Parts count what the stages take, and Farad is the sum of their capacitors (F).
	OpAmps, Parts int
	Farad         float64
	chains        []*Chain
}

// Plan is what a job's board would be made of; false where none can be made.
func (p *Planner) Plan(j Job) (Plan, bool) {
	b := begun(j)
	if _, obstacles := b.chooseStages(context.Background(), j, p.bench); len(obstacles) > 0 {
		return Plan{}, false
	}
	return b.Plan(), true
}

// Plan is what the board is made of.
func (b *Board) Plan() Plan {
	x := Plan{chains: b.Chains()}
	for _, c := range x.chains {
		for _, s := range c.Built() {
			x.OpAmps += s.Topology.OpAmps()
			x.Parts += len(s.Fitted())
			sum, _ := s.Capacitance()
			x.Farad += sum
		}
	}
	return x
}

// Stages lists the stages that realise a filter, by its label.
func (x Plan) Stages(label string) []*Stage {
	var out []*Stage
	for _, c := range x.chains {
		for _, s := range c.Built() {
			if s.Role == FilterStage && slices.Contains(strings.Split(s.From, ", "), label) {
				out = append(out, s)
			}
		}
	}
	return out
}

// Gain is the stage that has nothing to do but a way's gain, nil for none.
func (x Plan) Gain(way int) *Stage {
	c := x.chains[way+1]
	if len(c.Positions) == 0 {
		return nil
	}
	last := c.Positions[len(c.Positions)-1]
	if len(last.By) > 0 || len(last.Alt) != 1 || len(last.Alt[0].Stages) != 1 || last.Alt[0].Stages[0].Role != GainStage {
		return nil
	}
	return last.Alt[0].Stages[0]
}

// Opens reports whether some topology of fewer op-amps than so many can be one section,
// but not another one near it.
func (p *Planner) Opens(section, near biquad.Analog, opAmps int) bool {
	a, err := circuit.Ask(section)
	if err != nil {
		return false
	}
	return slices.ContainsFunc(circuit.Topologies, func(t *circuit.Topology) bool {
		return t.OpAmps() < opAmps && !t.Balanced && !t.Saves && t.Can(a.Shape) &&
			t.Propose(section, p.bench.Means).Applies && !t.Propose(near, p.bench.Means).Applies
	})
}

// CanBe reports whether a topology can be a section, or a part that it is split into.
func (p *Planner) CanBe(t *circuit.Topology, section biquad.Analog) bool {
	parts, err := circuit.Split(section)
	return err == nil && slices.ContainsFunc(parts, func(s biquad.Analog) bool {
		return t.Can(asked(s).Shape) && t.Propose(s, p.bench.Means).Applies
	})
}
