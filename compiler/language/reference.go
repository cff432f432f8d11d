package language

import (
	"slices"
	"strings"
)

// The letters of references.
const (
	resistorLetter  = "R"
	capacitorLetter = "C"
	opAmpLetter     = "U"
	selectorLetter  = "S"

	// Where a selector has several poles each has a letter, or two beyond Z.
	poleLetters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
)

// isReference reports whether s is a reference with one of the letters: it has at least
// a digit for its block and two for its number, and a selector's one for all.
func isReference(s, letters string) bool {
	if s == "" || !strings.Contains(letters, s[:1]) {
		return false
	}
	digits := s[1:]
	if s[:1] == selectorLetter { // one of the whole board, and the letters of a pole
		digits = strings.TrimRight(digits, poleLetters)
		return digits != "" && digits[0] != '0' && strings.Trim(digits, "0123456789") == ""
	}
	if s[:1] == opAmpLetter && digits != "" && strings.Contains("ABCD", digits[len(digits)-1:]) {
		digits = digits[:len(digits)-1]
	}
	return len(digits) >= 3 && digits[0] != '0' && strings.Trim(digits, "0123456789") == ""
}

// continues reports whether a reference goes on behind prefix with a number from 1, of
// two digits or as many as it needs.
func continues(ref, prefix string) bool {
	n, found := strings.CutPrefix(ref, prefix)
	return found && len(n) >= 2 && n != "00" && (len(n) == 2 || n[0] != '0') && strings.Trim(n, "0123456789") == ""
}

// dimOf is the dimension of a part's value.
func dimOf(ref string) Dim {
	switch ref[:1] {
	case resistorLetter:
		return Resistance
	case capacitorLetter:
		return Capacitance
	}
	return ""
}

// partNoun is what a reference with this letter is of.
func partNoun(ref string) string {
	return map[string]string{resistorLetter: "a resistor", capacitorLetter: "a capacitor", opAmpLetter: "an op-amp", selectorLetter: "a selector"}[ref[:1]]
}

// notReference reports a text that is not a reference with one of the letters.
func (w *walker) notReference(at Pos, text, letters string) {
	var of []string
	for i := range letters {
		of = append(of, partNoun(letters[i:i+1]))
	}
	example := map[string]string{opAmpLetter: "U101A", selectorLetter: "S1"}[letters[:1]]
	if example == "" {
		example = letters[:1] + "10201"
	}
	right := "a reference is a letter and a number, such as " + quoted(example)
	if fixed := strings.ToUpper(strings.Join(strings.Fields(text), "")); isReference(fixed, letters) {
		right = "did you mean " + quoted(fixed) + "?"
	}
	w.fault(at, quoted(text)+" is not the reference of "+list(of, "or"), right)
}

// parts checks a mapping whose keys are references of parts.
func (w *walker) parts(n *node, t *Type) *Value {
	v := &Value{Pos: n.at, Given: true}
	for _, e := range n.entries {
		if e.value.shape == lone {
			w.lone(e.value, nil)
			continue
		}
		i := slices.IndexFunc(t.Parts, func(p PartType) bool { return isReference(e.key, p.Letter) })
		if i < 0 {
			w.notReference(e.at, e.key, t.letters())
			continue
		}
		of := &t.Parts[i].Type
		h := holder{at: e.at, name: quoted(e.key), key: e.key, example: of.example()}
		v.Fields = append(v.Fields, Field{Key: e.key, KeyPos: e.at, Value: w.value(e.value, of, h)})
	}
	return v
}

// letters are those that the keys of Parts may begin with.
func (t *Type) letters() string {
	all := ""
	for _, p := range t.Parts {
		all += p.Letter
	}
	return all
}
