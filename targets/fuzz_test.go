package targets_test

import (
	"context"
	"flag"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"bandwright/compiler"
	"bandwright/compiler/compilertest"
	"bandwright/compiler/language"
	"bandwright/compiler/prototype"
	"bandwright/targets"
)

// How long a spec may take that a person can write in a few minutes: by a
// method in closed form, and by a fit, which works on each way until its own
// bound, or with a board, whose parts are chosen. It is the time of the
// processor, whatever else the machine does. The fuzzer holds to it; where tests
// only run over its seeds, on machines of any speed, they have slower times as
// long.
const (
	mostTime    = time.Second
	mostFitTime = 10 * time.Second
	slower      = 10
)

// patience is the limit that holds now for what came of a spec.
func patience(b *compiler.Build) time.Duration {
	limit := mostTime
	if b != nil && (fitted(b.Spec) || b.Spec.Board != nil) {
		limit = mostFitTime
	}
	for _, name := range []string{"test.fuzz", "test.fuzzworker"} {
		if f := flag.Lookup(name); f != nil && f.Value.String() != "" && f.Value.String() != "false" {
			return limit
		}
	}
	return slower * limit
}

// FuzzCompile demands of every spec that is near a good one: no panic, no hang,
// a Build or an error, never both; every fault with a place and words; in a
// Build no number that is not finite; artefacts; and a canonical text that
// means the same.
func FuzzCompile(f *testing.F) {
	fuzzSpecs(f, "bilinear")
}

// FuzzFit is FuzzCompile with the method fit.
func FuzzFit(f *testing.F) {
	fuzzSpecs(f, "fit")
}

// FuzzBoard is FuzzCompile with a board: the smaller ones of the specs.
func FuzzBoard(f *testing.F) {
	fuzzSpecs(f, "board")
}

// fitted reports whether any part of a spec is realised by a fit.
func fitted(s *language.Spec) bool {
	all := append([]language.Filter{{Method: s.Digital.Method}}, s.Common...)
	for _, w := range s.Ways {
		all = append(all, w.Filters...)
	}
	for _, x := range s.Crossovers {
		all = append(all, x.Low, x.High)
	}
	return slices.ContainsFunc(all, func(f language.Filter) bool { return f.Method == "fit" })
}

func fuzzSpecs(f *testing.F, method string) {
	m := newMutator(f, method)
	for i := range m.specs {
		if method == "fit" && i%5 > 0 { // they take long
			continue
		}
		f.Add(uint8(i), []byte{})
		f.Add(uint8(i), []byte{0, 0, 30, 7, 1, 0, 20, 5, 2, 0, 60, 9, 3, 0, 10, 1, 4, 0, 3, 8})
	}
	f.Fuzz(func(t *testing.T, which uint8, changes []byte) {
		checkCompile(t, m.spec(which, changes))
	})
}

// mutator makes specs out of pieces of good ones.
type mutator struct {
	specs [][]string          // tokens
	alike map[string][]string // tokens by class, each once; all of them in ""
}

// pieces divides a spec into words, quantities, signs and spaces.
var pieces = regexp.MustCompile(`[-+]?[0-9][0-9.]*(?:e[-+]?[0-9]+)?(?: [A-Za-z]+)?|[A-Za-z][A-Za-z0-9_-]*|\n *|[ ]+|.`)

var (
	comments   = regexp.MustCompile(`(?m)\s*#.*$`)
	ratesOf    = regexp.MustCompile(`rates: \[[^]]*\]`)
	formatsOf  = regexp.MustCompile(`formats: \[[^]]*\]`)
	methodsOf  = regexp.MustCompile(`(?m),? *method: [a-z-]+`)
	boardOf    = regexp.MustCompile(`(?m)^(?:board|dac):.*\n(?: .*\n)*`)
	topologyOf = regexp.MustCompile(`, topology: [a-z-]+`)
	digitalOf  = regexp.MustCompile(`digital: *(\{|\n  )`)
)

// smallBoard is the specs whose board takes well below a second.
var smallBoard = regexp.MustCompile(`dabchick|every_board_key`)

// newMutator takes the specs that ship and those that tests compile, at one
// rate, in one format, by one method, with a band of four octaves: so that
// each execution is fast.
func newMutator(tb testing.TB, method string) *mutator {
	m := &mutator{alike: map[string][]string{}}
	var paths []string
	for _, pattern := range []string{"../specs/*.yaml", "../compiler/testdata/good/*.yaml", "../cmd/bandwright/starters/*.yaml"} {
		found, err := filepath.Glob(pattern)
		if err != nil || len(found) == 0 {
			tb.Fatal(pattern, err)
		}
		paths = append(paths, found...)
	}
	for _, p := range paths {
		src, err := os.ReadFile(p)
		if err != nil {
			tb.Fatal(err)
		}
		text := comments.ReplaceAllString(string(src), "")
		if method != "board" {
			text = topologyOf.ReplaceAllString(boardOf.ReplaceAllString(text+"\n", ""), "")
			if !strings.Contains(text, "digital:") { // of a board alone nothing is left to make
				text += "digital: {rates: [48 kHz], formats: [float32]}\n"
			}
		} else if !smallBoard.MatchString(p) {
			continue
		}
		text = ratesOf.ReplaceAllString(text, "rates: [48 kHz]")
		text = formatsOf.ReplaceAllString(text, "formats: [float32]")
		text = methodsOf.ReplaceAllString(text, "")
		between := "\n  "
		if strings.Contains(text, "digital: {") {
			between = ", "
		}
		text = digitalOf.ReplaceAllString(text, "digital: ${1}method: "+strings.Replace(method, "board", "bilinear", 1)+between)
		if !strings.Contains(text, "promise:") {
			text += "promise: {band: 500 Hz to 8 kHz}\n"
		}
		if s, faults := language.Parse(p, []byte(text), compiler.Language()); s == nil {
			tb.Fatal(text, faults)
		}
		m.specs = append(m.specs, pieces.FindAllString(text, -1))
	}
	for _, tokens := range m.specs {
		for i, t := range tokens {
			m.note("", t)
			m.note(class(tokens, i), t)
		}
	}
	for _, t := range []string{"0.001 Hz", "1 Hz", "1 MHz", "24 kHz", "23.9 kHz", "0 Hz", "60 dB", "-60 dB", "0 dB", "0.001 dB", "6 dB", "200 dB", "1 s", "0 s", "343 m", "0 mm"} {
		m.note(t[strings.Index(t, " "):], t)
	}
	for _, t := range []string{"0", "-1", "1e9", "inf", "off", "null", "magnitude-matched", "exact", "all-pass", "inverted", "complete", "right", "768 kHz", "&a ", "*a", "when: "} {
		m.note("", t)
	}
	for _, t := range []string{"1", "2", "12", "0.05", "0.5", "1000", "0.01", "10"} {
		m.note("number", t)
	}
	for _, family := range prototype.Families {
		m.note("family", family.Name)
	}
	return m
}

// note adds a token to those of a class, once.
func (m *mutator) note(class, token string) {
	if !slices.Contains(m.alike[class], token) {
		m.alike[class] = append(m.alike[class], token)
	}
}

// class is what a token may be replaced by without harm to the grammar: by
// quantities of its unit, by numbers, by words that stand behind the same key.
func class(tokens []string, i int) string {
	t := tokens[i]
	if _, unit, found := strings.Cut(t, " "); found && unit != "" && t[0] != ' ' && t[0] != '\n' {
		return " " + unit
	}
	if strings.Trim(t, "0123456789.+-e") == "" && strings.ContainsAny(t, "0123456789") {
		return "number"
	}
	isKey := i+1 < len(tokens) && tokens[i+1] == ":"
	if isKey || strings.Trim(t[:1], "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ") != "" {
		return ""
	}
	for k := i; k > 1; k-- {
		if tokens[k] == ":" && tokens[k-1] != "between" && tokens[k-1] != "title" {
			return tokens[k-1]
		}
		if tokens[k][0] == '\n' {
			break
		}
	}
	return ""
}

// spec applies changes of four bytes each to one of the specs: what to do, to
// which token (two bytes), with which other.
func (m *mutator) spec(which uint8, changes []byte) []byte {
	tokens := slices.Clone(m.specs[int(which)%len(m.specs)])
	const mostChanges = 16
	for n := 0; n < mostChanges && len(changes) >= 4 && len(tokens) > 2; n++ {
		do, at, with := int(changes[0]), (int(changes[1])<<8|int(changes[2]))%len(tokens), int(changes[3])
		changes = changes[4:]
		// The line around the token, without its end.
		from, to := at, at+1
		for from > 0 && tokens[from-1][0] != '\n' {
			from--
		}
		for to < len(tokens) && tokens[to][0] != '\n' {
			to++
		}
		switch do % 16 {
		default: // another of its kind: the next token that has one
			for range 8 {
				if c := class(tokens, at); c != "" && len(m.alike[c]) > 1 {
					tokens[at] = m.alike[c][(with+do)%len(m.alike[c])]
					break
				}
				at = (at + 1) % len(tokens)
			}
		case 8: // a line is there twice
			tokens = slices.Insert(tokens, to, append([]string{"\n" + strings.Repeat(" ", 2*(do/16%4))}, tokens[from:to]...)...)
		case 9: // a line goes
			tokens = slices.Delete(tokens, from, to)
		case 10: // any token in place of it
			tokens[at] = m.alike[""][(with+do/16*256)%len(m.alike[""])]
		case 11: // two tokens change places
			other := (at + 1 + with) % len(tokens)
			tokens[at], tokens[other] = tokens[other], tokens[at]
		case 12: // one goes
			tokens = slices.Delete(tokens, at, at+1)
		case 13: // a stretch is there twice
			end := min(len(tokens), at+1+with%24)
			tokens = slices.Insert(tokens, end, tokens[at:end]...)
		case 14: // a line of another spec
			other := m.specs[with%len(m.specs)]
			k := at % len(other)
			end := k + 1
			for end < len(other) && other[end][0] != '\n' {
				end++
			}
			tokens = slices.Insert(tokens, to, other[k:end]...)
		case 15: // a digit changes
			tokens[at] = strings.Replace(tokens[at], "1", []string{"2", "19", "0.1", "9e3", "-1"}[with%5], 1)
		}
	}
	return []byte(strings.Join(tokens, ""))
}

// checkCompile compiles a spec and looks at everything that comes of it.
func checkCompile(t *testing.T, src []byte) {
	const file = "fuzz.yaml"
	begin := worked(t)
	b, faults, err := compiler.Compile(context.Background(), file, src, os.DirFS("../specs"))
	if took := worked(t) - begin; took > patience(b) {
		t.Errorf("took %v", took)
	}
	if err != nil {
		t.Error(err)
	}
	lines := strings.Split(string(src), "\n")
	errors := 0
	for _, f := range faults {
		if f.Severity == language.Error {
			errors++
		}
		if f.Message == "" || f.Right == "" || f.Pos.Line < 1 || f.Pos.Line > len(lines) || f.Pos.Col < 1 ||
			f.Pos.Col > len([]rune(lines[f.Pos.Line-1]))+1 || f.File != file {
			t.Errorf("a fault without words or place: %+v", f)
		}
	}
	if (b == nil) != (errors > 0) {
		t.Errorf("a Build: %v, faults: %v", b != nil, faults)
	}
	if b != nil {
		compilertest.Finite(t, "Build", reflect.ValueOf(b))
		if _, err := targets.Emit(b, nil); err != nil {
			t.Error(err)
		}
		text := language.Format(b.Spec, compiler.Language())
		if again, faults := language.Parse(file, text, compiler.Language()); again == nil {
			t.Errorf("formatted it is\n%s\nwhich is refused: %v", text, faults)
		}
	}
	if t.Failed() {
		t.Logf("the spec:\n%s", src)
	}
}

// worked is how long the processor has worked for this program so far.
func worked(t *testing.T) time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		t.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
