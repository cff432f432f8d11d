// Package language reads the YAML file that decides everything: grammar,
// positions, units. Bytes come in, a Spec goes out, or faults that each name
// file, line and column and show what would be right.
//
// The package stands at the bottom: it does not know which filter kinds,
// methods or number formats exist. Their rows arrive as Tables, and one
// walker checks every mapping against the key tables, so that a key is
// declared in one place for the parser, the diagnostics and the JSON Schema.
// The one invariant: a value that left Parse without a fault is finite, inside
// its declared range and in SI units (Hz, s, m, …; dB as written).
//
// Read first: Type, Key, Value, Parse.
package language

import (
	"slices"
	"strings"
)

// Dim is the dimension of a quantity.
type Dim string

// The dimensions, each with the unit that Value.Number is in. units.go lists
// how a user may write them.
const (
	Frequency              Dim = "frequency"               // Hz
	Level                  Dim = "level"                   // dB
	FullScale              Dim = "level re full scale"     // dBFS
	VoltageLevel           Dim = "level re 0.775 V"        // dBu
	Time                   Dim = "time"                    // s
	Length                 Dim = "length"                  // m
	Angle                  Dim = "angle"                   // degrees
	Resistance             Dim = "resistance"              // ohm
	Capacitance            Dim = "capacitance"             // F
	Inductance             Dim = "inductance"              // H
	Voltage                Dim = "voltage"                 // V
	VoltageNoise           Dim = "voltage noise density"   // V/√Hz
	Current                Dim = "current"                 // A
	CurrentNoise           Dim = "current noise density"   // A/√Hz
	Power                  Dim = "power"                   // W
	Mass                   Dim = "mass"                    // kg
	Area                   Dim = "area"                    // m²
	Volume                 Dim = "volume"                  // m³
	ForceFactor            Dim = "force factor"            // T·m
	Damping                Dim = "mechanical resistance"   // kg/s
	Compliance             Dim = "compliance"              // m/N
	Share                  Dim = "share"                   // 1, so 99 % is 0.99
	Temperature            Dim = "temperature"             // °C
	TemperatureCoefficient Dim = "temperature coefficient" // 1/K
	SlewRate               Dim = "slew rate"               // V/s
	WordLength             Dim = "word length"             // bit
)

// Type says how a value is written. Exactly one of the alternatives is meant:
// the fields that are set name it. A nil slice does not name an alternative.
type Type struct {
	// A quantity has one of these dimensions and carries its unit.
	Dims []Dim
	// A plain number has no unit. An integer may be written 4 or 4.0.
	Number, Integer bool
	// Min and Max bound a quantity (in its Dim's unit) or a number, whatever the
	// dimension where there are several; Open excludes the bounds themselves.
	// Max = 0 with Min > 0 means no upper bound, Max = 0 with Min = 0 unbounded,
	// and Open with both 0 greater than 0. An infinite bound is none.
	Min, Max float64
	Open     bool
	// Range is a pair of quantities "a to b" of the one dimension in Dims,
	// a < b, both inside Min and Max.
	Range bool
	// Words are accepted as they stand: choices, or "inf", "off", "complete"
	// beside a quantity or a number. "0" beside a quantity allows the bare 0.
	Words []string
	// Meant is which word is meant by what users write in its place: other names
	// and abbreviations, in lower case.
	Meant map[string]string
	// Text is free text on one line, of at most MaxLen characters (0: 200); Name an identifier [a-z][a-z0-9_-]*, such
	// as a way's; Stem a name that is a C identifier as it stands,
	// [a-z][a-z0-9_]* and no word of C or C++.
	Text, Name, Stem bool
	// Of is the block of the spec, a mapping with free names, of whose entries a Name is one.
	Of string
	// Files are the endings, such as ".csv", of which the name of a file in the spec's own
	// folder or below it, with slashes, has one.
	Files []string
	// Reference are the letters that a part's reference may begin with: one of them,
	// then digits, and behind those of an op-amp (U) a letter.
	Reference string
	// A list of one element type, from MinLen to MaxLen elements; MaxLen = 0
	// means no limit of its own.
	List           *Type
	MinLen, MaxLen int
	// By is the key that tells the mappings of a list apart, where one does.
	By string
	// A mapping of these keys, of which at least one of AnyOf has to be there
	// where there are any.
	Keys  []Key
	AnyOf []string
	// Map is a mapping with free names as keys, in file order, all values of
	// one type (ways, settings, when), from MinLen to MaxLen entries. With Name
	// its keys are identifiers. Of a mapping with Idle an entry does nothing until a value elsewhere names it.
	Map  *Type
	Idle bool
	// Parts is a mapping with the references of parts as keys, each value of the type
	// that goes with its key's letter.
	Parts []PartType
	// Any of these, told apart by their YAML node (a scalar, a list, a mapping);
	// two mappings of Keys by the keys that only one of them has.
	Either []Type
	// Filter is a single-key mapping of a filter kind of the tables.
	Filter bool
	// refused are keys that a user may well expect in a mapping of Keys, with
	// the reason why they are not there.
	refused []refusal
}

// PartType is the type of the values whose keys are references with this letter.
type PartType struct {
	Letter string
	Type   Type
}

// Table is the keys of a mapping, of all its forms together, each once.
func (t *Type) Table() []Key {
	out := slices.Clone(t.Keys)
	for i := range t.Either {
		for _, k := range t.Either[i].Table() {
			if !slices.Contains(keyNames(out), k.Name) {
				out = append(out, k)
			}
		}
	}
	return out
}

type refusal struct{ key, message, right string }

// Key is a row of a key table.
type Key struct {
	Name     string
	Effect   Effect // of another value; a row without one is not sound
	Type     Type
	Required bool
	// Default is what leaving the key out means, as a user would write it: a
	// scalar, or {} for a mapping of its own defaults; "" for none.
	Default string
	// Doc is one sentence for help, schema and documentation, with the unit.
	Doc string
	// Example is a value as a user would write it.
	Example string
}

// Kind is a filter kind's row: its keys beside `when`.
type Kind struct {
	Name, Doc string
	Keys      []Key
	// Bare is the key meant when a filter is written as a single scalar rather
	// than a mapping (none in version 1 if "").
	Bare string
	// NoWhen forbids `when` (a pure delay).
	NoWhen bool
	// NoTopology forbids `topology` (nothing for a stage to be).
	NoTopology bool
	// NoMethod forbids `method` (nothing to choose: a gain, a pure delay).
	NoMethod bool
	// Example is the kind's mapping as a user would write it; "" for one of the
	// required keys' examples.
	Example string
}

// Named is a row of a table of named things: a method, a number format.
type Named struct{ Name, Doc string }

// Tables is what the tables of the other packages add to the grammar. Check
// says whether they are sound.
type Tables struct {
	Kinds   []Kind
	Methods []Named
	// DefaultMethod is the method of a spec that names none; "" where it has to.
	DefaultMethod string
	Formats       []Named
	// Dither is the fewest and the most bits of words that there is dither for.
	Dither [2]int
	// Engines says which biquad engines coefficients can be laid out for.
	Engines Engines
	// Topologies are the op-amp stages that a filter may name.
	Topologies []Named
	// Balanced are those that no filter may name: only a board's input is one.
	Balanced []Named
	// Switched are those of which a selector picks a tap: no section is one of them.
	Switched []Named
	// Mountings are what stands around a driver, Wirings how several are connected, the
	// default first; without mountings a spec has no drivers.
	Mountings, Wirings []Named
	// Promises are the keys of the promise block.
	Promises []Key
	// The kinds that a crossover's sides are: the low-pass joins the lower way,
	// the high-pass the upper one. The two rows have the same keys, so that one
	// filter can be written for both sides.
	LowPass, HighPass string
}

// Engines is what a biquad engine of somebody else's may be like.
type Engines struct {
	Forms     []Named
	Sequences []Named
	// The least and the most bits of a coefficient, a sample, a sum.
	Word, Data, Accumulator [2]int
}

// Pos is a place in a file: lines and columns count from 1, columns in
// runes. The zero Pos means no place.
type Pos struct{ Line, Col int }

// Value is a checked value with its place. A default has the place of the
// mapping that left its key out: of the key or the kind that holds it.
type Value struct {
	Pos    Pos
	Text   string  // of a scalar, as written; for a default, the table's text
	Given  bool    // false for a default that the table filled in
	Number float64 // in the unit of Dim, or the plain number; never -0
	Dim    Dim     // of a quantity
	Word   string  // the word of Type.Words, the name or the text; else ""
	High   float64 // upper end of a Range; Number is the lower
	Items  []*Value
	Fields []Field // of a mapping, in file order
}

// Field is one entry of a mapping.
type Field struct {
	Key    string
	KeyPos Pos
	Value  *Value
}

// Get is the value of a key, nil where the mapping has none. It may be called
// on a nil value.
func (v *Value) Get(key string) *Value {
	if v == nil {
		return nil
	}
	for _, f := range v.Fields {
		if f.Key == key {
			return f.Value
		}
	}
	return nil
}

// With is a mapping with another number in the place of a scalar inside it; false where
// it has no such scalar. It shares what is not changed.
func (v *Value) With(scalar *Value, number float64) (*Value, bool) {
	for i, f := range v.Fields {
		changed := f.Value == scalar
		x := *f.Value
		if changed {
			x.Number = number
		} else if y, ok := f.Value.With(scalar, number); ok {
			x, changed = *y, true
		}
		if changed {
			out := *v
			out.Fields = slices.Clone(v.Fields)
			out.Fields[i].Value = &x
			return &out, true
		}
	}
	return v, false
}

// Quantity is a scalar's number in the unit of its dimension, a length as the
// time that sound takes for it: where a spec may hold a length it may hold a
// time as well.
func (v *Value) Quantity() float64 {
	if v.Dim == Length {
		return v.Number / SpeedOfSound
	}
	return v.Number
}

// Spec is a whole file, checked for grammar.
type Spec struct {
	File                  string
	Source                []byte // as read, the bytes that the SHA-256 is of; not to be changed
	Tree                  *Value // the file as it was checked, every default filled in; not to be changed
	Name, Title, Revision string
	Settings              []Setting
	Common                []Filter
	Ways                  []Way
	Crossovers            []Crossover
	PhaseCompensation     string // none, all-pass or exact
	Drivers               []DriverModel
	Room                  *Room  // nil for a spec without one
	Promise               *Value // every key of the promise table, defaults filled in
	Regression            *Value // every key of the regression table, defaults filled in
	Digital               *Digital
	FullScaleV            float64 // V, RMS of the largest sine at the converter's output
	Board                 *Board  // nil for a spec without one
}

// Setting is a named adjustment that exists after shipping. The first choice
// is the default.
type Setting struct {
	Name    string
	Pos     Pos
	Choices []*Value // compared and printed as their source text
}

// Way is one band of the loudspeaker.
type Way struct {
	Name     string
	Pos      Pos
	Filters  []Filter
	GainDB   float64
	Inverted bool
	DelayS   float64 // s, at most 1; a length is divided by the speed of sound
	DelayPos Pos
	// Driver and Amplifier are nil where the spec does not say.
	Driver    *WayDriver
	Amplifier *Amplifier
}

// HasDrivers reports whether a spec says of every way what its amplifier drives, so that
// the sum in the air is known.
func (s *Spec) HasDrivers() bool {
	return !slices.ContainsFunc(s.Ways, func(w Way) bool { return w.Driver == nil })
}

// Filter is one line of the spec.
type Filter struct {
	Path string // "common[0]", "ways.bass.filters[1]", "crossovers[0].low"
	Kind string
	Pos  Pos    // of the kind's name
	Args *Value // every key of the kind's table, defaults filled in where there is one
	When []Condition
	// Method is the filter's own row of Tables.Methods, "" for the spec's.
	Method string
	// Topology is the filter's own row of Tables.Topologies, "" for the board's
	// choice; TopologyPos is where it stands.
	Topology    string
	TopologyPos Pos
}

// Label is the filter as artefacts name it: "common[0] high-pass".
func (f Filter) Label() string { return f.Path + " " + f.Kind }

// KindIn is the kind that a label ends in.
func KindIn(label string) string { return label[strings.LastIndexByte(label, ' ')+1:] }

// Condition restricts a filter to some choices of one setting.
type Condition struct {
	Setting int // index into Spec.Settings
	Pos     Pos
	Choices []int // indices into the setting's choices, ascending
}

// Crossover is one entry of `crossovers`: Low joins the lower way's filters,
// High the upper one's.
type Crossover struct {
	Pos          Pos
	Lower, Upper int // indices into Spec.Ways, Upper = Lower + 1
	Low, High    Filter
	// Same is true where one filter was written for both sides.
	Same bool
}

// Digital is the `digital` block.
type Digital struct {
	Pos          Pos
	RatesHz      []float64 // whole numbers
	RatePos      []Pos
	Formats      []string
	Channels     int
	HeadroomDB   float64
	FadeS        float64 // how long a change of setting, a mute or a start takes to fade
	Dither       int     // bits of the converters' words; 0 for none
	DitherPos    Pos
	Method       string // a row of Tables.Methods
	ExtraBiquads int
	// SectionBySection asks for fits that keep every section to itself.
	SectionBySection bool
	Layouts          []Layout
}

// Layout is a biquad engine that coefficients are laid out for, and how they are written.
type Layout struct {
	Pos                               Pos
	Name                              string
	Word, Fraction, Data, Accumulator int // bits
	Form                              string
	Sections                          string   // a row of Tables.Engines.Sequences
	FirstOrder                        bool     // sections with real roots are split into two of the first order
	Nearest                           bool     // sums are rounded to the nearest sample, not down
	Order                             []string // b0, b1, b2, a1, a2 as they follow one another
	Plus                              bool     // the engine adds the feedback: a1 and a2 are written with the other sign
	As                                string   // a row of LayoutFiles
}

// LayoutFiles are the ways in which a layout's words are written.
var LayoutFiles = []Named{
	{Name: "c", Doc: "C arrays in a header."},
	{Name: "hex", Doc: "Hexadecimal text, a section a line."},
	{Name: "binary", Doc: "Big-endian bytes, and a text that says where each section is."},
}
