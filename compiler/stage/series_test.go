package stage

import (
	"encoding/json"
	"math"
	"os"
	"slices"
	"testing"
)

// The tables against those of IEC 60063, from golden/published.
func TestSeriesArePublished(t *testing.T) {
	raw, err := os.ReadFile("../../golden/published/iec60063_preferred_values.json")
	if err != nil {
		t.Fatal(err)
	}
	var published map[string]json.RawMessage
	if err := json.Unmarshal(raw, &published); err != nil {
		t.Fatal(err)
	}
	for name, count := range map[string]int{"E3": 3, "E6": 6, "E12": 12, "E24": 24, "E48": 48, "E96": 96, "E192": 192} {
		var want []int
		if err := json.Unmarshal(published[name], &want); err != nil {
			t.Fatal(err)
		}
		if got := Decade(name); len(got) != count || !slices.Equal(got, want) {
			t.Errorf("%s is %v, published is %v", name, got, want)
		}
	}
	// The standard's own irregular values: E24 does not follow the geometric
	// series there, nor does E192 at 920.
	var irregular struct {
		Irregular map[string][]struct {
			Index          int
			Standard       int
			RoundedFormula int `json:"rounded_formula"`
		}
	}
	if err := json.Unmarshal(raw, &irregular); err != nil {
		t.Fatal(err)
	}
	formula := func(name string) (out []int) {
		list := Decade(name)
		first := float64(list[0])
		for i := range list {
			out = append(out, int(math.Round(first*math.Pow(10, float64(i)/float64(len(list))))))
		}
		return out
	}
	for name, key := range map[string]string{"E24": "E24_family", "E48": "E48", "E96": "E96", "E192": "E192"} {
		off := map[int]int{}
		for i, v := range formula(name) {
			if v != Decade(name)[i] {
				off[i] = Decade(name)[i]
			}
		}
		rows := irregular.Irregular[key]
		if len(off) != len(rows) {
			t.Errorf("%s leaves the geometric series %d times, published are %d", name, len(off), len(rows))
		}
		for _, r := range rows {
			if off[r.Index] != r.Standard || formula(name)[r.Index] != r.RoundedFormula {
				t.Errorf("%s: value %d is %d, published is %d", name, r.Index, off[r.Index], r.Standard)
			}
		}
	}
	if Decade("E13") != nil {
		t.Error("E13 exists")
	}
}

func TestValues(t *testing.T) {
	for _, c := range []struct {
		name     string
		names    []string
		list     []float64
		from, to float64
		want     []float64
	}{
		{"a range includes both ends", []string{"E3"}, nil, 1e-9, 1e-8, []float64{1e-9, 2.2e-9, 4.7e-9, 1e-8}},
		{"a union has each value once", []string{"E6", "E12"}, nil, 10, 19, []float64{10, 12, 15, 18}},
		{"E96 lacks most of E24", []string{"E96", "E24"}, nil, 115, 121, []float64{115, 118, 120, 121}},
		{"a list is sorted, cut and freed of repeats", nil, []float64{47, 10, 22, 10, 1000, -5, 0}, 10, 100, []float64{10, 22, 47}},
		{"an empty range", []string{"E24"}, nil, 10.1, 10.9, nil},
		{"a range in reverse", []string{"E24"}, nil, 100, 10, nil},
		{"no number", []string{"E24"}, nil, math.NaN(), 10, nil},
		{"no series and no list", nil, nil, 1, 10, nil},
		{"920 of E192", []string{"E192"}, nil, 919, 930, []float64{920}},
	} {
		if got := Values(c.names, c.list, c.from, c.to); !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
	if n := len(Values([]string{"E24"}, nil, 1e3, 100e3)); n != 49 {
		t.Errorf("E24 has %d values from 1 kΩ to 100 kΩ, not 49", n)
	}
}

// The nearest value is nearest in ratio, and ranges let both ends in.
func TestNearest(t *testing.T) {
	list := []float64{10, 22, 47}
	for v, want := range map[float64]float64{1: 10, 10: 10, 14.8: 10, 14.9: 22, 22: 22, 32: 22, 32.2: 47, 1e6: 47} {
		if got := list[nearest(list, v)]; got != want {
			t.Errorf("nearest to %g is %g, not %g", v, got, want)
		}
	}
	for _, c := range [][4]float64{{10, 47, 0, 3}, {10.1, 46, 1, 2}, {50, 60, 3, 3}, {30, 20, 2, 2}, {math.Inf(-1), math.Inf(1), 0, 3}, {-5, -1, 0, 0}, {0, math.NaN(), 0, 0}} {
		if from, to := within(list, c[0], c[1]); from != int(c[2]) || to != int(c[3]) {
			t.Errorf("from %g to %g are [%d:%d], not [%g:%g]", c[0], c[1], from, to, c[2], c[3])
		}
	}
}
