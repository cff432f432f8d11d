package language

import (
	"math"
	"strconv"
	"testing"
)

// TestUnits reads one value in every unit. The wanted numbers are the SI
// prefixes (BIPM, The International System of Units, 9th ed., table 7) and
// 1 l = 1 dm³, as decimal literals.
func TestUnits(t *testing.T) {
	for _, c := range []struct {
		text string
		dim  Dim
		want float64
	}{
		{"4.7 Hz", Frequency, 4.7}, {"4.7 kHz", Frequency, 4.7e3}, {"4.7 MHz", Frequency, 4.7e6},
		{"-3.3 dB", Level, -3.3}, {"-110 dBFS", FullScale, -110}, {"-95 dBu", VoltageLevel, -95},
		{"4.7 s", Time, 4.7}, {"4.7 ms", Time, 4.7e-3}, {"4.7 us", Time, 4.7e-6}, {"4.7 µs", Time, 4.7e-6}, {"4.7 μs", Time, 4.7e-6},
		{"4.7 m", Length, 4.7}, {"4.7 cm", Length, 4.7e-2}, {"4.7 mm", Length, 4.7e-3},
		{"5 deg", Angle, 5},
		{"4.7 ohm", Resistance, 4.7}, {"4.7 Ω", Resistance, 4.7}, {"4.7 \u2126", Resistance, 4.7}, {"4.7 kohm", Resistance, 4.7e3}, {"4.7 kΩ", Resistance, 4.7e3}, {"4.7 Mohm", Resistance, 4.7e6},
		{"4.7 F", Capacitance, 4.7}, {"4.7 uF", Capacitance, 4.7e-6}, {"4.7 nF", Capacitance, 4.7e-9}, {"4.7 pF", Capacitance, 4.7e-12},
		{"0.3 H", Inductance, 0.3}, {"0.3 mH", Inductance, 0.3e-3},
		{"2 V", Voltage, 2}, {"2 mV", Voltage, 2e-3}, {"2 uV", Voltage, 2e-6}, {"5 nV/rtHz", VoltageNoise, 5e-9},
		{"2 A", Current, 2}, {"2 mA", Current, 2e-3}, {"2 uA", Current, 2e-6}, {"2 nA", Current, 2e-9}, {"2 pA", Current, 2e-12}, {"0.5 pA/rtHz", CurrentNoise, 0.5e-12},
		{"150 W", Power, 150}, {"48 g", Mass, 48e-3}, {"4.8 kg", Mass, 4.8}, {"340 cm2", Area, 340e-4}, {"38 l", Volume, 38e-3},
		{"7 T m", ForceFactor, 7}, {"1.2 kg/s", Damping, 1.2}, {"0.4 mm/N", Compliance, 0.4e-3},
		{"34000 mm2", Area, 340e-4}, {"0.034 m2", Area, 340e-4}, {"38 dm3", Volume, 38e-3}, {"38000 cm3", Volume, 38e-3}, {"0.038 m3", Volume, 38e-3},
		{"300 uH", Inductance, 0.3e-3}, {"300 mg", Mass, 0.3e-3}, {"0.15 kW", Power, 150}, {"7 N/A", ForceFactor, 7}, {"7 Tm", ForceFactor, 7}, {"7 T·m", ForceFactor, 7},
		{"1.2 N s/m", Damping, 1.2}, {"1.2 N·s/m", Damping, 1.2}, {"1.2 Ns/m", Damping, 1.2}, {"400 um/N", Compliance, 0.4e-3}, {"400 µm/N", Compliance, 0.4e-3}, {"4e-4 m/N", Compliance, 0.4e-3},
		{"5 nV/√Hz", VoltageNoise, 5e-9}, {"500 fA/rtHz", CurrentNoise, 0.5e-12}, {"-30 ppm/degC", TemperatureCoefficient, -30e-6}, {"-30 ppm/°C", TemperatureCoefficient, -30e-6}, {"40 °C", Temperature, 40},
		{"99 %", Share, 0.99}, {"40 degC", Temperature, 40}, {"25 ppm/K", TemperatureCoefficient, 25e-6},
		{"10 V/us", SlewRate, 10e6}, {"24 bit", WordLength, 24},
	} {
		x, dim, ok := quantity(c.text, []Dim{c.dim})
		if !ok || dim != c.dim || x != c.want {
			t.Errorf("%s: got %v %v %v, want %v", c.text, x, dim, ok, c.want)
		}
	}
	for _, u := range units {
		if nouns[u.dim] == "" {
			t.Errorf("%s has no noun for messages", u.dim)
		}
	}
}

// TestScaling compares the scaled text with the decimal that the user meant,
// which strconv reads on its own, for every three-digit value. Scaling by a
// multiplication fails it: 15, 257 and 426 of 999 values are then one unit in
// the last place off.
func TestScaling(t *testing.T) {
	byProduct := 0
	for _, c := range []struct {
		unit string
		dim  Dim
		exp  int
	}{{"kHz", Frequency, 3}, {"ms", Time, -3}, {"nF", Capacitance, -9}} {
		for n := 1; n <= 999; n++ {
			text := strconv.Itoa(n/100) + "." + strconv.Itoa(n/10%10) + strconv.Itoa(n%10)
			want, err := strconv.ParseFloat(text+"e"+strconv.Itoa(c.exp), 64)
			if err != nil {
				t.Fatal(err)
			}
			if x, _, ok := quantity(text+" "+c.unit, []Dim{c.dim}); !ok || x != want {
				t.Errorf("%s %s: got %v, want %v", text, c.unit, x, want)
			}
			plain, _ := strconv.ParseFloat(text, 64)
			ten, _ := strconv.ParseFloat("1e"+strconv.Itoa(c.exp), 64)
			if plain*ten != want {
				byProduct++
			}
		}
	}
	if byProduct < 300 {
		t.Errorf("only %d values tell the two ways apart", byProduct)
	}
}

func TestNumbers(t *testing.T) {
	for _, c := range []struct {
		text string
		want float64
	}{
		{"0", 0}, {"-0", 0}, {"+0.0", 0}, {"1", 1}, {"-12.5", -12.5}, {"+3", 3}, {"1e3", 1000}, {"1E+3", 1000}, {"2.5e-3", 0.0025},
		{"0.1", 0.1}, {"1e308", 1e308}, {"123456789012345678901234567890", 123456789012345678901234567890},
	} {
		x, _, ok := quantity(c.text, nil)
		if !ok || x != c.want || math.Signbit(x) != (c.want < 0) {
			t.Errorf("%s: got %v %v, want %v", c.text, x, ok, c.want)
		}
	}
	for _, text := range []string{
		"", "-", "+", ".", ".5", "5.", "010", "00", "-01", "1_000", "0x1F", "0o17", "0b1", "1e", "1e+", "e3", "1e1000", "1e999", "1e-999",
		"--1", "+-1", "1 ", " 1", "1,5", "1'000", "\u22121", "nan", "NaN", "inf", "-inf", ".inf", "Infinity", "1.2.3", "1/3", "２",
	} {
		if x, _, ok := quantity(text, nil); ok {
			t.Errorf("%q is read as %v", text, x)
		}
	}
}

func TestQuantityForms(t *testing.T) {
	for _, text := range []string{"22 Hz", "22Hz", "22\u00a0Hz", "+22 Hz", "2.2e1 Hz", "0.022 kHz", "0.022kHz", "2.2e-2 kHz", "22e-6MHz"} {
		if x, _, ok := quantity(text, []Dim{Time, Frequency}); !ok || x != 22 {
			t.Errorf("%q: got %v %v, want 22", text, x, ok)
		}
	}
	for _, text := range []string{
		"22", "0", "22  Hz", "22 \u00a0Hz", "22 Hz ", " 22 Hz", "22 hz", "22 HZ", "22 Khz", "22 khz", "22 k", "22k", "4k7", "22 Hz Hz", "Hz", "22\tHz",
		"22 dB", "22 Ω", "22 \u202fHz", "22 K", "1,2 kHz", "1e308 kHz", "1e-330 Hz",
	} {
		if x, dim, ok := quantity(text, []Dim{Frequency, Time}); ok {
			t.Errorf("%q is read as %v %v", text, x, dim)
		}
	}
}

// TestExplanations holds the words about every slip with a number.
func TestExplanations(t *testing.T) {
	frequency := Type{Dims: []Dim{Frequency}, Max: 10e6, Open: true}
	gain := Type{Dims: []Dim{Level}, Min: -60, Max: 60}
	noise := Type{Dims: []Dim{FullScale}, Min: -200, Max: 0}
	delay := Type{Dims: []Dim{Time, Length}, Max: 10}
	resistance := Type{Dims: []Dim{Resistance}}
	plain := Type{Number: true, Words: []string{"inf"}}
	for _, c := range []struct {
		t                    Type
		text, message, right string
	}{
		{frequency, "22", "`22` has no unit: `x` is a frequency", "write `22 Hz` (or kHz, MHz)"},
		{frequency, "0", "`0` has no unit: `x` is a frequency", "it takes a frequency (Hz, kHz or MHz)"},
		{gain, "0", "`0` has no unit: `x` is a level in dB", "write `0 dB`"},
		{delay, "3", "`3` has no unit: `x` is a time or a length", "write `3 ms` (or us, s, mm, cm, m)"},
		{frequency, "1,2 kHz", "`1,2 kHz` has a decimal comma", "write `1.2 kHz`"},
		{frequency, "1,2", "`1,2` has a decimal comma and has no unit", "write `1.2 Hz` (or kHz, MHz)"},
		{frequency, "1,200,000 Hz", "`1,200,000 Hz` has commas between its digits", "write `1200000 Hz`"},
		{frequency, "1 200 Hz", "`1 200 Hz` has a separator between its digits", "write `1200 Hz`"},
		{frequency, "1_200Hz", "`1_200Hz` has a separator between its digits", "write `1200 Hz`"},
		{frequency, "10k", "`10k` has a prefix without a unit", "write `10 kHz`"},
		{frequency, "4k7", "`4k7` has a prefix instead of a decimal point", "write `4.7 kHz`"},
		{resistance, "4k7", "`4k7` has a prefix instead of a decimal point", "write `4.7 kohm`"},
		{resistance, "4.7 kOhm", "`4.7 kOhm` has its unit in the wrong case", "write `4.7 kohm`"},
		{resistance, "4.7 mohm", "`mohm` is not a unit of `x`", "units: ohm, kohm, Mohm"},
		{frequency, "1e3  Hz", "`1e3  Hz` has an extra space before its unit", "write `1e3 Hz`"},
		{frequency, "1e3hz", "`1e3hz` has its unit in the wrong case", "write `1e3 Hz`"},
		{frequency, "-1,5", "`-1,5` has a decimal comma and has no unit", "it takes a frequency (Hz, kHz or MHz)"},
		{frequency, "22 Khz", "`22 Khz` has its unit in the wrong case", "write `22 kHz`"},
		{frequency, "22KHZ", "`22KHZ` has its unit in the wrong case", "write `22 kHz`"},
		{frequency, "22 mHz", "`mHz` is not a unit of `x`", "units: Hz, kHz, MHz"},
		{frequency, "22 hertz", "`hertz` is not a unit of `x`", "units: Hz, kHz, MHz"},
		{frequency, "22  Hz", "`22  Hz` has an extra space before its unit", "write `22 Hz`"},
		{frequency, "22 Hz\u00a0", "`22 Hz<U+00A0>` has an extra space", "write `22 Hz`"},
		{frequency, "kHz", "`kHz` is a unit without a number", "it takes a frequency (Hz, kHz or MHz)"},
		{frequency, "a lot", "`a lot` is not a value of `x`", "it takes a frequency (Hz, kHz or MHz)"},
		{frequency, "22 ms", "`22 ms` is a time, but `x` is a frequency", "it takes a frequency (Hz, kHz or MHz)"},
		{delay, "5 deg", "`5 deg` is an angle, but `x` is a time or a length", "it takes a time (ms, us or s) or a length (mm, cm or m)"},
		{noise, "-110 dB", "`-110 dB` is a level in dB, but `x` is a level in dBFS", "write `-110 dBFS`"},
		{gain, "-6 dBFS", "`-6 dBFS` is a level in dBFS, but `x` is a level in dB", "write `-6 dB`"},
		{gain, "\u22123 dB", "`\u22123 dB` begins with a dash (U+2212) that is not the minus sign `-`", "write `-3 dB`"},
		{gain, "\u2013 3,5dB", "`\u2013 3,5dB` begins with a dash (U+2013) that is not the minus sign `-` and has a decimal comma", "write `-3.5 dB`"},
		{gain, "- 3 dB", "`- 3 dB` has a space after its sign", "write `-3 dB`"},
		{gain, ".5 dB", "`.5 dB` has no digit before its decimal point", "write `0.5 dB`"},
		{gain, "-.5 dB", "`-.5 dB` has no digit before its decimal point", "write `-0.5 dB`"},
		{gain, "5. dB", "`5. dB` has no digit after its decimal point", "write `5 dB`"},
		{frequency, "010 Hz", "`010 Hz` has a leading zero", "write `10 Hz`"},
		{frequency, "0x20 Hz", "`0x20 Hz` is hexadecimal", "it takes a frequency (Hz, kHz or MHz)"},
		{frequency, ".nan", "`.nan` is not a valid number for `x`", "it takes a frequency (Hz, kHz or MHz)"},
		{frequency, ".nan Hz", "`.nan Hz` is not a valid number for `x`", "it takes a frequency (Hz, kHz or MHz)"},
		{gain, "-.inf dB", "`-.inf dB` is not a valid number for `x`", "it takes a level in dB"},
		{frequency, "-Infinity", "`-Infinity` is not a valid number for `x`", "it takes a frequency (Hz, kHz or MHz)"},
		{frequency, "1e999 Hz", "`1e999 Hz` is too large or too small", "it takes a frequency (Hz, kHz or MHz)"},
		{frequency, "1e-999 Hz", "`1e-999 Hz` is too large or too small", "it takes a frequency (Hz, kHz or MHz)"},
		{frequency, "92 Hz b: c", "`92 Hz b: c` has a colon in it", "put a comma before the next key, or begin a new line for it"},
		{plain, "3 dB", "`3 dB` has a unit, but `x` is a plain number", "write `3`"},
		{plain, "70 %", "`70 %` has a percent sign, but `x` is a plain number", "it takes a plain number or `inf`"},
		{plain, "0,7", "`0,7` has a decimal comma", "write `0.7`"},
		{plain, "07", "`07` has a leading zero", "write `7`"},
		{plain, "Infinity", "`Infinity` is not a valid number for `x`", "write `inf`"},
		{plain, "INF", "`INF` is not a value of `x`", "did you mean `inf`?"},
	} {
		p := explain(c.text, &c.t, "`x`", "")
		if p.message != c.message || p.right != c.right {
			t.Errorf("%s: got\n\t%s\n\t%s\nwant\n\t%s\n\t%s", c.text, p.message, p.right, c.message, c.right)
		}
	}
}

func TestBounds(t *testing.T) {
	for _, c := range []struct {
		t    Type
		x    float64
		dim  Dim
		want string
	}{
		{Type{}, -1e300, "", ""},
		{Type{Open: true}, 0, "", "more than 0"},
		{Type{Open: true}, 1e-300, "", ""},
		{Type{Min: 1}, 0.5, Time, "at least 1 s"},
		{Type{Min: 1}, 1, Time, ""},
		{Type{Min: -60}, 0.1, Level, "from -60 dB to 0 dB"},
		{Type{Max: 5}, -0.1, "", "from 0 to 5"},
		{Type{Min: math.Inf(-1), Max: 5}, 5.5, "", "at most 5"},
		{Type{Min: math.Inf(-1), Max: 5, Open: true}, 5, "", "less than 5"},
		{Type{Min: 0.02, Max: 2e6, Open: true}, 2e6, Frequency, "more than 0.02 Hz and less than 2 MHz"},
		{Type{Max: math.Inf(1)}, -1, Length, "at least 0 mm"},
	} {
		if got := c.t.bounds(c.x, c.dim); got != c.want {
			t.Errorf("%+v, %v: got %q, want %q", c.t, c.x, got, c.want)
		}
	}
}

func TestWritten(t *testing.T) {
	for _, c := range []struct {
		x    float64
		dim  Dim
		want string
	}{
		{48000, Frequency, "48 kHz"}, {44100, Frequency, "44.1 kHz"}, {20, Frequency, "20 Hz"}, {0.1, Frequency, "0.1 Hz"}, {384e3, Frequency, "384 kHz"},
		{1e-3, Time, "1 ms"}, {0.09e-3, Time, "90 us"}, {-1.5, Level, "-1.5 dB"}, {4.7e-9, Capacitance, "4.7 nF"}, {0.99, Share, "99 %"},
	} {
		if got := written(c.x, c.dim); got != c.want {
			t.Errorf("%v %s: got %q, want %q", c.x, c.dim, got, c.want)
		}
	}
}

func TestEnumName(t *testing.T) {
	for s, want := range map[string]string{
		"wall": "WALL", "treble-trim": "TREBLE_TRIM", "-1.5 dB": "MINUS_1_5_DB", "+3 dB": "PLUS_3_DB", "0 dB": "0_DB",
		"a -3 dB": "A_MINUS_3_DB", "a-3": "A_3", "-": "_", "-x": "_X", "-.5": "MINUS__5",
	} {
		if got := EnumName(s); got != want {
			t.Errorf("%q: got %s, want %s", s, got, want)
		}
	}
}
