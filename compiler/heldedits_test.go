package compiler_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/board"
	"bandwright/compiler/compilertest"
	"bandwright/compiler/language"
	"bandwright/compiler/netlist"
	"bandwright/compiler/verify"
)

// heldEdit is one kind of edit of a spec whose board is held, with the record of what it
// changes.
type heldEdit struct {
	name string
	// edit makes an edit of a spec that a drawn number picks, "" where there is none.
	edit func(src string, draw *rand.Rand) string
	// without draws values that are gone instead.
	without bool
	// median and worst are the parts that change, in percent of the board's, over all
	// edits of the kind: less has to be recorded, more fails.
	median, worst float64
	// broken is how many edits of the kind leave a promise of the board broken: told, with
	// exit code 1.
	broken int
}

// mostShare is what a corner that moves by 1 % may change, in percent of the parts.
const mostShare = 6.0

var heldEdits = []heldEdit{
	{name: "a corner by 0.1 %", edit: scaled(`at: ([0-9.]+) k?Hz`, 1.001)},
	{name: "a corner by 1 %", edit: scaled(`at: ([0-9.]+) k?Hz`, 1.01), median: 1, worst: 4.2},
	{name: "a corner by 5 %", edit: scaled(`at: ([0-9.]+) k?Hz`, 1.05), median: 1.5, worst: 10.4},
	{name: "a gain by 0.1 dB", edit: added(`gain: (-?[0-9.]+) dB`, 0.1), median: 1.5, worst: 2.1},
	{name: "a gain by 1 dB", edit: added(`gain: (-?[0-9.]+) dB`, 1), median: 3, worst: 12.5},
	{name: "a Q by 5 %", edit: scaled(`q: ([0-9.]+)`, 1.05), median: 3, worst: 4.2},
	{name: "a filter added", edit: filterAdded},
	{name: "a filter removed", edit: filterRemoved, median: 2, worst: 4.2},
	{name: "a filter moved", edit: filterMoved},
	{name: "a value gone", without: true, median: 5.4, worst: 18.8},
}

// number replaces one of a pattern's numbers, drawn from those between the settings and
// the board block.
func number(src, pattern string, draw *rand.Rand, f func(float64) float64) string {
	from, to := strings.Index(src, "\nways:"), strings.Index(src, "\nboard:")
	if c := strings.Index(src, "\ncommon:"); c >= 0 {
		from = c
	}
	all := regexp.MustCompile(pattern).FindAllStringSubmatchIndex(src[from:to], -1)
	if len(all) == 0 {
		return ""
	}
	at := all[draw.IntN(len(all))]
	x, err := strconv.ParseFloat(src[from+at[2]:from+at[3]], 64)
	if err != nil {
		return ""
	}
	return src[:from+at[2]] + strconv.FormatFloat(f(x), 'g', 6, 64) + src[from+at[3]:]
}

func scaled(pattern string, by float64) func(string, *rand.Rand) string {
	return func(src string, draw *rand.Rand) string {
		return number(src, pattern, draw, func(x float64) float64 { return x * by })
	}
}

func added(pattern string, by float64) func(string, *rand.Rand) string {
	return func(src string, draw *rand.Rand) string {
		return number(src, pattern, draw, func(x float64) float64 {
			if x < 0 {
				return x - by
			}
			return x + by
		})
	}
}

// wayFilters are the places of the lines of ways' filters that no setting has a part in.
func wayFilters(src string) [][]int {
	from, to := strings.Index(src, "\nways:"), strings.Index(src, "\ncrossovers:")
	var out [][]int
	for _, at := range regexp.MustCompile(`(?m)^      - [a-z-]+: .*\n`).FindAllStringIndex(src[from:to], -1) {
		if at = []int{from + at[0], from + at[1]}; !strings.Contains(src[at[0]:at[1]], "when:") {
			out = append(out, at)
		}
	}
	return out
}

func filterAdded(src string, draw *rand.Rand) string {
	all := wayFilters(src)
	at := all[draw.IntN(len(all))]
	corner := []string{"120 Hz", "900 Hz", "5 kHz"}[draw.IntN(3)]
	return src[:at[0]] + "      - peak: {at: " + corner + ", q: 1.3, gain: -1.7 dB}\n" + src[at[0]:]
}

func filterRemoved(src string, draw *rand.Rand) string {
	all := wayFilters(src)
	at := all[draw.IntN(len(all))]
	out := src[:at[0]] + src[at[1]:]
	return regexp.MustCompile(`    filters:\n(    [a-z]|  [a-z]|\n)`).ReplaceAllString(out, "    filters: []\n$1")
}

// filterMoved puts a filter behind the one that follows it.
func filterMoved(src string, draw *rand.Rand) string {
	all := wayFilters(src)
	n := len(all) - 1
	for k := range n {
		i := (k + draw.IntN(n)) % n
		if a, b := all[i], all[i+1]; a[1] == b[0] {
			return src[:a[0]] + src[b[0]:b[1]] + src[a[0]:a[1]] + src[b[1]:]
		}
	}
	return ""
}

// goneValue draws a value that a stage of a board has.
func goneValue(b *board.Board, draw *rand.Rand) board.Value {
	bins := b.Bins()
	x := bins[draw.IntN(len(bins))]
	return board.Value{Kind: x.Kind, Value: x.Value}
}

// editedHeld makes an edit of a held spec and returns the board with it, what was edited,
// and "" for the latter where there is nothing to edit.
func editedHeld(t *testing.T, e heldEdit, src string, held []byte, first *compiler.Build, draw *rand.Rand) (*compiler.Build, string) {
	if e.without {
		v := goneValue(first.Board, draw)
		b := compiledHeld(t, src, held, compiler.Holding{Without: []board.Value{v}})
		for _, x := range b.Board.Bins() {
			if x.Kind == v.Kind && x.Value == v.Value {
				t.Errorf("without %v: %v still are of it", v, x.Refs)
			}
		}
		return b, v.String()
	}
	now := e.edit(src, draw)
	if now == "" || now == src {
		return nil, ""
	}
	return compiledHeld(t, now, held, compiler.Holding{}), compilertest.FirstDifference(now, src)
}

// Random edits of the shipped boards change few parts of what is held, and the promises
// are kept after each but those on record, as nodal analysis of the parts judges them.
func TestHeldEdits(t *testing.T) {
	const perKind = 2 // of each spec: 60 in all
	shares, breaks := make([][]float64, len(heldEdits)), make([][]string, len(heldEdits))
	for n, name := range []string{"dabchick", "heron", "bittern"} {
		src := shippedHeld(t, name)
		if name == "dabchick" { // as it is laid out without a word: for the others that takes too long here
			src = strings.Replace(src, "\n  few-values: off", "", 1)
		}
		first := compiledHeld(t, src, nil, compiler.Holding{})
		if _, few := first.Board.Reduced(); few != (name == "dabchick") {
			t.Errorf("%s: few values %v", name, few)
		}
		held := language.FormatHeld(first.Hold())
		all := 0
		for _, x := range first.Board.Bins() {
			all += len(x.Refs)
		}
		for k, e := range heldEdits {
			for i := range perKind {
				draw := rand.New(rand.NewPCG(uint64(n), uint64(100*k+i)))
				b, what := editedHeld(t, e, src, held, first, draw)
				if b == nil {
					continue
				}
				count := changedParts(b, e)
				share := 100 * float64(count) / float64(all)
				shares[k] = append(shares[k], share)
				for _, f := range b.Findings {
					if f.Realisation == board.RealisationName && !f.Kept {
						breaks[k] = append(breaks[k], fmt.Sprintf("%s, %s (%s): %s breaks %s: %g", name, e.name, what, f.Way, f.Promise, f.Worst))
					}
				}
				if os.Getenv("SHOW_EDITS") != "" {
					fmt.Printf("%s, %s: %d parts, %s\n", name, strings.ReplaceAll(what, "\n", " "), count, strings.Join(b.Board.Kept.Lines(), "\n     "))
				}
			}
		}
	}
	for k, e := range heldEdits {
		if len(shares[k]) == 0 {
			t.Errorf("%s: no edit", e.name)
			continue
		}
		if len(breaks[k]) != e.broken {
			t.Errorf("%d broken promises, recorded are %d: %v", len(breaks[k]), e.broken, breaks[k])
		}
		slices.Sort(shares[k])
		median, worst := shares[k][len(shares[k])/2], shares[k][len(shares[k])-1]
		if fmt.Sprintf("%.1f %.1f", median, worst) != fmt.Sprintf("%.1f %.1f", e.median, e.worst) {
			t.Errorf("%s: %d edits change %.1f %% of the parts, at worst %.1f; recorded are %.1f and %.1f", e.name, len(shares[k]), median, worst, e.median, e.worst)
		}
		if strings.HasPrefix(e.name, "a corner by 1 %") && worst > mostShare {
			t.Errorf("%s changes %.1f %% of the parts", e.name, worst)
		}
	}
}

// changedParts counts the held parts that changed: of an added filter those beside its
// own stage, of a removed one those beside what went with it.
func changedParts(b *compiler.Build, e heldEdit) int {
	n := 0
	for _, c := range b.Board.Kept.Changes {
		switch {
		case strings.HasSuffix(e.name, "removed") && c.What == "gone":
		case strings.HasSuffix(e.name, "added") && c.What == "new" && strings.HasSuffix(c.From, " peak"):
		default:
			n += len(c.Parts)
		}
	}
	return n
}

// What is told of a changed part is what the netlist then has: the sentences and the
// board are the same parts.
func TestHeldSentencesAreTheBoard(t *testing.T) {
	src := shippedHeld(t, "dabchick")
	held := language.FormatHeld(compiledHeld(t, src, nil, compiler.Holding{}).Hold())
	b := compiledHeld(t, strings.Replace(src, "at: 2.4 kHz", "at: 2.6 kHz", 1), held, compiler.Holding{})
	c := netlist.New()
	b.Board.Parts(c)
	changes := 0
	for _, x := range b.Board.Kept.Changes {
		for _, p := range x.Parts {
			i, ok := c.Part(p.Ref)
			if !ok || c.Parts()[i].Value != p.Is {
				t.Errorf("%s is told to be %g", p.Ref, p.Is)
			}
			changes++
		}
	}
	if changes == 0 || !verify.Kept(b.Findings) {
		t.Errorf("%d changes, kept: %v", changes, verify.Kept(b.Findings))
	}
}

// next96 is the first value of E96 (IEC 60063: ten to the power of n/96, to three digits) that is
// more than 1 % above x, which lies from 1 to 10.
func next96(x float64) float64 {
	for n := range 97 {
		if v := math.Round(100*math.Pow(10, float64(n)/96)) / 100; v > 1.01*x {
			return v
		}
	}
	return 10
}

// A value that was changed by hand stays, and what it does is what nodal analysis of the
// two boards says: R20101 of dabchick sets the level of its way.
func TestChangedByHand(t *testing.T) {
	src := strings.Replace(shippedHeld(t, "dabchick"), "gain: -4 dB, order: 1}", "gain: -4 dB, order: 1, topology: inverting-low-shelf}", 1)
	held := string(language.FormatHeld(compiledHeld(t, src, nil, compiler.Holding{}).Hold()))
	found := regexp.MustCompile(`R20101: ([0-9.]+) kohm`).FindStringSubmatch(held)
	if found == nil {
		t.Fatal("no R20101")
	}
	was, err := strconv.ParseFloat(found[1], 64)
	if err != nil {
		t.Fatal(err)
	}
	is := next96(was)
	write := func(kohm float64) string {
		return strings.Replace(held, found[0], fmt.Sprintf("R20101: %g kohm", kohm), 1)
	}
	now := write(is)
	b := compiledHeld(t, src, []byte(now), compiler.Holding{})
	k := b.Board.Kept
	// An inverting stage of gain R2/R1, at every frequency.
	says := fmt.Sprintf("R20101 %g -> %g kohm: bass %.3f dB at ", was, is, biquad.GainDB(was/is))
	if len(k.ByHand) != 1 || !strings.HasPrefix(k.ByHand[0], says) || k.Count() != 0 {
		t.Errorf("%q %v", k.ByHand, k.Changes)
	}
	if string(language.FormatHeld(b.Hold())) == held {
		t.Error("the value was changed back")
	}
	// One that is in no series of the spec is taken, and said.
	between := math.Round(1000*(was+is)/2) / 1000
	now = write(between)
	k = compiledHeld(t, src, []byte(now), compiler.Holding{}).Board.Kept
	if len(k.Notes) != 1 || !strings.Contains(k.Notes[0], fmt.Sprintf("R20101 %g kohm: not in the stock, taken as held", between)) || k.Count() != 0 {
		t.Errorf("%q %v", k.Notes, k.Changes)
	}
}
