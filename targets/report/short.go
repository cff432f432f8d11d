package report

import (
	"fmt"
	"math"
	"strings"

	"bandwright/compiler"
	"bandwright/compiler/board"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// nameWidth is the width of the names under the verdict (characters).
const nameWidth = len("headroom") + 2

// fact is a line under the verdict.
type fact struct{ name, text string }

// found is a figure, and which way of which realisation it is of.
type found struct {
	verify.Extreme
	way, realisation string
}

// where reads "at 29.6 Hz, board, with wall: free".
func (f found) where() string {
	var s string
	if f.AtHz > 0 {
		s = " at " + words.Hz(f.AtHz)
	}
	s += ", " + strings.TrimPrefix(f.realisation, "digital ")
	if len(f.With) > 0 {
		s += ", with " + verify.Choices(f.With)
	}
	return s
}

// short are the four lines that a reader in a hurry needs: how far the sum is
// off, how much headroom is left, how much DC there is, and the greatest caution.
func short(b *compiler.Build) []fact {
	return []fact{sum(b), headroom(b), {"DC", direct(b)}, {"caution", caution(b)}}
}

// greatest is the figure of which size is greatest, over the realisations that
// the spec asks for. size is NaN for a figure that does not count.
func greatest(b *compiler.Build, pick func(verify.Figures) verify.Extreme, size func(verify.Figures) float64) (worst found) {
	most := math.Inf(-1)
	asked := map[string]bool{board.RealisationName: true}
	for _, d := range b.Digital {
		asked[d.Name()] = d.Asked
	}
	for _, f := range b.Figures {
		if x := pick(f); asked[f.Realisation] && x.Known && size(f) > most {
			most = size(f)
			worst = found{x, f.Way, f.Realisation}
		}
	}
	return worst
}

func magnitude(f verify.Figures) verify.Extreme { return f.Magnitude }

// sum is the worst error of the sum, or of the one way where nothing sums.
func sum(b *compiler.Build) fact {
	x := greatest(b, magnitude, func(f verify.Figures) float64 {
		if f.Way != verify.SumName {
			return math.NaN()
		}
		return math.Abs(f.Magnitude.Value)
	})
	name := "sum"
	if !x.Known {
		name = "error"
		x = greatest(b, magnitude, func(f verify.Figures) float64 { return math.Abs(f.Magnitude.Value) })
	}
	if !x.Known {
		return fact{name, "none measured"}
	}
	return fact{name, "worst " + words.DB.Signed(x.Value) + x.where()}
}

// headroom is the least distance from clipping, of the digital outputs for a
// full-scale sine and of the board for a sine of the input's level.
func headroom(b *compiler.Build) fact {
	var out []string
	add := func(db float64, x found) {
		out = append(out, fmt.Sprintf("%.2f dB: %s%s", db, x.way, x.where()))
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
		return fact{"headroom", "none measured"}
	}
	return fact{"headroom", "least " + strings.Join(out, "; ")}
}

// direct is the greatest DC at an output: of a board what its op-amps add, of
// digital filters what passes of a converter's offset.
func direct(b *compiler.Build) string {
	if x := greatest(b, func(f verify.Figures) verify.Extreme { return f.OffsetV }, func(f verify.Figures) float64 { return math.Abs(f.OffsetV.Value) }); x.Known {
		if x.Value == 0 {
			return "none at any output of the board: capacitors block it"
		}
		return fmt.Sprintf("greatest %s at the output of %s%s", words.Volt.Measured(x.Value), x.way, x.where())
	}
	if through := passing(b); through != nil {
		return "passes to " + words.List(through)
	}
	return "blocked in every way"
}

// passing are the ways that pass DC, with the level.
func passing(b *compiler.Build) []string {
	var out []string
	for k, w := range b.Prototype.Ways {
		if level := atDC(b, k); level > passesDC {
			out = append(out, fmt.Sprintf("%s (%s)", w.Name, words.Level(level, "dB")))
		}
	}
	return out
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

// blocked says that capacitors at the outputs block DC, whatever is before them.
func blocked(b *compiler.Build) bool {
	return !hasDigital(b) && b.Board != nil && b.Spec.Board.Output.CouplingF > 0
}
