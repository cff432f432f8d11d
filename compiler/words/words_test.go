package words

import (
	"math"
	"math/rand/v2"
	"reflect"
	"strconv"
	"strings"
	"testing"
	"unicode/utf8"
)

func TestNumbers(t *testing.T) {
	for _, c := range []struct{ got, want string }{
		{Error(0, "dB"), "< 1e-9 dB"},
		{Error(-9.99e-10, "dB"), "< 1e-9 dB"},
		{Error(1e-9, "dB"), "1.00e-9 dB"},
		{Error(-7.3061, "dB"), "-7.31 dB"},
		{Error(0.00012345, "deg"), "0.000123 deg"},
		{Error(0.000099999, "dB"), "0.000100 dB"},
		{Signed(0.1, "dB"), "+0.100 dB"},
		{Signed(-0.1, "dB"), "-0.100 dB"},
		{Signed(5e-10, "dB"), "< 1e-9 dB"},
		{Level(-141.23, "dBFS"), "-141 dBFS"},
		{Level(3.206, "dBFS"), "+3.21 dBFS"},
		{Level(0.004, "dB"), "0 dB"},
		{Level(-0.004, "dB"), "0 dB"},
		{Level(-0.0123, "dB"), "-0.01 dB"},
		{Level(0.996, "dB"), "+1.00 dB"},
		{Level(-6.0206, "dB"), "-6.02 dB"},
		{Three(999.7), "1000"},
		{Three(1234567), "1.23e6"},
		{Three(-0.0999999), "-0.100"},
		{NoSample(math.NaN()), "not a number"},
		{NoSample(math.Inf(-1)), "infinite"},
		{NoSample(-1e30), "-1.00e30 times full scale"},
		{Short(20), "20"},
		{Short(0.70710678), "0.707"},
		{Short(1e7), "1e7"},
		{Exact(0.1), "0.1"},
		{Exact(96000), "96000"},
		{Exact(1e-7), "1e-7"},
		{Hz(55.84), "55.84 Hz"},
		{Hz(999.96), "1 kHz"},
		{Hz(999.94), "999.9 Hz"},
		{Hz(19800), "19.8 kHz"},
		{Hz(2300), "2.3 kHz"},
		{Hz(20), "20 Hz"},
		{Hz(353280), "353.3 kHz"},
		{Rate(44100), "44.1 kHz"},
		{Rate(11025), "11.025 kHz"},
		{Rate(48000), "48 kHz"},
		{Rate(768000), "768 kHz"},
		{Seconds(0), "0 s"},
		{Seconds(2.13e-5), "21.3 us"},
		{Seconds(-0.00209), "-2.09 ms"},
		{Seconds(0.99999e-3), "1.00 ms"},
		{Seconds(1e-15), "< 1e-6 us"},
		{Part(16934.7, "ohm"), "16.93 kohm"},
		{Part(4.7e-9, "F"), "4.7 nF"},
		{Part(999.96, "ohm"), "1 kohm"},
		{Part(-15, "V"), "-15 V"},
		{Part(0.00185, "V"), "1.85 mV"},
		{Part(0, "F"), "0 F"},
		{Part(1e-13, "F"), "0.1 pF"},
		{Part(2.5e13, "ohm"), "25000 Gohm"},
		{Count(1, "promise", "promises"), "1 promise"},
		{Count(0, "promise", "promises"), "0 promises"},
		{List(nil), ""},
		{List(Once([]string{"b", "a", "b"})), "b and a"},
		{List([]string{"a", "b", "c"}), "a, b and c"},
	} {
		if c.got != c.want {
			t.Errorf("got %q, want %q", c.got, c.want)
		}
	}
}

// Exact must lose nothing, whatever notation it chooses.
// A figure that is no limit does not read like it, whatever the unit: the two are read back.
func TestBeside(t *testing.T) {
	for _, c := range []struct {
		unit     Unit
		x, limit float64
		want     string
	}{
		{DBFS, 0.0006676041218725004, 0, "+0.000668 dBFS"},
		{DBFS, 0.02532, 0, "+0.03 dBFS"},
		{DBFS, -0.004, 0, "-0.004 dBFS"},
		{DBFS, -110.2, -110, "-110.2 dBFS"},
		{DBFS, -110, -110, "-110 dBFS"},
		{DB, 0.10004, 0.1, "0.10004 dB"},
		{DB, 0.25, 0.1, "0.250 dB"},
		{Volt, 0.05002, 0.05, "50.02 mV"},
		{Volt, 0.0508, 0.05, "50.8 mV"},
		{Second, 0.0020001, 0.002, "2.0001 ms"},
		{Share, 0.9499, 0.95, "94.99 %"},
		{Deg, 5.0004, 5, "5.0004 deg"},
	} {
		if got := c.unit.Beside(c.x, c.limit); got != c.want {
			t.Errorf("%v beside %v: %q, want %q", c.x, c.limit, got, c.want)
		}
	}
}

func TestExactReadsBack(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 20000 {
		x := (r.Float64() - 0.5) * float64(int64(1)<<r.IntN(60)) / float64(int64(1)<<r.IntN(60))
		if back, err := strconv.ParseFloat(Exact(x), 64); err != nil || back != x {
			t.Fatalf("%v became %q", x, Exact(x))
		}
	}
}

func TestTable(t *testing.T) {
	var tb Table
	tb.Row("way", "error", "at")
	tb.Row("größe", "-7.31 dB", "20 kHz")
	want := []string{
		"  way    error     at",
		"  größe  -7.31 dB  20 kHz",
	}
	if got := tb.Lines("  ", 100); !reflect.DeepEqual(got, want) {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	tb.Row("a_name_that_goes_on", "0 dB")
	want = []string{
		"way      error     at",
		"größe    -7.31 dB  20 kHz",
		"a_...on  0 dB",
	}
	if got := tb.Lines("", 25); !reflect.DeepEqual(got, want) {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}

func TestTableCutsNamesOnly(t *testing.T) {
	tb := Table{Names: 1}
	tb.Row("promise", "way", "worst")
	tb.Row("magnitude", "the_left_one", "0.1 dB")
	tb.Row("magnitude", "the_right_one", "0.2 dB")
	want := []string{
		"promise    way     worst",
		"magnitude  th...e  0.1 dB",
		"magnitude  th...e  0.2 dB",
	}
	if got := tb.Lines("", 25); !reflect.DeepEqual(got, want) {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}

// A number is never parted from its unit.
func TestWrapKeepsUnits(t *testing.T) {
	got := Wrap("at most 12.5 kHz, (or -3 dB) here", "", "", 14)
	want := []string{"at most", "12.5 kHz, (or", "-3 dB) here"}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
}

func TestWrap(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	letters := []rune("abcäöΩ     ")
	for range 2000 {
		text := make([]rune, r.IntN(200))
		for i := range text {
			text[i] = letters[r.IntN(len(letters))]
		}
		width := 8 + r.IntN(40)
		lines := Wrap(string(text), "- ", "   ", width)
		joined := ""
		for i, l := range lines {
			if n := utf8.RuneCountInString(l); n > width {
				t.Fatalf("%d characters, at most %d: %q", n, width, l)
			}
			if i == 0 {
				l = strings.TrimPrefix(l, "-")
			}
			joined += strings.Join(strings.Fields(l), "")
		}
		if want := strings.Join(strings.Fields(string(text)), ""); joined != want {
			t.Fatalf("lost text: %q became %q", want, joined)
		}
	}
}

func TestJSON(t *testing.T) {
	const src = `{"a":[1,-0,2.5e-3,4,5,6,7,8,9,10,11,12],"b":{"c":{},"d":"x, [\"y\"]: {z}"},"e":[],"f":["one","two","three"]}`
	for _, c := range []struct {
		style JSON
		want  string
	}{
		{JSON{Width: 200, Indent: 1}, `{"a": [1, 0, 2.5e-3, 4, 5, 6, 7, 8, 9, 10, 11, 12], "b": {"c": {}, "d": "x, [\"y\"]: {z}"}, "e": [], "f": ["one", "two", "three"]}`},
		{JSON{Width: 24, Indent: 1}, `{
 "a": [
  1, 0, 2.5e-3, 4, 5, 6,
  7, 8, 9, 10, 11, 12
 ],
 "b": {
  "c": {},
  "d": "x, [\"y\"]: {z}"
 },
 "e": [],
 "f": ["one", "two", "three"]
}`},
		{JSON{Width: 12, Indent: 1, Packed: map[string]int{"a": 0, "b": 1, "f": 0}}, `{
 "a": [1, 0, 2.5e-3, 4, 5, 6, 7, 8, 9, 10, 11, 12],
 "b": {
  "c": {},
  "d": "x, [\"y\"]: {z}"
 },
 "e": [],
 "f": ["one", "two", "three"]
}`},
		{JSON{Width: 40, Indent: 2, Tables: true}, `{
  "a": [
    1, 0, 2.5e-3, 4, 5, 6, 7, 8, 9, 10,
    11, 12
  ],
  "b": {
    "c": {},
    "d": "x, [\"y\"]: {z}"
  },
  "e": [],
  "f": ["one", "two", "three"]
}`},
		{JSON{Width: 20, Indent: 2, Tables: true}, `{
  "a": [
    1, 0, 2.5e-3, 4,
    5, 6, 7, 8, 9,
    10, 11, 12
  ],
  "b": {
    "c": {},
    "d": "x, [\"y\"]: {z}"
  },
  "e": [],
  "f": [
    "one", "two",
    "three"
  ]
}`},
	} {
		if got := string(c.style.LayOut([]byte(src))); got != c.want {
			t.Errorf("%+v: got\n%s\nwant\n%s", c.style, got, c.want)
		}
	}
	for src, want := range map[string]string{"-0": "0", `["one", "two"]`: "[\n\"one\",\n\"two\"\n]"} {
		if got := string(JSON{Width: 10}.LayOut([]byte(src))); got != want {
			t.Errorf("got %s, want %s", got, want)
		}
	}
}
