package promise

import (
	"math"
	"strconv"
	"strings"

	"bandwright/compiler/language"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// Row is one promise: what verification has to know of it, and how a spec
// writes it. Its Name is its key in the promise block, its Unit that of
// findings.
type Row struct {
	verify.Promise
	Doc string // one sentence, with the unit
	// Type is the limit as a spec writes it, `off` apart. Without a dimension
	// the promise stands in no spec: it is always demanded.
	Type language.Type
	// Default is what a spec demands that does not name the promise. Example
	// is a limit for the documentation where the default is off.
	Default Limit
	Example float64
	// Written is the unit of the spec where it is not that of findings.
	Written words.Unit
	// Distance: the spec gives how far below 0 a level has to stay, so that more
	// is stricter. Of every other limit less is stricter.
	Distance bool
	// Within is the promise whose limit this one is about: where that is off, this one
	// promises nothing. nil where it stands by itself.
	Within *Row
	// Shapes are the realisations that are made to keep this promise.
	Shapes language.Effect
	// Null: NAME.json has null for it where it is off, as in the first version
	// of that file. Any other promise is left out there.
	Null bool
	// At: the spec does not give the limit, which is the drivers' and the amplifiers', but
	// the level of the input at which it has to hold, as in {at: -12 dB}.
	At bool
	// InAir: it is about drivers and amplifiers.
	InAir bool
	// Driven is the default where every way has a driver; nil where that changes nothing.
	Driven *Limit
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
func (r *Row) InSpec() bool { return r.Type.Dims != nil || r.At }

// Key is the promise in the grammar.
func (r *Row) Key() language.Key {
	k := language.Key{Name: r.Name, Doc: r.Doc, Type: r.Type, Effect: language.Promises | r.Shapes, Default: off, Example: r.written().Limit(r.Example)}
	k.Type.Words = []string{off}
	if r.At {
		k.Type = language.Type{Either: []language.Type{{Keys: []language.Key{atLevel}}, {Words: []string{off}}}}
		k.Example = "{" + atLevel.Name + ": " + k.Example + "}"
		return k
	}
	if r.Default.On {
		k.Default = r.written().Limit(r.Default.Value)
		k.Example = k.Default
	}
	return k
}

// written is the unit that a spec gives the limit in.
func (r *Row) written() words.Unit {
	if r.Written != words.Plain {
		return r.Written
	}
	return r.Unit
}

// off drops a promise.
const off = "off"

// Field is the promise in NAME.json: "board_magnitude_db".
func (r *Row) Field() string {
	return strings.ReplaceAll(r.Name, "-", "_") + "_" + strings.ToLower(r.written().String())
}

// limit reads the promise from its block, where the grammar has filled in
// every default; driven: every way of the spec has a driver.
func (r *Row) limit(block *language.Value, driven bool) Limit {
	v := block.Get(r.Name)
	if v != nil && !v.Given && driven && r.Driven != nil {
		return *r.Driven
	}
	if r.At {
		v = v.Get(atLevel.Name)
	}
	if v == nil || v.Word == off {
		return Limit{}
	}
	return Limit{On: true, Value: v.Number}
}

// rounding (dB) keeps the rounding of a gain of exactly one from breaking a
// headroom of exactly zero: a ten-millionth of full scale.
const rounding = 1e-6

// three writes a figure rounded up to three significant digits.
func three(unit words.Unit) func(float64) string {
	return func(x float64) string { return upTo3(x) + " " + unit.String() }
}

// whole writes a level rounded up to whole decibels.
func whole(unit words.Unit) func(float64) string {
	return func(x float64) string {
		return strconv.FormatFloat(math.Ceil(x), 'f', -1, 64) + " " + unit.String()
	}
}

func upTo3(x float64) string {
	if !(x > 0) {
		return "0"
	}
	scale := 1.0
	for x*scale < 100 {
		scale *= 10
	}
	for x*scale >= 1000 {
		scale /= 10
	}
	return strconv.FormatFloat(math.Ceil(x*scale)/scale, 'g', 4, 64)
}
