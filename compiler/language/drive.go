package language

import (
	"fmt"
	"slices"
	"strings"
)

// Levels is the largest sine at the board's input: one for all, or one for each choice of
// a setting.
type Levels struct {
	V  []float64 // V RMS
	By int       // index of Spec.Settings, -1 where one level is for all
	// Setting and Choices are what that setting is called, and its choices; "" and nil
	// where one level is for all.
	Setting string
	Choices []string
}

// In is the level (V RMS) in a combination, one choice for every setting; the greatest of
// all without one.
func (l Levels) In(c []uint8) float64 {
	if l.By < 0 {
		return l.V[0]
	}
	if c == nil {
		return slices.Max(l.V)
	}
	return l.V[c[l.By]]
}

// With are the levels with another one (V RMS) in a combination, of all choices without one.
func (l Levels) With(c []uint8, v float64) Levels {
	l.V = slices.Clone(l.V)
	for i := range l.V {
		if l.By < 0 || c == nil || int(c[l.By]) == i {
			l.V[i] = v
		}
	}
	return l
}

// String is "2 V", or "2 V with source: line, 700 mV with source: phone".
func (l Levels) String() string {
	if l.By < 0 {
		return written(l.V[0], Voltage)
	}
	var out []string
	for i, v := range l.V {
		out = append(out, written(v, Voltage)+" with "+l.Setting+": "+l.Choices[i])
	}
	return strings.Join(out, ", ")
}

// For says what the level in a combination is for, "source: phone"; "" where one is for
// all, and without a combination.
func (l Levels) For(c []uint8) string {
	if l.By < 0 || c == nil {
		return ""
	}
	return l.Setting + ": " + l.Choices[c[l.By]]
}

var levelV = within(Voltage, 1e-3, 100)

func inputLevelKey() Key {
	return Key{Name: "level", Effect: RealisesBoard,
		Type:    Type{Either: []Type{levelV, {Map: &Type{Map: &levelV, MinLen: 1, MaxLen: maxChoices}, Name: true, MinLen: 1, MaxLen: 1}}},
		Doc:     "RMS voltage of the largest sine at the input, V, or one for each choice of a setting, as in {source: {line: 2 V, phone: 0.7 V}}; dac.full-scale by default.",
		Example: "2 V"}
}

// inputLevel reads `input.level`.
func (b *builder) inputLevel(v *Value) Levels {
	one := Levels{V: []float64{b.spec.FullScaleV}, By: -1}
	switch {
	case v == nil:
		return one
	case v.Fields == nil:
		one.V[0] = v.Number
		return one
	}
	f := v.Fields[0]
	i := slices.IndexFunc(b.spec.Settings, func(s Setting) bool { return s.Name == f.Key })
	if i < 0 {
		b.unknownSetting(f, "give `level` one voltage")
		return one
	}
	out := Levels{V: make([]float64, len(b.spec.Settings[i].Choices)), By: i, Setting: f.Key}
	if f.Value == nil {
		return one // with a fault of its own
	}
	given := make([]bool, len(out.V))
	example := ""
	for _, g := range f.Value.Fields {
		k := b.choiceIndex(i, g.Key, g.KeyPos)
		if k < 0 {
			return one
		}
		if given[k] = true; g.Value != nil {
			out.V[k], example = g.Value.Number, g.Value.Text
		}
	}
	for k, c := range b.spec.Settings[i].Choices {
		if c == nil {
			return one // with a fault of its own
		}
		out.Choices = append(out.Choices, c.Text)
		if !given[k] {
			b.fault(f.KeyPos, fmt.Sprintf("`level` has no voltage for %s, a choice of the setting %s", quoted(c.Text), quoted(f.Key)),
				"add "+code(c.Text+": "+example))
			return one
		}
	}
	return out
}

// MostRailV is the highest rail of either sign that a board may have, V.
const MostRailV = 60

// outputCurrentKey, supplyCurrentKey and supplyRangeKey are what an op-amp gives, takes
// and stands.
func outputCurrentKey() Key {
	return Key{Name: "output-current", Effect: RealisesBoard, Type: within(Current, 1e-4, 10), Default: "25 mA",
		Doc: "Peak output current, A, beyond which an op-amp clips.", Example: "25 mA"}
}

func supplyCurrentKey() Key {
	return Key{Name: "supply-current", Effect: RealisesBoard, Type: within(Current, 1e-7, 1), Default: "4 mA",
		Doc: "Supply current of one op-amp at rest, A; that of a package divided by its op-amps.", Example: "4 mA"}
}

func supplyRangeKey() Key {
	return Key{Name: "supply-range", Effect: RealisesBoard, Type: Type{Range: true, Dims: []Dim{Voltage}, Min: 0.5, Max: MostRailV},
		Doc: "Rails that the op-amp may have, plus and minus this as `supply` is, V: half of what data sheets give between the rails. Not checked by default.", Example: "5 V to 18 V"}
}

// supplyRange reads what rails the op-amp is made for, and refuses others.
func (b *builder) supplyRange(board *Value, d *Board) {
	r, s := board.Get("op-amp").Get("supply-range"), board.Get("supply")
	if r == nil {
		return
	}
	d.OpAmp.RailLowV, d.OpAmp.RailHighV = r.Number, r.High
	if s == nil || s.Number >= r.Number && s.Number <= r.High {
		return
	}
	at, subject := s.Pos, "a supply of ±"+written(s.Number, Voltage)
	if !s.Given {
		at, subject = r.Pos, subject+", the default of `board.supply`,"
	}
	b.fault(at, fmt.Sprintf("%s is outside of what the op-amp is made for, ±%s to ±%s", subject, written(r.Number, Voltage), written(r.High, Voltage)),
		"change `supply`, or `op-amp.supply-range`: both are the voltage of one rail, half of what is between the two")
}
