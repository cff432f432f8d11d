package cheader

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/biquad/number"
	"bandwright/compiler"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

func TestEmitIsDeterministicAndEmitsWhatIsAsked(t *testing.T) {
	for _, s := range shapes {
		first, again := emit(t, s.build()), emit(t, s.fresh())
		if len(first) != 2*len(number.Formats) {
			t.Fatalf("%s: %d files", s.name, len(first))
		}
		for i, f := range first {
			if want := s.name + "_" + number.Formats[i/2].Name + []string{".h", ".c"}[i%2]; f.Name != want {
				t.Errorf("%s: file %d is %s", s.name, i, f.Name)
			}
			if !bytes.Equal(f.Data, again[i].Data) {
				t.Errorf("%s differs from run to run", f.Name)
			}
		}
		for k, f := range number.Formats {
			b := s.build()
			for i := range b.Digital {
				b.Digital[i].Asked = b.Digital[i].Format.Name == f.Name
			}
			if files := emit(t, b); len(files) != 2 || !bytes.Equal(files[1].Data, first[2*k+1].Data) {
				t.Errorf("%s: only %s was asked for, %d files", s.name, f.Name, len(files))
			}
		}
	}
}

// code is the .c files of what is emitted, one a format.
func code(t *testing.T, b *compiler.Build) []compiler.File {
	t.Helper()
	var out []compiler.File
	for _, f := range emit(t, b) {
		if strings.HasSuffix(f.Name, ".c") {
			out = append(out, f)
		}
	}
	return out
}

// fields are the names of the words that a row holds, in order.
func fields(c []byte) []string {
	m := regexp.MustCompile(`(?m)^/\* ((?:\w+, )*\w+) of every section`).FindSubmatch(c)
	if m == nil {
		return nil
	}
	return strings.Split(string(m[1]), ", ")
}

// constantsOf are those of a table of C, without comments.
func constantsOf(c []byte, table string) []string {
	_, text, any := bytes.Cut(c, []byte(table+"["))
	if !any {
		return nil
	}
	text, _, _ = bytes.Cut(text, []byte("\n};"))
	_, text, _ = bytes.Cut(text, []byte("{\n"))
	text = regexp.MustCompile(`(?s)/\*.*?\*/`).ReplaceAll(text, nil)
	var out []string
	for _, word := range strings.Split(string(text), ",") {
		out = append(out, strings.TrimSpace(word))
	}
	return out
}

// kindsRun are the kinds of the loops that lists run rows in, by where the rows begin: each of a list's passes takes
// rows that follow each other.
func kindsRun(t *testing.T, c []byte, rate float64, length func(kind int) int) map[int]int {
	t.Helper()
	lists := constantsOf(c, fmt.Sprintf("_lists_%.0f", rate))
	if lists == nil {
		return nil // no sections at all
	}
	number := func(pattern string) int {
		m := regexp.MustCompile(pattern).FindSubmatch(c)
		n, err := strconv.ParseInt(string(m[1]), 0, 64)
		if err != nil {
			t.Fatal(err)
		}
		return int(n)
	}
	row, head := number(`_ROW (0x[0-9a-f]+)u`), number(`_HEAD (\d+)`)
	bits := 3
	if bytes.Contains(c, []byte("3 delta)")) || bytes.Contains(c, []byte("2 mirrored")) {
		bits = 2
	}
	out := map[int]int{}
	for _, w := range lists {
		word, err := strconv.Atoi(strings.TrimSuffix(w, "u"))
		if err != nil {
			t.Fatal(err)
		}
		kind, at := word>>head&(1<<bits-1), word&row
		for range word >> (head + bits) {
			out[at] = kind
			at += length(kind)
		}
	}
	return out
}

// The table's words, read back from the text, are those of the simulation's rows.
func TestTablesReadBack(t *testing.T) {
	for _, s := range shapes {
		b := s.build()
		for k, f := range code(t, b) {
			format := number.Formats[k]
			for _, d := range b.Digital {
				if d.Format.Name != format.Name {
					continue
				}
				var want []number.Row
				d.System = number.Arranged(d.System)
				var shared []biquad.Slot[biquad.Digital]
				add := func(slots []biquad.Slot[biquad.Digital]) {
					for _, slot := range slots {
						if len(slot.By) > 0 {
							if slices.ContainsFunc(shared, func(x biquad.Slot[biquad.Digital]) bool { return samePosition(x, slot) }) {
								continue // it stands behind another way, too
							}
							shared = append(shared, slot)
						}
						for _, r := range number.Rows(slot) {
							if !r.Through() { // what changes nothing has no row
								want = append(want, r)
							}
						}
					}
				}
				twice := number.DoubledOf(d.System)
				for i, c := range cascades(d) { // what always runs of all stands in front
					add(c.Slots[:twice[i].Fixed])
				}
				for i, c := range cascades(d) {
					add(c.Slots[twice[i].Fixed:])
				}
				got, held := constantsOf(f.Data, fmt.Sprintf("_sections_%.0f", d.RateHz)), fields(f.Data)
				if got != nil && len(want) == 0 { // C has no arrays of nothing
					want = []number.Row{{B0: 1}}
				}
				short := max(len(held)-2, 0) // of rows that loops without b1 and b2 run
				if slices.Equal(held[:min(3, len(held))], []string{"b0", "a1", "a2"}) != bytes.Contains(f.Data, []byte("delta without b1 and b2: the first 3")) {
					t.Errorf("%s: words %v", f.Name, held)
				}
				kinds := kindsRun(t, f.Data, d.RateHz, func(kind int) int {
					if kind == bareKind && !slices.Contains(format.Forms, biquad.Mirrored) {
						return short
					}
					return lengthOf(format, kind, held)
				})
				at := 0
				for i, r := range want {
					row, names := format.Literals(r), held
					switch kind, run := kinds[at]; {
					case run && kind == bareKind && !slices.Contains(format.Forms, biquad.Mirrored):
						names = held[:short]
					case run:
						names = held[:lengthOf(format, kind, held)]
					}
					for k, w := range format.Kernel.Words {
						switch n := slices.Index(names, w.Name); {
						case n < 0 && row[k] != format.Literal(0):
							t.Errorf("%s: row %d has no %s, which is %s", f.Name, i, w.Name, row[k])
						case n >= 0 && (at+n >= len(got) || got[at+n] != row[k]):
							t.Errorf("%s: row %d, %s is not %s", f.Name, i, w.Name, row[k])
						}
					}
					at += len(names)
				}
				if at != len(got) {
					t.Errorf("%s: %d words, want %d", f.Name, len(got), at)
				}
			}
		}
	}
}

// lengthOf is how many words a row of a form has: up to the last that its program finds.
func lengthOf(format number.Format, kind int, held []string) int {
	last := 0
	for _, step := range format.Kernel.Section(formOf(kind)) {
		for i, name := range held {
			if finds(step.Tree(), name) {
				last = max(last, i)
			}
		}
	}
	return last + 1
}

// No text of a spec may leave its comment or trip a warning.
func TestHostileTextStaysInItsComment(t *testing.T) {
	title := "a*/ int x; /* b \\\n # ?\x3f/ // \u202e right to left \x00 *\u200b/ " + strings.Repeat("*/", 3) + " *" + strings.Repeat("/*", 3) + "\r\n\ttail\\"
	s := shapes[0]
	s.settings = []verify.Setting{{Name: "one", Choices: []string{"0 dB", "-1.5 dB"}}}
	b := s.fresh()
	b.Spec.Title, b.Spec.Revision = title, title
	for i := range b.Digital {
		for k := range b.Digital[i].System.Common.Slots {
			b.Digital[i].System.Common.Slots[k].From = []string{title}
		}
	}
	p := program{headers: map[string][]byte{}, source: "#include \"heron_float32.c\"\nint main(void) { return 0; }\n"}
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
		if got := words.Comment(title); strings.Contains(got, bad) {
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
		{[]verify.Setting{{Name: "state", Choices: two}}, nil, "the setting `state` needs the C name `heron_state`, which the code itself has"},
		{[]verify.Setting{{Name: "a-b", Choices: two}, {Name: "a_b", Choices: two}}, nil, "heron_a_b"},
		{[]verify.Setting{{Name: "trim", Choices: []string{"1.5", "1 5"}}}, nil, "HERON_TRIM_1_5"},
		{[]verify.Setting{{Name: "way", Choices: []string{"bass", "b"}}}, nil, "HERON_WAY_BASS"},
		{[]verify.Setting{{Name: "x", Choices: two}, {Name: "set-x", Choices: two}}, nil, "heron_set_x"},
		{nil, []string{"a-b", "a_b"}, "HERON_WAY_A_B"},
		{[]verify.Setting{{Name: "only", Choices: []string{"all", "48000"}}}, nil, "the choice `48000` of `only` needs the C name `HERON_ONLY_48000`"},
		{[]verify.Setting{{Name: "selftest", Choices: []string{"main", "b"}}}, nil, "HERON_SELFTEST_MAIN"},
	} {
		s := shapes[0]
		s.settings, s.sections = c.settings, 0
		b := s.fresh()
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

// What a header declares as functions, what its text names and what README.md does is what settings are kept off, and
// no name more than that.
func TestPublicNamesAreTold(t *testing.T) {
	readme, err := os.ReadFile(filepath.Join("..", "..", "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	s := shapes[0]
	known := map[string]bool{}
	for _, n := range slices.Concat(public, publicUpper) {
		known[n] = true
	}
	told := map[string]bool{}
	tell := func(where, name string) {
		told[name] = true
		for _, set := range s.settings {
			ident := strings.ReplaceAll(set.Name, "-", "_")
			if slices.Contains([]string{"set_" + ident, "get_" + ident, ident + "_names"}, name) || strings.HasPrefix(name, strings.ToUpper(ident)+"_") {
				return
			}
		}
		if !known[name] && !strings.HasPrefix(name, "WAY_") && !strings.HasPrefix(name, "ONLY_") {
			t.Errorf("%s: %s is no public name", where, name)
		}
	}
	said := strings.NewReplacer("SETTING", "treble_trim").Replace(string(readme))
	for _, m := range regexp.MustCompile(`\bNAME_([a-zA-Z]\w+)\b(?:[^.\w]|\.$)`).FindAllStringSubmatch(said, -1) {
		if name, _, _ := strings.Cut(m[1], "_"); !slices.Contains([]string{"FORMAT", "LAYOUT", "SHEET"}, name) || m[1] == name {
			tell("README.md", m[1])
		}
	}
	for i, f := range emit(t, s.build()) {
		comment, rest, _ := strings.Cut(string(f.Data), "*/")
		_, calls, declares := strings.Cut(rest, "extern \"C\" {")
		if declares != (i%2 == 0) {
			t.Fatalf("%s: declares functions: %v", f.Name, declares)
		}
		for _, m := range regexp.MustCompile(`\bHERON_(\w+)`).FindAllStringSubmatch(comment, -1) {
			tell(f.Name, m[1])
		}
		for _, m := range regexp.MustCompile(`(?m)^(?:int|void) heron_(\w+)\(`).FindAllStringSubmatch(calls, -1) {
			tell(f.Name, m[1])
		}
	}
	for n := range known {
		if !told[n] && !slices.Contains([]string{"state", "way_index", "CHANNELS", "WAYS", "SETTINGS", "FORMAT", "SPEC_SHA256"}, n) {
			t.Errorf("%s is told nowhere", n)
		}
	}
}

// A header needs one standard header, its code three, and it says what firmware
// people need.
func TestHeaderSays(t *testing.T) {
	b := shapes[0].build()
	for i, f := range emit(t, b) {
		text := string(f.Data)
		if n := strings.Count(text, "#include <"); n > 1+i%2 {
			t.Errorf("%s includes %d standard headers", f.Name, n)
		}
		for _, want := range []string{
			b.Spec.Title, "Revision B2", b.SHA256, "SUBTRACTED", "48000 or 96000", "make-up gain", "attenuated by 6 dB",
			"CAUTION", "inverted polarity", "HERON_TREBLE_TRIM_MINUS_1_5_DB", "samples of", "settle unheard",
		} {
			if i%2 == 0 && !strings.Contains(text, want) {
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

// Numbers of samples, and of lists, have types that hold what the rates have.
func TestTypesHoldWhatRatesHave(t *testing.T) {
	h := &header{}
	h.Rates = []rate{{Settle: 1 << 15, Fade: 480, lists: make([]int, 200)}}
	if h.Counter() != "int32_t" || h.Small() != "int16_t" {
		t.Errorf("%s counts to %d, %s to %d", h.Counter(), 1<<15+480, h.Small(), 200)
	}
}
