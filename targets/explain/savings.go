package explain

import (
	"context"
	"fmt"

	"bandwright/compiler"
	"bandwright/compiler/words"
)

// savings tells what of the spec would save op-amps, of one way and of the common stages, or
// of all where way is "": small changes, and topologies that filters may name.
func (e *stages) savings(way string) {
	if e.b.Board == nil {
		return
	}
	of := func(k int) bool { return k < 0 || way == "" || e.b.Spec.Ways[k].Name == way }
	all := e.b.Savings(context.Background())
	e.out.WriteString("\nsmall changes of the spec that would save op-amps\n")
	e.line("  ", "tried: "+compiler.StepsTried+"; with each that is listed the stages were chosen anew")
	found := false
	for _, s := range all.Small {
		if of(s.Way) {
			e.line("  ", s.String())
			found = true
		}
	}
	if !found {
		e.line("  ", "none found that moves the response by 0.2 dB at most")
	}
	e.out.WriteString("\ntopologies of single filters that would save op-amps\n")
	if all.Tried == 0 {
		e.line("  ", "no filter can name one with which the board is laid out with fewer op-amps")
		return
	}
	text := fmt.Sprintf("tried: %s, one filter at a time, and the whole board made and judged with each", words.Count(all.Tried, "topology", "topologies"))
	if all.More {
		text += "; others that would save op-amps were not tried"
	}
	e.line("  ", text)
	e.line("  ", "listed is what breaks no promise that is kept without it, with at most 3 dB more noise in any way")
	found = false
	for _, s := range all.Named {
		if of(s.Way) {
			e.line("  ", s.String())
			found = true
		}
	}
	if !found && way == "" {
		e.line("  ", "none of these")
	} else if !found {
		e.line("  ", "none of these in "+way+" or before the ways split")
	}
}
