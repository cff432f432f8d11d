package cname

import (
	"strings"
	"testing"

	"bandwright/compiler/verify"
)

// printed is what code with some own identifiers and texts of the spec comes to; $N is the stem, $U the same in capitals,
// and $S, $M and $W are a setting behind the stem, the first choice and the first way.
func printed(n *Names, text string) string {
	text = strings.NewReplacer("$N", n.Stem, "$U", n.Upper, "$S", n.Settings[0].Ident, "$M", n.Settings[0].Choices[0], "$W", n.Ways[0]).Replace(text)
	return string(n.Settle([]byte(text))[0])
}

func TestOwnNamesGiveWay(t *testing.T) {
	for _, c := range []struct{ stem, setting, choice, text, want string }{
		{"wren", "trim", "a", `enum $N_$S { $M }; int $N_set_$S(void), $N_late; /* "$N" é $W */`, `enum wren_trim { WREN_TRIM_A }; int wren_set_trim(void), wren_late; /* "wren" é WREN_WAY_BASS */`},
		{"wren", "late", "a", "enum $N_$S { $M }; int $N_late($N_lateness)", "enum wren_late { WREN_LATE_A }; int wren_late_own(wren_lateness)"},
		{"wren", "late", "a", `/* wren_late é */ "wren_late" $N_late`, `/* wren_late é */ "wren_late" wren_late_own`},
		{"wren", "late", "a", "$N_late + $N_late_own", "wren_late_own_own + wren_late_own"},
		{"wren", "one", "more", "$M $U_ONE_MORE", "WREN_ONE_MORE WREN_ONE_MORE_OWN"},
		{"wren", "words-2", "a", "$N_$S $N_words_2 $N_words_", "wren_words_2 wren_words_2_own wren_words_"},
		{"wren", "x", "a", "$N_set_$S $N_set_x $N_x_names $N_get_$S($U_X_CHOICES)", "wren_set_x wren_set_x_own wren_x_names_own wren_get_x(WREN_X_CHOICES_OWN)"},
		{"trim", "trim-x", "a", "$N_$S $N_trim_x $N_x", "trim_trim_x trim_trim_x_own trim_x"},
		{"a", "a", "a", "$N_$S, $N_a, $N, $M", "a_a, a_a_own, a, A_A_A"},
		{"wren", "way", "top", "$M $W $U_WAY_TOP $U_WAY_BASS", "WREN_WAY_TOP WREN_WAY_BASS WREN_WAY_TOP_OWN WREN_WAY_BASS_OWN"},
		{"wren", "late", "a", "$N_late", "wren_late_own"},
	} {
		n := New(c.stem, []verify.Setting{{Name: c.setting, Choices: []string{c.choice, "b"}}}, []string{"bass"})
		if got := printed(n, c.text); got != c.want {
			t.Errorf("%s %s: %s\ngot  %s\nwant %s", c.stem, c.setting, c.text, got, c.want)
		}
	}
	// What one text needs holds for those beside it.
	n := New("wren", []verify.Setting{{Name: "late", Choices: []string{"a", "b"}}}, nil)
	texts := n.Settle([]byte(n.Stem+"_late"), []byte(n.Stem+"_late_own "+n.Stem+"_late"))
	if got := string(texts[0]) + "; " + string(texts[1]); got != "wren_late_own_own; wren_late_own wren_late_own_own" {
		t.Error(got)
	}
}
