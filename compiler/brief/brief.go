// Package brief says what a finished Build comes to, in the few sentences that every
// report begins with: how far it is off at worst, how much headroom is left, how much
// DC there is, and what to know before the first sound. A Build goes in, sentences and
// the figures that they are about come out. The one invariant: every figure is one that
// verification found.
//
// Read first: Facts.
package brief

import (
	"fmt"
	"math"
	"strings"

	"bandwright/compiler"
	"bandwright/compiler/board"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// Fact is one sentence with a name of one word.
type Fact struct{ Name, Text string }

// Found is a figure, and which way of which realisation it is of.
type Found struct {
	verify.Extreme
	Way, Realisation string
}

// Where reads " at 29.6 Hz, board, with wall: free".
func (f Found) Where() string {
	var s string
	if f.AtHz > 0 {
		s = " at " + words.Hz(f.AtHz)
	}
	s += ", " + strings.TrimPrefix(f.Realisation, "digital ")
	if len(f.With) > 0 {
		s += ", with " + verify.Choices(f.With)
	}
	return s
}

// Facts are the four lines that a reader in a hurry needs: how far the sum is
// off, how much headroom is left, how much DC there is, and the greatest caution.
func Facts(b *compiler.Build) []Fact {
	return []Fact{sum(b), headroom(b), {"DC", direct(b)}, {"caution", caution(b)}}
}

// greatest is the figure of which size is greatest, over the realisations that
// the spec asks for. size is NaN for a figure that does not count.
func greatest(b *compiler.Build, pick func(verify.Figures) verify.Extreme, size func(verify.Figures) float64) (worst Found) {
	most := math.Inf(-1)
	asked := map[string]bool{board.RealisationName: true}
	for _, d := range b.Digital {
		asked[d.Name()] = d.Asked
	}
	for _, f := range b.Figures {
		if x := pick(f); asked[f.Realisation] && x.Known && size(f) > most {
			most = size(f)
			worst = Found{x, f.Way, f.Realisation}
		}
	}
	return worst
}

func magnitude(f verify.Figures) verify.Extreme { return f.Magnitude }

// WorstWay is the greatest magnitude error (dB) of any way, the sum left out, in any
// realisation that the spec asks for; not Known where none was measured.
func WorstWay(b *compiler.Build) Found {
	return greatest(b, magnitude, func(f verify.Figures) float64 {
		if f.Way == verify.SumName {
			return math.NaN()
		}
		return math.Abs(f.Magnitude.Value)
	})
}

// sum is the worst error of the sum, or of the one way where nothing sums.
func sum(b *compiler.Build) Fact {
	x := greatest(b, magnitude, func(f verify.Figures) float64 {
		if f.Way != verify.SumName {
			return math.NaN()
		}
		return math.Abs(f.Magnitude.Value)
	})
	name := "sum"
	if !x.Known {
		name = "error"
		x = WorstWay(b)
	}
	if !x.Known {
		return Fact{name, "none measured"}
	}
	return Fact{name, "worst " + words.DB.Signed(x.Value) + x.Where()}
}

// headroom is the least distance from clipping, of the digital outputs for a
// full-scale sine and of the board for a sine of the input's level.
func headroom(b *compiler.Build) Fact {
	var out []string
	add := func(db float64, x Found) {
		out = append(out, fmt.Sprintf("%.2f dB: %s%s", db, x.Way, x.Where()))
	}
	x := greatest(b, func(f verify.Figures) verify.Extreme { return f.Peak }, func(f verify.Figures) float64 {
		if f.Way == verify.SumName {
			return math.NaN()
		}
		return f.Peak.Value
	})
	if x.Known {
		add(0-x.Value, x)
	}
	if x = greatest(b, func(f verify.Figures) verify.Extreme { return f.OverdriveDB }, func(f verify.Figures) float64 { return f.OverdriveDB.Value }); x.Known {
		add(0-x.Value, x)
	}
	if out == nil {
		return Fact{"headroom", "none measured"}
	}
	return Fact{"headroom", "least " + strings.Join(out, "; ")}
}

// direct is the greatest DC at an output: of a board what its op-amps add, of
// digital filters what passes of a converter's offset.
func direct(b *compiler.Build) string {
	if x := greatest(b, func(f verify.Figures) verify.Extreme { return f.OffsetV }, func(f verify.Figures) float64 { return math.Abs(f.OffsetV.Value) }); x.Known {
		if x.Value == 0 {
			return "none at any output of the board: capacitors block it"
		}
		return fmt.Sprintf("greatest %s at the output of %s%s", words.Volt.Measured(x.Value), x.Way, x.Where())
	}
	if through := passing(b); through != nil {
		return "passes to " + words.List(through)
	}
	return "blocked in every way"
}

// caution is the first of these that holds: a warning, DC that reaches the
// amplifiers, and what holds of every first sound.
func caution(b *compiler.Build) string {
	switch through := passing(b); {
	case len(b.Warnings) > 0:
		return b.Warnings[0].Message
	case through != nil && !blocked(b):
		return "no filter blocks DC in " + words.List(through) + ": the amplifiers must"
	case b.Board != nil && b.Spec.Board.Output.CouplingF == 0:
		return "the outputs are DC-coupled: the amplifiers must block DC"
	}
	return "a wrong channel or polarity can destroy a driver: test one way at a time, at low level"
}
