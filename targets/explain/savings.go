package explain

import (
	"context"

	"bandwright/compiler"
)

// savings tells the small changes of the spec that would save op-amps, of one way and of
// the common stages, or of all where way is "".
func (e *stages) savings(way string) {
	if e.b.Board == nil {
		return
	}
	e.out.WriteString("\nsmall changes of the spec that would save op-amps\n")
	e.line("  ", "tried: "+compiler.StepsTried+"; with each that is listed the stages were chosen anew")
	found := false
	for _, s := range e.b.Savings(context.Background()) {
		if s.Way < 0 || way == "" || e.b.Spec.Ways[s.Way].Name == way {
			e.line("  ", s.String())
			found = true
		}
	}
	if !found {
		e.line("  ", "none found that moves the response by 0.2 dB at most")
	}
}
