package language

import (
	"math"
	"slices"
	"strings"
)

// Counts of version 1.
const (
	version         = 1
	maxSettings     = 16
	maxChoices      = 32
	maxCombinations = 4096
	maxWays         = 20
	maxFilters      = 40 // of one way, or before the ways split
	maxRates        = 16
)

// SpeedOfSound is m/s in dry air at 20 °C: what a delay written as a length is
// divided by. c = 331.3·√(1 + 20/273.15) = 343.2, by convention 343.
const SpeedOfSound = 343.0

// level is a decibel type from low to high with the words beside it.
func level(low, high float64, words ...string) Type {
	return Type{Dims: []Dim{Level}, Min: low, Max: high, Words: words}
}

// Grammar is the whole language as one type: what Parse checks a file against,
// and what a schema can be made from.
func Grammar(lang Tables) Type {
	digital := Type{AnyOf: []string{"formats", "layouts"}, Keys: digitalKeys(lang)}
	oneFilter := "[]"
	if len(lang.Kinds) > 0 {
		oneFilter = "[{" + lang.Kinds[0].example() + "}]"
	}
	crossover := crossover(lang)
	keys := []Key{
		{Name: "bandwright", Effect: Inert, Type: Type{Integer: true, Min: version, Max: version}, Required: true,
			Doc: "The version of this language.", Example: "1"},
		{Name: "name", Effect: Inert, Type: Type{Stem: true}, Required: true,
			Doc: "Prefix of file names and C identifiers.", Example: "heron"},
		{Name: "title", Effect: Inert, Type: Type{Text: true},
			Doc: "Title in reports.", Example: "Heron, a three-way for recital halls"},
		{Name: "revision", Effect: Inert, Type: Type{Text: true},
			Doc: "Appears in every artefact with the spec's SHA-256.", Example: "B2"},
		{Name: "settings", Effect: Offers, Type: Type{Map: &Type{List: &Type{Text: true}, MinLen: 2, MaxLen: maxChoices}, Name: true, MaxLen: maxSettings},
			Doc: "Adjustments after shipping, each with its choices, the default first.", Example: "{placement: [free, wall]}"},
		{Name: "common", Effect: Wanted, Type: filters(),
			Doc: "The filters before the ways split.", Example: oneFilter},
		{Name: "ways", Effect: Wanted | Breaks, Type: Type{Map: &Type{Keys: wayKeys(lang)}, Name: true, MinLen: 1, MaxLen: maxWays}, Required: true,
			Doc: "The bands of the loudspeaker, low to high.", Example: "{bass: {}, treble: {}}"},
		{Name: "crossovers", Effect: Wanted, Type: Type{List: crossover, By: "between", MaxLen: maxWays - 1},
			Doc: "A low-pass for the lower and a high-pass for the upper of two neighbouring ways, after their own filters.", Example: "[" + strings.Replace(lang.example(lang.LowPass), "{", "{between: [bass, treble], ", 1) + "]"},
		{Name: "phase-compensation", Effect: Wanted, Type: Type{Words: []string{"none", "all-pass", "exact"}}, Default: "none",
			Doc:     "Whether ways outside a crossover get its phase: all-pass adds all-pass sections, exact also the lower crossovers' high-passes in the upper ways.",
			Example: "all-pass"},
		{Name: "promise", Effect: Promises, Type: Type{Keys: append([]Key{}, lang.Promises...)}, Default: "{}",
			Doc: "Limits that every realisation must keep; off drops one.", Example: "{magnitude: 0.1 dB}"},
		{Name: "regression", Effect: Tolerates, Type: Type{Keys: regressionKeys()}, Default: "{}",
			Doc: "How far responses may move from accepted results before a check fails.", Example: "{magnitude: 0.05 dB}"},
		{Name: "digital", Effect: Offers | RealisesDigital, Type: digital,
			Doc: "The sampling rates and number formats to realise the filters for; without it the product is an analog one.", Example: digital.example()},
		{Name: "dac", Effect: RealisesBoard, Type: Type{Keys: dacKeys()}, Default: "{}",
			Doc: "The converter that drives a board.", Example: "{full-scale: 2 V}"},
		{Name: "board", Effect: Offers | RealisesBoard, Type: Type{Keys: boardKeys()},
			Doc: "What op-amp stages are built from; {} takes all defaults, and without it no board is built.", Example: "{supply: 15 V}"},
	}
	at := slices.IndexFunc(keys, func(k Key) bool { return k.Name == "ways" })
	return Type{AnyOf: []string{"digital", "board"}, Keys: append(slices.Insert(keys, at, driversKey(lang)...), roomKey(lang)...)}
}

func filters() Type {
	return Type{List: &Type{Filter: true}, MaxLen: maxFilters}
}

func wayKeys(lang Tables) []Key {
	return append([]Key{
		{Name: "filters", Effect: Wanted, Type: filters(), Doc: "The way's own filters.", Example: "[]"},
		{Name: "gain", Effect: Wanted, Type: level(-120, 120), Default: "0 dB", Doc: "The way's gain, dB.", Example: "-4 dB"},
		{Name: "polarity", Effect: Wanted, Type: Type{Words: []string{"normal", "inverted"}, Meant: polarities}, Default: "normal", Doc: "Inverted changes the way's sign.", Example: "inverted"},
		{Name: "delay", Effect: Wanted, Type: Type{Dims: []Dim{Time, Length}, Min: 0, Max: math.Inf(1)}, Default: "0 ms",
			Doc: "A pure delay, at most 1 s; a length is divided by 343 m/s.", Example: "0.09 ms"},
	}, wayDriverKeys(lang)...)
}

// whenRefused says why a setting cannot switch a crossover.
var whenRefused = []refusal{{"when", "a crossover cannot depend on a setting", "leave `when` out; a filter of a way can have one"}}

// crossover has two forms: one filter for both sides, or one for each.
func crossover(lang Tables) *Type {
	between := Key{Name: "between", Effect: Wanted, Type: Type{List: &Type{Name: true, Of: "ways"}, MinLen: 2, MaxLen: 2}, Required: true,
		Doc: "Two neighbouring ways, the lower first.", Example: "[bass, treble]"}
	side := func(kind string) Type {
		t := Type{Keys: []Key{}, refused: whenRefused}
		if k, ok := lang.kind(kind); ok {
			t.Keys = append(t.Keys, k.Keys...)
		}
		t.Keys = append(t.Keys, methodOfFilter(lang)...)
		t.Keys = append(t.Keys, topologyOfFilter(lang)...)
		return t
	}
	both, low, high := side(lang.LowPass), side(lang.LowPass), side(lang.HighPass)
	both.Keys = append([]Key{between}, both.Keys...)
	// No stage is both a low-pass and a high-pass.
	both.Keys = slices.DeleteFunc(both.Keys, func(k Key) bool { return k.Name == "topology" })
	both.refused = append(slices.Clone(both.refused), refusal{"topology", "the two sides of a crossover are different stages", "write `low` and `high`, each with its own `topology`"})
	return &Type{Either: []Type{
		both,
		{Keys: []Key{
			between,
			{Name: "low", Effect: Wanted, Type: low, Required: true, Doc: "The low-pass of the lower way.", Example: lang.example(lang.LowPass)},
			{Name: "high", Effect: Wanted, Type: high, Required: true, Doc: "The high-pass of the upper way.", Example: lang.example(lang.HighPass)},
		}, refused: whenRefused},
	}}
}

func regressionKeys() []Key {
	return []Key{
		{Name: "magnitude", Effect: Tolerates, Type: positive(level(0, 100)), Default: "0.05 dB",
			Doc: "Largest change of the magnitude of a way or of the sum, dB.", Example: "0.05 dB"},
		{Name: "phase", Effect: Tolerates, Type: Type{Dims: []Dim{Angle}, Max: 180, Open: true}, Default: "0.5 deg",
			Doc: "Largest change of a way's phase, degrees.", Example: "0.5 deg"},
		{Name: "delay", Effect: Tolerates, Type: positive(Type{Dims: []Dim{Time}, Max: 1}), Default: "1 us",
			Doc: "Largest change of a way's delay or latency, s.", Example: "1 us"},
	}
}

func positive(t Type) Type {
	t.Open = true
	return t
}

func digitalKeys(lang Tables) []Key {
	return []Key{
		{Name: "rates", Effect: Offers, Type: Type{List: &Type{Dims: []Dim{Frequency}, Min: 8e3, Max: 768e3}, MinLen: 1, MaxLen: maxRates}, Required: true,
			Doc: "Sampling rates, 8 kHz to 768 kHz.", Example: "[48 kHz]"},
		{Name: "formats", Effect: Offers, Type: Type{List: &Type{Words: names(lang.Formats)}, MinLen: 1},
			Doc: "Number formats of the emitted C; none where there are layouts only.", Example: "[" + first(lang.Formats) + "]"},
		{Name: "method", Effect: RealisesDigital, Type: Type{Words: names(lang.Methods)}, Required: lang.DefaultMethod == "", Default: lang.DefaultMethod,
			Doc: "How analog sections become digital ones.", Example: first(lang.Methods)},
		{Name: "section-by-section", Effect: RealisesDigital, Type: Type{Words: []string{"true", "false"}}, Default: "false",
			Doc: "Whether each section is fitted separately, so that a changed filter changes only its own coefficients.", Example: "true"},
		{Name: "channels", Effect: Offers, Type: Type{Integer: true, Min: 1, Max: 64}, Default: "1",
			Doc: "How many channels run the same filters, each with its own settings; a stereo pair is 2.", Example: "2"},
		{Name: "headroom", Effect: Breaks, Type: level(0, 120), Default: "0 dB",
			Doc: "Attenuation at the input, dB.", Example: "6 dB"},
		{Name: "fade", Effect: Offers, Type: Type{Dims: []Dim{Time}, Min: 1e-3, Max: 1}, Default: "10 ms",
			Doc: "How long firmware fades from one choice of a setting to another, to silence and back, and in when it starts, 1 ms to 1 s.", Example: "20 ms"},
		{Name: "dither", Effect: RealisesDigital, Type: Type{Dims: []Dim{WordLength}, Min: float64(lang.Dither[0]), Max: float64(lang.Dither[1])},
			Doc: "Word length of the converters that outputs in fixed point are rounded to, with triangular dither; none unless it is given.", Example: "24 bit"},
		{Name: "layouts", Effect: Offers | RealisesDigital, Type: Type{List: &Type{Keys: layoutKeys(lang)}, By: "name", MinLen: 1, MaxLen: maxLayouts},
			Doc: "Coefficients for biquad engines that are not ours, verified in their arithmetic.", Example: "[" + layoutExample + "]"},
		{Name: "extra-biquads", Effect: RealisesDigital, Type: Type{Integer: true, Min: 0, Max: 3}, Default: "1",
			Doc: "How many biquads may be added to a way to keep a promise.", Example: "1"},
	}
}

// example is the kind as a user would write it, without braces around it.
func (k *Kind) example() string {
	if k.Example != "" {
		return k.Name + ": " + k.Example
	}
	t := Type{Keys: k.Keys}
	return k.Name + ": " + t.example()
}

// example is the mapping of a kind as a user would write it, {} where there is
// no such kind.
func (l Tables) example(kind string) string {
	k, ok := l.kind(kind)
	if !ok {
		return "{}"
	}
	return strings.TrimPrefix(k.example(), k.Name+": ")
}

// methodOfFilter is the key that gives one filter a method of its own.
func methodOfFilter(lang Tables) []Key {
	if len(lang.Methods) == 0 {
		return nil
	}
	return []Key{{Name: "method", Effect: RealisesDigital, Type: Type{Words: names(lang.Methods)},
		Doc: "Method for this filter; digital.method by default.", Example: first(lang.Methods)}}
}

// topologyOfFilter is the key that names a filter's op-amp stage.
func topologyOfFilter(lang Tables) []Key {
	if len(lang.Topologies) == 0 {
		return nil
	}
	return []Key{{Name: "topology", Effect: RealisesBoard, Type: Type{Words: names(lang.Topologies)},
		Doc: "Op-amp topology of this filter on a board; chosen automatically by default.", Example: first(lang.Topologies)}}
}

// arguments is the mapping of a filter kind: its own keys, `method` and `when`.
func (k *Kind) arguments(lang Tables) Type {
	t := Type{Keys: append([]Key{}, k.Keys...)}
	if !k.NoMethod {
		t.Keys = append(t.Keys, methodOfFilter(lang)...)
	}
	if !k.NoTopology {
		t.Keys = append(t.Keys, topologyOfFilter(lang)...)
	}
	if k.NoWhen {
		t.refused = []refusal{{"when", quoted(k.Name) + " cannot depend on a setting", "leave `when` out"}}
		return t
	}
	choice := Type{Text: true}
	t.Keys = append(t.Keys, Key{
		Name: "when", Effect: Wanted | Conditional, Type: Type{Map: &Type{Either: []Type{choice, {List: &choice, MinLen: 1, MaxLen: maxChoices}}}, MinLen: 1, MaxLen: maxSettings},
		Doc: "The choices of a setting that enable the filter.", Example: "{placement: wall}",
	})
	return t
}

// Arguments is the mapping of a filter of a kind: the kind's keys and those that
// every filter has; no keys where there is no such kind.
func (l Tables) Arguments(kind string) Type {
	k, _ := l.kind(kind)
	return k.arguments(l)
}

func (l Tables) kind(name string) (Kind, bool) {
	for _, k := range l.Kinds {
		if k.Name == name {
			return k, true
		}
	}
	return Kind{}, false
}

func names(table []Named) []string {
	var out []string
	for _, row := range table {
		out = append(out, row.Name)
	}
	return out
}

func first(table []Named) string {
	if len(table) == 0 {
		return ""
	}
	return table[0].Name
}

// polarities are other ways to write a polarity.
var polarities = map[string]string{
	"180": "inverted", "180 deg": "inverted", "180°": "inverted", "180 °": "inverted", "pi": "inverted", "reversed": "inverted", "reverse": "inverted",
	"negative": "inverted", "minus": "inverted", "-": "inverted", "-1": "inverted", "true": "inverted", "yes": "inverted",
	"0": "normal", "0 deg": "normal", "0°": "normal", "positive": "normal", "plus": "normal", "+": "normal", "1": "normal", "+1": "normal",
	"false": "normal", "no": "normal",
}
