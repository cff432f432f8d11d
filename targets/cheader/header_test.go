package cheader

import (
	"bytes"
	"math"
	"math/rand"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"bandwright/biquad/number"
	"bandwright/compiler/verify"
)

func TestEveryFormatHasAType(t *testing.T) {
	for _, f := range number.Formats {
		if _, err := wordTypeOf(f.Name); err != nil {
			t.Error(err)
		}
	}
	if _, err := wordTypeOf("q31"); err == nil {
		t.Error("a format without a row has a C type")
	}
}

func TestEmitIsDeterministicAndEmitsWhatIsAsked(t *testing.T) {
	for _, s := range shapes {
		first, again := emit(t, s.build()), emit(t, s.build())
		if len(first) != 2 || first[0].Name != s.name+"_float64.h" || first[1].Name != s.name+"_float32.h" {
			t.Fatalf("%s: %d files", s.name, len(first))
		}
		for i := range first {
			if !bytes.Equal(first[i].Data, again[i].Data) {
				t.Errorf("%s differs from run to run", first[i].Name)
			}
		}
		b := s.build()
		for i := range b.Digital {
			b.Digital[i].Asked = b.Digital[i].Format.Name == "float32"
		}
		if files := emit(t, b); len(files) != 1 || !bytes.Equal(files[0].Data, first[1].Data) {
			t.Errorf("%s: float64 was not asked for, %d files", s.name, len(files))
		}
	}
}

// The table's words, read back from the text, are the simulation's rows.
func TestTablesReadBack(t *testing.T) {
	line := regexp.MustCompile(`(?s)    \{ ([^{}]*) \},?`)
	for _, s := range shapes {
		b := s.build()
		for _, f := range emit(t, b) {
			var want []number.Row
			format := "float64"
			if strings.HasSuffix(f.Name, "_float32.h") {
				format = "float32"
			}
			for _, d := range b.Digital {
				if d.Format.Name != format {
					continue
				}
				for _, c := range cascades(d) {
					for _, slot := range c.Slots {
						want = append(want, number.Rows(slot, d.RateHz)...)
					}
				}
			}
			_, table, _ := bytes.Cut(f.Data, []byte("_section_table["))
			table, _, _ = bytes.Cut(table, []byte("\n};"))
			var got []number.Row
			for _, m := range line.FindAllSubmatch(table, -1) {
				var v [6]float64
				for i, w := range strings.Split(string(m[1]), ",") {
					w = strings.TrimSpace(w)
					bits := 64
					if format == "float32" {
						bits = 32
						if !strings.HasSuffix(w, "f") {
							t.Fatalf("%s: %q has no suffix", f.Name, w)
						}
						w = strings.TrimSuffix(w, "f")
					}
					x, err := strconv.ParseFloat(w, bits)
					if err != nil {
						t.Fatalf("%s: %v", f.Name, err)
					}
					v[i] = x
				}
				got = append(got, number.Row{C: v[0], B0: v[1], B1: v[2], B2: v[3], A1: v[4], A2: v[5]})
			}
			if len(want) == 0 {
				want = []number.Row{{B0: 1}} // the placeholder
			}
			if len(got) != len(want) {
				t.Fatalf("%s: %d rows, want %d", f.Name, len(got), len(want))
			}
			for i := range got {
				if got[i] != want[i] {
					t.Errorf("%s: row %d is %+v, want %+v", f.Name, i, got[i], want[i])
				}
			}
		}
	}
}

func TestWord(t *testing.T) {
	single, double := wordType{bits: 32, suffix: "f"}, wordType{bits: 64}
	for _, c := range []struct {
		w    wordType
		x    float64
		want string
	}{
		{single, 1, "1.0f"}, {single, math.Copysign(0, -1), "0.0f"}, {single, -0.1, "-0.1f"}, {single, 1e-5, "1e-05f"},
		{single, float64(float32(1) / 3), "0.33333334f"}, {double, 1.0 / 3, "0.3333333333333333"}, {double, 1e21, "1e+21"},
		{double, -2, "-2.0"}, {double, math.Copysign(0, -1), "0.0"},
	} {
		if got := c.w.word(c.x); got != c.want {
			t.Errorf("%g is %s, want %s", c.x, got, c.want)
		}
	}
	r := rand.New(rand.NewSource(1))
	for range 1000 {
		x := float32(math.Ldexp(r.NormFloat64(), r.Intn(60)-30))
		back, err := strconv.ParseFloat(strings.TrimSuffix(single.word(float64(x)), "f"), 32)
		if err != nil || float32(back) != x {
			t.Errorf("%g reads back as %g", x, back)
		}
	}
}

// No text of a spec may leave its comment or trip a warning.
func TestHostileTextStaysInItsComment(t *testing.T) {
	title := "a*/ int x; /* b \\\n # ?\x3f/ // \u202e right to left \x00 *\u200b/ " + strings.Repeat("*/", 3) + " *" + strings.Repeat("/*", 3) + "\r\n\ttail\\"
	s := shapes[0]
	s.settings = []verify.Setting{{Name: "one", Choices: []string{"0 dB", "-1.5 dB"}}}
	b := s.build()
	b.Spec.Title, b.Spec.Revision = title, title
	for i := range b.Digital {
		for k := range b.Digital[i].System.Common.Slots {
			b.Digital[i].System.Common.Slots[k].From = []string{title}
		}
	}
	p := program{headers: map[string][]byte{}, source: "#include \"heron_float32.h\"\nint main(void) { return 0; }\n"}
	for _, f := range emit(t, b) {
		p.headers[f.Name] = f.Data
	}
	dir := p.write(t)
	for _, compiler := range []string{"gcc", "clang"} {
		if out, err := compile(t, dir, compiler, append(strictC[:len(strictC):len(strictC)], "-fsyntax-only")...); err != nil {
			t.Errorf("%s: %v\n%s", compiler, err, out)
		}
	}
	for _, bad := range []string{"*/", "/*", "??", "//", "\\", "\n", "\u202e", "\u200b", "\x00"} {
		if got := comment(title); strings.Contains(got, bad) {
			t.Errorf("%q is left in %q", bad, got)
		}
	}
}

func TestNamesThatCollide(t *testing.T) {
	two := []string{"a", "b"}
	for _, c := range []struct {
		settings []verify.Setting
		ways     []string
		want     string
	}{
		{[]verify.Setting{{Name: "state", Choices: two}}, nil, "setting state both need the C name heron_state"},
		{[]verify.Setting{{Name: "a-b", Choices: two}, {Name: "a_b", Choices: two}}, nil, "heron_a_b"},
		{[]verify.Setting{{Name: "trim", Choices: []string{"1.5", "1 5"}}}, nil, "HERON_TRIM_1_5"},
		{[]verify.Setting{{Name: "way", Choices: []string{"bass", "b"}}}, nil, "HERON_WAY_BASS"},
		{[]verify.Setting{{Name: "x", Choices: two}, {Name: "set-x", Choices: two}}, nil, "heron_set_x"},
		{nil, []string{"a-b", "a_b"}, "HERON_WAY_A_B"},
	} {
		s := shapes[0]
		s.settings, s.sections = c.settings, 0
		b := s.build()
		for i := range b.Digital {
			for k, name := range c.ways {
				b.Digital[i].System.Ways[k].Name = name
			}
		}
		if _, err := Emit(b); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%v %v: %v", c.settings, c.ways, err)
		}
	}
}

// Every name that a header uses for itself is one that settings are kept off.
func TestOwnNamesAreComplete(t *testing.T) {
	token := regexp.MustCompile(`\b(heron|HERON)_(\w+)`)
	s := shapes[0]
	known := map[string]bool{}
	for _, n := range append(append([]string{}, own...), ownUpper...) {
		known[n] = true
	}
	for _, set := range s.settings {
		known[identifier(set.Name)], known["set_"+identifier(set.Name)] = true, true
	}
	used := map[string]bool{}
	for _, f := range emit(t, s.build()) {
		for _, m := range token.FindAllStringSubmatch(string(f.Data), -1) {
			name := m[2]
			used[name] = true
			enumerator := m[1] == "HERON" && regexp.MustCompile(`^(WAY|PLACEMENT|CLOTH|TREBLE_TRIM)_`).MatchString(name)
			file := regexp.MustCompile(`^(float32|float64|FLOAT32_H|FLOAT64_H)$`).MatchString(name)
			if !known[name] && !enumerator && !file {
				t.Errorf("%s: %s is not in the list of own names", f.Name, m[0])
			}
		}
	}
	for n := range known {
		if !used[n] {
			t.Errorf("%s is listed but not used", n)
		}
	}
}

// A header needs two standard headers and says what firmware people need.
func TestHeaderSays(t *testing.T) {
	b := shapes[0].build()
	for _, f := range emit(t, b) {
		text := string(f.Data)
		if n := strings.Count(text, "#include <"); n > 3 {
			t.Errorf("%s includes %d standard headers", f.Name, n)
		}
		for _, want := range []string{
			b.Spec.Title, "Revision B2", b.SHA256, "SUBTRACTED", "48000 or 96000", "make-up gain", "attenuated by 6 dB",
			"CAUTION", "inverted polarity", "HERON_TREBLE_TRIM_MINUS_1_5_DB", "samples of",
		} {
			if !strings.Contains(text, want) {
				t.Errorf("%s does not say %q", f.Name, want)
			}
		}
		if strings.Contains(text, "<no value>") || strings.Contains(text, "%!") {
			t.Errorf("%s: broken text", f.Name)
		}
		for i, line := range strings.Split(text, "\n") {
			if len(line) > 100 || strings.TrimRight(line, " \t") != line {
				t.Errorf("%s:%d: %q", f.Name, i+1, line)
			}
		}
	}
}

// Two rates that no whole number of hertz tells apart are refused.
func TestRatesMustDiffer(t *testing.T) {
	s := shapes[1]
	s.rates = []float64{44100, 44100.3}
	if _, err := Emit(s.build()); err == nil || !strings.Contains(err.Error(), "44100 Hz") {
		t.Errorf("got %v", err)
	}
}
