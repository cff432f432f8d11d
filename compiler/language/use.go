package language

import (
	"fmt"
	"math"
)

// ratedC is the temperature (°C) that part values are given at.
const ratedC = 25

func temperatureKey() Key {
	return Key{Name: "temperature", Effect: SpreadsBoards, Type: Type{Range: true, Dims: []Dim{Temperature}, Min: -55, Max: 150},
		Doc: "Temperature of the board in use, degC; by default 25 degC, at which values are given.", Example: "10 degC to 45 degC"}
}

func trimKey() Key {
	return Key{Name: "trim", Effect: Offers | RealisesBoard | SpreadsBoards, Type: level(0.05, 6),
		Doc: "Range of each way's level trimmer at its output, plus and minus this, dB: set at test; none by default.", Example: "1 dB"}
}

func tempcoKey() Key {
	return Key{Name: "tempco", Effect: SpreadsBoards, Type: within(TemperatureCoefficient, -0.01, 0.01, "0"), Default: "0",
		Doc: "Largest change of a value with temperature, ppm/K, over `board.temperature`: plus or minus, whichever sign it has.", Example: "50 ppm/K"}
}

func ageingKey() Key {
	return Key{Name: "ageing", Effect: SpreadsBoards, Type: within(Share, 0, 0.2, "0"), Default: "0",
		Doc: "Largest change of a value over the years of use, plus or minus, 0 to 20 %.", Example: "1 %"}
}

// use reads how a board is used, and warns of what has no effect.
func (b *builder) use(v *Value, d *Board) {
	d.ColdC, d.HotC, d.TrimDB = ratedC, ratedC, v.Get("trim").number()
	if t := v.Get("temperature"); t != nil {
		d.ColdC, d.HotC = t.Number, t.High
		return
	}
	for _, name := range []string{"resistors", "capacitors"} {
		if t := v.Get(name).Get("tempco"); t != nil && t.Number != 0 {
			b.warn(t.Pos, "`tempco` has no effect: the board's temperature in use is that of the values, 25 degC", "add `temperature: 10 degC to 45 degC` to `board`")
		}
	}
}

// drift is what is wrong with temperatures at which nothing would be left of a value of a stock, and where: at what the
// block of the stock says of heat, otherwise at the temperature.
func (d *Board) drift(name string, of *Stock, v *Value) (at Pos, p problem) {
	heat := v.Get("temperature")
	if heat == nil {
		return at, p
	}
	most, worst := math.Max(math.Abs(d.ColdC-ratedC), math.Abs(d.HotC-ratedC)), of.Tempco
	at = heat.Pos
	if t := v.Get(name).Get("tempco"); t != nil && t.Given {
		at = t.Pos
	}
	for _, p := range of.Parts {
		if x := math.Abs(p.TempCo); x > worst {
			worst, at = x, of.File.Pos
		}
	}
	if worst*most < 1 {
		return at, p
	}
	return at, problem{fmt.Sprintf("a `tempco` of %s over the %s K from 25 degC to an end of %s is a change of %s: nothing may be left of a value", written(worst, TemperatureCoefficient),
		plainNumber(most), quoted(heat.Text), written(worst*most, Share)), "give a smaller `tempco`, or a `temperature` nearer to 25 degC"}
}

// number is that of a value, 0 of none.
func (v *Value) number() float64 {
	if v == nil {
		return 0
	}
	return v.Number
}
