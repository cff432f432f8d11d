package promise

import (
	"strings"

	"bandwright/compiler/language"
	"bandwright/compiler/words"
)

// Row is one promise.
type Row struct {
	// Name is what findings call it, and its key in the promise block.
	Name string
	Doc  string // one sentence, with the unit
	// Type is the limit as a spec writes it, `off` apart. Without a dimension
	// the promise stands in no spec: it is always demanded.
	Type language.Type
	// Default is what a spec demands that does not name the promise. Example
	// is a limit for the documentation where the default is off.
	Default Limit
	Example float64
	// Unit is that of findings, Written that of the spec: they differ where the
	// spec gives a distance and the finding a level.
	Unit, Written words.Unit
	// Distance: the spec gives how far a figure has to stay away, so that more
	// is stricter. Of every other limit less is stricter.
	Distance bool
	// LessIsWorse: the figure is one that has to be large, such as a margin.
	LessIsWorse bool
	// Shapes are the realisations that are made to keep this promise.
	Shapes language.Effect
	// Null: NAME.json has null for it where it is off, as in the first version
	// of that file. Any other promise is left out there.
	Null bool
	// beside are the parameters of the block that stand behind it.
	beside []*Parameter
}

// Limit is a promise's limit; a promise that the spec drops is not On.
type Limit struct {
	On    bool
	Value float64
}

// demanded is a default that holds.
func demanded(value float64) Limit { return Limit{On: true, Value: value} }

// InSpec reports whether a spec can set or drop the promise.
func (r *Row) InSpec() bool { return r.Type.Dims != nil }

// Key is the promise in the grammar.
func (r *Row) Key() language.Key {
	k := language.Key{Name: r.Name, Doc: r.Doc, Type: r.Type, Effect: language.Promises | r.Shapes, Default: off, Example: r.Written.Limit(r.Example)}
	k.Type.Words = []string{off}
	if r.Default.On {
		k.Default = r.Written.Limit(r.Default.Value)
		k.Example = k.Default
	}
	return k
}

// off drops a promise.
const off = "off"

// Field is the promise in NAME.json: "board_magnitude_db".
func (r *Row) Field() string {
	return strings.ReplaceAll(r.Name, "-", "_") + "_" + strings.ToLower(r.Written.String())
}

// limit reads the promise from its block, where the grammar has filled in
// every default.
func (r *Row) limit(block *language.Value) Limit {
	v := block.Get(r.Name)
	if v == nil || v.Word == off {
		return Limit{}
	}
	return Limit{On: true, Value: v.Number}
}
