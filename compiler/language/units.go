package language

import (
	"math"
	"strconv"
	"strings"
)

// unit is one way to write a quantity: as many of the dimension's own unit as
// 10^exp.
type unit struct {
	name string
	dim  Dim
	exp  int
}

// units is every unit of the language, in the order that messages list them.
// Where a unit is missing they propose the first of the dimension that the
// type's range has room for.
var units = []unit{
	{"Hz", Frequency, 0}, {"kHz", Frequency, 3}, {"MHz", Frequency, 6},
	{"dB", Level, 0},
	{"dBFS", FullScale, 0},
	{"dBu", VoltageLevel, 0},
	{"ms", Time, -3}, {"us", Time, -6}, {"s", Time, 0},
	{"mm", Length, -3}, {"cm", Length, -2}, {"m", Length, 0},
	{"deg", Angle, 0},
	{"ohm", Resistance, 0}, {"kohm", Resistance, 3}, {"Mohm", Resistance, 6},
	{"F", Capacitance, 0}, {"uF", Capacitance, -6}, {"nF", Capacitance, -9}, {"pF", Capacitance, -12},
	{"H", Inductance, 0}, {"mH", Inductance, -3}, {"uH", Inductance, -6},
	{"V", Voltage, 0}, {"mV", Voltage, -3}, {"uV", Voltage, -6},
	{"nV/rtHz", VoltageNoise, -9},
	{"A", Current, 0}, {"mA", Current, -3}, {"uA", Current, -6}, {"nA", Current, -9}, {"pA", Current, -12},
	{"pA/rtHz", CurrentNoise, -12}, {"fA/rtHz", CurrentNoise, -15},
	{"W", Power, 0}, {"kW", Power, 3},
	{"g", Mass, -3}, {"kg", Mass, 0}, {"mg", Mass, -6},
	{"cm2", Area, -4}, {"mm2", Area, -6}, {"m2", Area, 0},
	{"l", Volume, -3}, {"dm3", Volume, -3}, {"cm3", Volume, -6}, {"m3", Volume, 0},
	{"T m", ForceFactor, 0}, {"N/A", ForceFactor, 0},
	{"kg/s", Damping, 0}, {"N s/m", Damping, 0},
	{"mm/N", Compliance, -3}, {"um/N", Compliance, -6}, {"m/N", Compliance, 0},
	{"%", Share, -2},
	{"degC", Temperature, 0},
	{"ppm/K", TemperatureCoefficient, -6}, {"ppm/degC", TemperatureCoefficient, -6},
	{"V/us", SlewRate, 6},
	{"bit", WordLength, 0},
}

// nouns are the dimensions in a sentence.
var nouns = map[Dim]string{
	Frequency: "a frequency", Level: "a level in dB", FullScale: "a level in dBFS", VoltageLevel: "a level in dBu",
	Time: "a time", Length: "a length", Angle: "an angle", Resistance: "a resistance", Capacitance: "a capacitance",
	Inductance: "an inductance", Voltage: "a voltage", VoltageNoise: "a voltage noise density", Current: "a current",
	CurrentNoise: "a current noise density", Power: "a power", Mass: "a mass", Area: "an area", Volume: "a volume",
	ForceFactor: "a force factor", Damping: "a mechanical resistance", Compliance: "a compliance", Share: "a percentage",
	Temperature: "a temperature", TemperatureCoefficient: "a temperature coefficient", SlewRate: "a slew rate", WordLength: "a word length",
}

// letters maps the other spellings of a unit's letters to the table's. A product may also be written without what
// stands between its letters (Tm).
var letters = strings.NewReplacer("\u00b5", "u", "\u03bc", "u", "\u03a9", "ohm", "\u2126", "ohm", "\u00b0C", "degC", "\u221aHz", "rtHz", "\u00b7", " ")

func unitNamed(name string) (unit, bool) {
	name = letters.Replace(name)
	for _, u := range units {
		if u.name == name || strings.ReplaceAll(u.name, " ", "") == name {
			return u, true
		}
	}
	return unit{}, false
}

// unitsOf are the units of the dimensions, in the table's order.
func unitsOf(dims ...Dim) []string {
	var out []string
	for _, d := range dims {
		for _, u := range units {
			if u.dim == d {
				out = append(out, u.name)
			}
		}
	}
	return out
}

// scaled is the number that the decimal text means times 10^exp, rounded once:
// the exponent is changed in the text, since multiplying by a power of ten
// rounds a second time. The text is in our number grammar. ok is false where
// the result is not a finite number or a number that is not 0 becomes 0.
func scaled(text string, exp int) (x float64, ok bool) {
	mant, e := text, exp
	if i := strings.IndexAny(text, "eE"); i >= 0 {
		written, err := strconv.Atoi(text[i+1:])
		if err != nil {
			return 0, false
		}
		mant, e = text[:i], written+exp
	}
	x, err := strconv.ParseFloat(mant+"e"+strconv.Itoa(e), 64)
	if err != nil {
		return 0, false
	}
	if x == 0 {
		return 0, !strings.ContainsAny(mant, "123456789") // and never -0
	}
	return x, true
}

// number is the length of the longest prefix in the number grammar
// [+-]?(0|[1-9][0-9]*)(\.[0-9]+)?([eE][+-]?[0-9]{1,3})?, 0 for none.
func number(s string) int {
	digits := func(i int) int {
		for i < len(s) && s[i] >= '0' && s[i] <= '9' {
			i++
		}
		return i
	}
	i := 0
	if i < len(s) && (s[i] == '+' || s[i] == '-') {
		i++
	}
	whole := digits(i)
	if whole == i {
		return 0
	}
	if s[i] == '0' {
		whole = i + 1
	}
	i = whole
	if i < len(s) && s[i] == '.' {
		if j := digits(i + 1); j > i+1 {
			i = j
		}
	}
	if i < len(s) && (s[i] == 'e' || s[i] == 'E') {
		j := i + 1
		if j < len(s) && (s[j] == '+' || s[j] == '-') {
			j++
		}
		if k := digits(j); k > j {
			i = min(k, j+3)
		}
	}
	return i
}

// isWhole reports whether s is a sign and digits, nothing else.
func isWhole(s string) bool {
	s = strings.TrimLeft(s, "+-")
	return s != "" && strings.Trim(s, "0123456789") == ""
}

// written is a quantity as a user would write it: in the unit that needs the
// fewest digits before and behind the point.
func written(x float64, dim Dim) string {
	best := ""
	for _, u := range units {
		if u.dim != dim {
			continue
		}
		v, err := strconv.ParseFloat(shifted(x, -u.exp), 64)
		if err != nil {
			continue
		}
		t := strconv.FormatFloat(v, 'f', -1, 64)
		if a := math.Abs(v); a >= 1e7 || a > 0 && a < 1e-4 {
			t = strconv.FormatFloat(v, 'e', -1, 64)
		}
		if best == "" || len(t) < len(best[:strings.IndexByte(best, ' ')]) {
			best = t + " " + u.name
		}
	}
	if best == "" {
		return strconv.FormatFloat(x, 'g', -1, 64)
	}
	return best
}

// shifted is the shortest decimal of x with 10^exp more in its exponent.
func shifted(x float64, exp int) string {
	t := strconv.FormatFloat(x, 'e', -1, 64)
	i := strings.IndexByte(t, 'e')
	e, _ := strconv.Atoi(t[i+1:])
	return t[:i+1] + strconv.Itoa(e+exp)
}
