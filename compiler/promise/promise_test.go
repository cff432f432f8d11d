package promise

import (
	"strings"
	"testing"

	"bandwright/compiler/language"
	"bandwright/compiler/words"
)

// parse is the promise block of a spec whose block is text.
func parse(t *testing.T, text string) *language.Spec {
	t.Helper()
	pass := []language.Key{{Name: "at", Effect: language.Wanted, Type: language.Type{Dims: []language.Dim{language.Frequency}}, Required: true, Doc: "Corner, Hz.", Example: "1 kHz"}}
	s, faults := language.Parse("x", []byte("{bandwright: 1, name: x, promise: "+text+", ways: {w: {}}, digital: {rates: [48 kHz], formats: [f], method: m}}"), language.Tables{
		Kinds:   []language.Kind{{Name: "low-pass", Keys: pass}, {Name: "high-pass", Keys: pass}},
		Methods: []language.Named{{Name: "m"}}, Formats: []language.Named{{Name: "f"}},
		LowPass: "low-pass", HighPass: "high-pass", Promises: Keys(),
	})
	if s == nil {
		t.Fatal(text, faults)
	}
	return s
}

// Every row of the spec language has a default and an example that the grammar
// takes, in the unit that it is written in, and `off` drops it.
func TestRows(t *testing.T) {
	usual := Read(parse(t, "{}"))
	for _, r := range All {
		if ByName(r.Name) != r {
			t.Errorf("%s stands twice", r.Name)
		}
		if !strings.HasSuffix(r.Doc, ".") {
			t.Errorf("%s has no sentence", r.Name)
		}
		if got := usual.Limit(r); got != r.Default {
			t.Errorf("%s: by default %v, the row says %v", r.Name, got, r.Default)
		}
		if !r.InSpec() {
			continue
		}
		if l := r.Driven; l != nil {
			all := parse(t, "{}")
			all.Ways[0].Driver = &language.WayDriver{}
			if got := Read(all).Limit(r); got != *l {
				t.Errorf("%s: %v where every way has a driver", r.Name, got)
			}
		}
		if got := Read(parse(t, "{"+r.Name+": off}")).Limit(r); got.On {
			t.Errorf("%s: off leaves %v", r.Name, got)
		}
		k := r.Key()
		want := r.Default
		if !want.On {
			want = Limit{On: true, Value: r.Example}
		}
		if got := Read(parse(t, "{"+r.Name+": "+k.Example+"}")).Limit(r); got != want {
			t.Errorf("%s: %s reads as %v", r.Name, k.Example, got)
		}
		if l := (Limit{On: true, Value: 7}); usual.With(r, l).Limit(r) != l || usual.Limit(r) != r.Default {
			t.Errorf("%s: a changed limit", r.Name)
		}
	}
}

// What demands less is weaker, to drop a promise most of all; a promise that
// was not there is not weaker, whatever it is.
func TestWeaker(t *testing.T) {
	for _, c := range [][3]string{ // key, stricter, weaker
		{"band", "20 Hz to 20 kHz", "20 Hz to 19 kHz"}, {"band", "20 Hz to 20 kHz", "21 Hz to 20 kHz"},
		{"down-to", "-60 dB", "-40 dB"},
		{"magnitude", "0.1 dB", "0.2 dB"}, {"board-magnitude", "0.1 dB", "off"},
		{"phase", "5 deg", "6 deg"}, {"sum", "0.1 dB", "1 dB"}, {"noise", "-110 dBFS", "-100 dBFS"},
		{"headroom", "1 dB", "0 dB"}, {"board-headroom", "1 dB", "-1 dB"}, {"board-noise", "-90 dBu", "-80 dBu"},
		{"latency", "2 ms", "3 ms"}, {"acoustic-sum", "2 dB", "3 dB"}, {"acoustic-band", "80 Hz to 10 kHz", "100 Hz to 10 kHz"},
		{"pattern", "2 dB", "off"}, {"excursion", "{at: -6 dB}", "off"},
	} {
		key := c[0]
		strict, weak := parse(t, "{"+key+": "+c[1]+"}").Promise.Get(key), parse(t, "{"+key+": "+c[2]+"}").Promise.Get(key)
		if !Weaker(key, strict, weak) || Weaker(key, weak, strict) || Weaker(key, strict, strict) || Weaker(key, nil, weak) {
			t.Errorf("%v", c)
		}
	}
}

// A louder noise is worse, though its number is nearer to 0, and so is a
// smaller margin.
func TestWorse(t *testing.T) {
	for _, c := range []struct {
		name       string
		worse, not float64
	}{{"noise", -100, -110}, {"stability", 0.001, 0.01}, {"magnitude", 0.2, 0.1}, {"of another version", 2, 1}} {
		if !Worse(c.name, c.worse, c.not) || Worse(c.name, c.not, c.worse) || Worse(c.name, c.not, c.not) {
			t.Errorf("%v", c)
		}
	}
	if UnitOf("latency") != words.Second || UnitOf("of another version") != words.Plain {
		t.Error("units")
	}
}
