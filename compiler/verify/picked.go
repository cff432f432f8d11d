package verify

import (
	"fmt"
	"slices"
	"strings"

	"bandwright/biquad"
	"bandwright/compiler/words"
)

// namedCombinations is how many combinations a comment lists before it only
// counts.
const namedCombinations = 3

// Picked says for which choices an alternative stands: "grille woven" or, where
// the choices of several settings do not simply combine, the combinations.
func Picked[S any](settings []Setting, s *biquad.Slot[S], alt int) string {
	picked := s.Choices(alt)
	if len(picked) == 0 {
		return "no choice picks this"
	}
	product := 1
	var simple []string
	for i, ax := range s.By {
		set := settings[ax.Setting]
		var in []string
		for k, name := range set.Choices {
			if slices.ContainsFunc(picked, func(c []int) bool { return c[i] == k }) {
				in = append(in, name)
			}
		}
		product *= len(in)
		if len(in) < ax.Choices {
			simple = append(simple, set.Name+" "+words.OrList(in))
		}
	}
	if product == len(picked) && len(simple) > 0 {
		return strings.Join(simple, " with ")
	}
	var listed []string
	for _, c := range picked[:min(len(picked), namedCombinations)] {
		var one []string
		for i, ax := range s.By {
			one = append(one, settings[ax.Setting].Name+" "+settings[ax.Setting].Choices[c[i]])
		}
		listed = append(listed, strings.Join(one, " with "))
	}
	text := strings.Join(listed, "; ")
	if more := len(picked) - len(listed); more > 0 {
		text += fmt.Sprintf("; %d more", more)
	}
	return text
}
