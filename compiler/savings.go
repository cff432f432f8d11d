package compiler

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"math/cmplx"
	"slices"
	"strconv"

	"bandwright/biquad"
	"bandwright/compiler/board"
	"bandwright/compiler/circuit"
	"bandwright/compiler/design"
	"bandwright/compiler/language"
	"bandwright/compiler/progress"
	"bandwright/compiler/prototype"
	"bandwright/compiler/words"
)

// Saving is a small change of the spec with which its board would need fewer op-amps. It
// was tried: the stages of the board were chosen anew with it.
type Saving struct {
	// Way is the index of the way whose line changes, -1 for a common one.
	Way int
	// Line is the filter's label, or the way; Key the key that changes, with dots; Is and Was
	// its values.
	Line, Key, Is, Was string
	// OpAmps (> 0) and Parts are how many fewer the board takes; Parts may be negative.
	OpAmps, Parts int
	// Topologies are what the line's stages become.
	Topologies []string
	// DB is the greatest change of the way's magnitude (dB) in the band, at Hz; 0 Hz where
	// it is the same everywhere.
	DB, Hz float64
}

const (
	// mostMovedDB (dB) is how far a response may move for a saving.
	mostMovedDB = 0.2
	// triesALine is how many changes of one line are tried, those that move the response
	// least first.
	triesALine = 3
)

// steps are how far a quantity is changed: parts of itself, or decibels.
var (
	stepsOfHz = []float64{0.005, 0.01, 0.015, 0.02}
	stepsOfQ  = []float64{0.01, 0.02, 0.03, 0.04, 0.05}
	stepsOfDB = []float64{0.05, 0.1, 0.15, 0.2}
)

// StepsTried says which changes are looked among.
const StepsTried = "a frequency by up to 2 %, a Q by up to 5 %, a gain by up to 0.2 dB"

// Savings are what would have a board take fewer op-amps.
type Savings struct {
	// Small are the small changes of the filters of the common chain and of the ways, one of each line at
	// most, and of the ways' gains. Lines that name their topology, and crossovers, stay as they are.
	Small []Saving
	// Named are the topologies that filters may name, one each at most, where the price is none that was
	// promised, and at most 3 dB of noise. Tried is with how many the board was made, and More says that there
	// are others, which were not tried.
	Named []Naming
	Tried int
	More  bool
}

// Savings looks for what would save op-amps, and tries it.
func (b *Build) Savings(ctx context.Context) Savings {
	var out Savings
	if b.Board == nil {
		return out
	}
	progress.Say(ctx, "trying small changes that would save op-amps")
	w := b.Wanted
	w.Held, w.Holding = nil, Holding{}
	s := search{Wanted: &w, made: b.Board, planner: b.Board.Planner()}
	var ok bool
	if s.base, ok = s.planner.Plan(w.job()); ok {
		for way := -1; way < len(w.Spec.Ways) && ctx.Err() == nil; way++ {
			out.Small = append(out.Small, s.ofFilters(way)...)
			if way >= 0 {
				out.Small = append(out.Small, s.ofGain(way)...)
			}
		}
	}
	progress.Say(ctx, "trying topologies that would save op-amps")
	out.Named, out.Tried, out.More = b.namings(ctx, s.planner)
	return out
}

// search is a search for savings.
type search struct {
	*Wanted
	made    *board.Board
	planner *board.Planner
	base    board.Plan // the spec's own, with nothing held
}

// filters are those of a way, or the common ones.
func filters(s *language.Spec, way int) []language.Filter {
	if way < 0 {
		return s.Common
	}
	return s.Ways[way].Filters
}

// variation is one changed value of a filter.
type variation struct {
	filter  language.Filter
	key     string
	is, was float64
	dim     language.Dim
	db, hz  float64 // by how much it moves the response, and where
}

// ofFilters lists the savings of a chain's filters.
func (s *search) ofFilters(way int) []Saving {
	var out []Saving
	for n, f := range filters(s.Spec, way) {
		opAmps := most(s.base.Stages(f.Label()))
		if f.Topology != "" || opAmps < 2 || opAmps > most(s.made.Plan().Stages(f.Label())) {
			continue
		}
		all := s.variations(f, opAmps)
		slices.SortStableFunc(all, func(x, y variation) int { return cmp.Compare(math.Abs(x.db), math.Abs(y.db)) })
		for _, v := range all[:min(triesALine, len(all))] {
			spec := *s.Spec
			if way < 0 {
				spec.Common = replaced(spec.Common, n, v.filter)
			} else {
				spec.Ways = slices.Clone(spec.Ways)
				spec.Ways[way].Filters = replaced(spec.Ways[way].Filters, n, v.filter)
			}
			if x, ok := s.tried(&spec, f.Label()); ok {
				x.Way, x.Line, x.Key, x.Is, x.Was, x.DB, x.Hz = way, f.Label(), v.key, written(v.is, v.dim), written(v.was, v.dim), math.Abs(v.db), v.hz
				out = append(out, x)
				break
			}
		}
	}
	return out
}

func replaced(list []language.Filter, n int, f language.Filter) []language.Filter {
	out := slices.Clone(list)
	out[n] = f
	return out
}

// most is how many op-amps the largest of some stages has.
func most(stages []*board.Stage) int {
	n := 0
	for _, s := range stages {
		n = max(n, s.Topology.OpAmps())
	}
	return n
}

// tried plans the board of a changed spec, and reports whether it takes fewer op-amps.
func (s *search) tried(spec *language.Spec, label string) (Saving, bool) {
	d, _ := design.New(spec, s.Promises.LowHz, s.Promises.HighHz)
	if d == nil {
		return Saving{}, false
	}
	other := *s.Wanted
	other.Spec, other.Design = spec, *d
	plan, ok := s.planner.Plan(other.job())
	x := Saving{OpAmps: s.base.OpAmps - plan.OpAmps, Parts: s.base.Parts - plan.Parts}
	for _, stage := range plan.Stages(label) {
		x.Topologies = append(x.Topologies, stage.Topology.Name)
	}
	return x, ok && x.OpAmps > 0
}

// ofGain is the saving of a way's gain that no stage is needed for.
func (s *search) ofGain(way int) []Saving {
	last := s.base.Gain(way)
	if last == nil || s.made.Plan().Gain(way) == nil {
		return nil
	}
	db := biquad.GainDB(math.Abs(last.Level) * cmplx.Abs(last.Section.At(0)))
	was := s.Spec.Ways[way].GainDB
	is := math.Round((was-db)*100) / 100
	if is == was || math.Abs(is-was) > mostMovedDB {
		return nil
	}
	spec := *s.Spec
	spec.Ways = slices.Clone(spec.Ways)
	spec.Ways[way].GainDB = is
	x, ok := s.tried(&spec, "")
	if !ok {
		return nil
	}
	x.Way, x.Line, x.Key, x.Is, x.Was, x.DB = way, "ways."+spec.Ways[way].Name, "gain", written(is, language.Level), written(was, language.Level), math.Abs(is-was)
	return []Saving{x}
}

// variations lists the changed filters that a topology of fewer op-amps can be, which
// could not be the filter itself.
func (s *search) variations(f language.Filter, opAmps int) []variation {
	k, _ := prototype.ByName(f.Kind)
	was, problems := k.Ideal(f.Args)
	if len(problems) > 0 {
		return nil
	}
	var out []variation
	eachNumber(f.Args, k.Keys, "", func(key string, v *language.Value, steps []float64) {
		for _, step := range steps {
			for _, sign := range [...]float64{1, -1} {
				is := moved(v, sign*step)
				args, ok := f.Args.With(v, is)
				// Of no other sign, and not nothing: a ripple of 0 dB is none.
				if !ok || !(is*v.Number > 0) {
					continue
				}
				now, problems := k.Ideal(args)
				if len(problems) > 0 || !s.opens(now, was, opAmps) {
					continue
				}
				x := variation{filter: f, key: key, is: is, was: v.Number, dim: v.Dim}
				x.filter.Args = args
				if x.db, x.hz = s.moves(now, was); math.Abs(x.db) <= mostMovedDB {
					out = append(out, x)
				}
			}
		}
	})
	return out
}

// eachNumber calls f with every number of a filter's arguments that may be changed by a
// little, with its key and with how far.
func eachNumber(args *language.Value, keys []language.Key, path string, f func(key string, v *language.Value, steps []float64)) {
	for _, x := range args.Fields {
		i := slices.IndexFunc(keys, func(k language.Key) bool { return k.Name == x.Key })
		if i < 0 || !x.Value.Given {
			continue
		}
		name, of := path+x.Key, keys[i].Type
		switch {
		case x.Value.Fields != nil:
			eachNumber(x.Value, of.Keys, name+".", f)
		case x.Value.Word != "" || x.Value.Items != nil:
		case x.Value.Dim == language.Frequency:
			f(name, x.Value, stepsOfHz)
		case x.Value.Dim == language.Level:
			f(name, x.Value, stepsOfDB)
		case of.Number:
			f(name, x.Value, stepsOfQ)
		}
	}
}

// moved is a number changed by a step, to three significant digits or a hundredth of a
// decibel.
func moved(v *language.Value, step float64) float64 {
	if v.Dim == language.Level {
		return math.Round((v.Number+step)*100) / 100
	}
	return threeDigits(v.Number * (1 + step))
}

// threeDigits rounds to three significant digits.
func threeDigits(v float64) float64 {
	out, _ := strconv.ParseFloat(strconv.FormatFloat(v, 'e', 2, 64), 64) // no error: it is a number
	return out
}

// written is a value as a spec has it.
func written(v float64, dim language.Dim) string {
	switch dim {
	case language.Frequency:
		return words.Part(v, "Hz")
	case language.Level:
		return words.Exact(v) + " dB"
	}
	return words.Exact(v)
}

// opens reports whether each section may be one of fewer op-amps than so many, and one of
// them only since the change.
func (s *search) opens(is, was prototype.Ideal, opAmps int) bool {
	some := false
	for i, a := range is.Sections {
		if i >= len(was.Sections) {
			return false
		}
		new, err := circuit.Split(a)
		old, wrong := circuit.Split(was.Sections[i])
		if err != nil || wrong != nil || len(new) != len(old) {
			return false
		}
		for k := range new {
			some = some || s.planner.Opens(new[k], old[k], opAmps)
		}
	}
	return some
}

// moves is the greatest change of magnitude (dB) in the band, and where (Hz).
func (s *search) moves(is, was prototype.Ideal) (db, hz float64) {
	const perOctave = 48
	of := func(x prototype.Ideal, f float64) float64 {
		g := x.Gain
		for _, a := range x.Sections {
			g *= cmplx.Abs(a.At(2 * math.Pi * f))
		}
		return g
	}
	for _, f := range biquad.Octaves(s.Promises.LowHz, s.Promises.HighHz, perOctave) {
		if a, b := of(is, f), of(was, f); a > 0 && b > 0 {
			if d := biquad.GainDB(a / b); math.Abs(d) > math.Abs(db) {
				db, hz = d, f
			}
		}
	}
	return db, hz
}

// String says what a saving is: "to.q 0.61 instead of 0.6: 3 op-amps and 4 parts fewer".
func (s Saving) String() string {
	where := "at every frequency"
	if s.Hz > 0 {
		where = "at " + words.Hz(s.Hz)
	}
	by := ""
	if len(s.Topologies) > 0 {
		by = " (" + words.List(words.Once(s.Topologies)) + ")"
	}
	return fmt.Sprintf("%s: %s %s instead of %s saves %s%s; the response moves by %s %s", s.Line, s.Key, s.Is, s.Was, saved(s.OpAmps, s.Parts), by, words.DB.Measured(s.DB), where)
}

// saved says how many op-amps and parts fewer there are: "1 op-amp and 3 parts".
func saved(opAmps, parts int) string {
	text := words.Count(opAmps, "op-amp", "op-amps")
	switch {
	case parts > 0:
		text += " and " + words.Count(parts, "part", "parts")
	case parts < 0:
		text += ", for " + words.Count(-parts, "part", "parts") + " more"
	}
	return text
}
