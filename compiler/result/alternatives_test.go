package result

import (
	"math/rand/v2"
	"reflect"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/verify"
)

// Whatever the Pick table, every combination lies in exactly one box, the one
// of its alternative.
func TestCoverIsExact(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	for range 3000 {
		var s biquad.Slot[biquad.Digital]
		settings := make([]verify.Setting, 4)
		used := 0
		for k := range settings {
			settings[k] = verify.Setting{Name: string(rune('a' + k))}
			for c := range 1 + r.IntN(4) {
				settings[k].Choices = append(settings[k].Choices, string(rune('0'+c)))
			}
			if used < 3 && r.IntN(2) == 0 {
				s.By = append(s.By, biquad.Axis{Setting: k, Choices: len(settings[k].Choices)})
				used++
			}
		}
		alternatives := 1 + r.IntN(3)
		s.Alt = make([]biquad.Digital, alternatives)
		if len(s.By) > 0 {
			s.Pick = make([]uint8, biquad.Count(s.By))
			for i := range s.Pick {
				s.Pick[i] = uint8(r.IntN(alternatives))
			}
		}
		boxes := cover(s)
		biquad.Each(s.By, len(settings), func(c biquad.Combination) {
			hits := 0
			for _, b := range boxes {
				if !applies(b.when(s.By, settings), settings, c) {
					continue
				}
				hits++
				if b.alternative != s.Index(c) {
					t.Fatalf("%+v: combination %v gives alternative %d, not %d", s, c, b.alternative, s.Index(c))
				}
			}
			if hits != 1 {
				t.Fatalf("%+v: combination %v lies in %d boxes", s, c, hits)
			}
		})
	}
}

// applies reads a `when` as another tool would.
func applies(when map[string][]string, settings []verify.Setting, c biquad.Combination) bool {
	for k, s := range settings {
		allowed, named := when[s.Name]
		if !named {
			continue
		}
		found := false
		for _, a := range allowed {
			found = found || a == s.Choices[c[k]]
		}
		if !found {
			return false
		}
	}
	return true
}

func TestCoverReadsAsWritten(t *testing.T) {
	settings := []verify.Setting{
		{Name: "placement", Choices: []string{"free", "wall", "corner"}},
		{Name: "grille", Choices: []string{"none", "woven"}},
	}
	placement, grille := biquad.Axis{Setting: 0, Choices: 3}, biquad.Axis{Setting: 1, Choices: 2}
	for _, c := range []struct {
		name string
		by   []biquad.Axis
		pick []uint8
		want []map[string][]string
	}{
		{"fixed", nil, nil, []map[string][]string{nil}},
		{"under a setting that changes nothing", []biquad.Axis{grille}, []uint8{1, 1}, []map[string][]string{nil}},
		{"one filter at wall, another at corner", []biquad.Axis{placement}, []uint8{0, 1, 2}, []map[string][]string{
			{"placement": {"free"}}, {"placement": {"wall"}}, {"placement": {"corner"}},
		}},
		{"at wall or corner", []biquad.Axis{placement}, []uint8{0, 1, 1}, []map[string][]string{
			{"placement": {"free"}}, {"placement": {"wall", "corner"}},
		}},
		{"at wall and woven", []biquad.Axis{placement, grille}, []uint8{0, 0, 0, 1, 0, 0}, []map[string][]string{
			{"placement": {"free", "corner"}},
			{"placement": {"wall"}, "grille": {"none"}},
			{"placement": {"wall"}, "grille": {"woven"}},
		}},
	} {
		s := biquad.Slot[biquad.Digital]{By: c.by, Pick: c.pick}
		var got []map[string][]string
		for _, b := range cover(s) {
			got = append(got, b.when(s.By, settings))
		}
		if !reflect.DeepEqual(got, c.want) {
			t.Errorf("%s: got %v, want %v", c.name, got, c.want)
		}
	}
}
