package prototype

import (
	"fmt"
	"strings"

	"bandwright/biquad"
	"bandwright/compiler/language"
)

// lowPass is a low-pass of a family and an order, or a second-order one of a
// given Q. Its gain at 0 Hz is 1, but for the even orders of chebyshev and
// elliptic, whose ripple peaks are.
var lowPass = Kind{
	Kind: language.Kind{
		Name: "low-pass",
		Doc:  "Passes what lies below `at`: a family with an order, or a second-order section 1/(p²+p/q+1).",
		Keys: alignmentKeys(), Example: alignmentExample,
	},
	Ideal: func(args *language.Value) (Ideal, []Problem) {
		unit, problems := alignment(args)
		return Ideal{Gain: 1, Sections: placed(unit, omega(number(args, "at")))}, problems
	},
}

const alignmentExample = "{family: butterworth, order: 4, at: 1 kHz}"

// alignmentKeys are the keys that low-pass and high-pass share.
func alignmentKeys() []language.Key {
	var names, docs, ripple, stop []string
	meant := map[string]string{}
	for _, f := range Families {
		for _, other := range f.Also {
			meant[other] = f.Name
		}
		names = append(names, f.Name)
		docs = append(docs, f.Name+" ("+f.Doc+")")
		if f.UsesRipple {
			ripple = append(ripple, f.Name)
		}
		if f.UsesStop {
			stop = append(stop, f.Name)
		}
	}
	return []language.Key{
		atKey("Corner frequency, whose level the family defines"),
		{
			Name: "family", Effect: language.Wanted, Type: language.Type{Words: names, Meant: meant}, Example: "butterworth",
			Doc: "Alignment, needed unless `q` is given: " + strings.Join(docs, "; ") + ".",
		},
		{
			Name: "order", Effect: language.Wanted, Type: language.Type{Number: true, Integer: true, Min: 1, Max: MaxOrder}, Example: "4",
			Doc: "Order, 1 to 12 and even for LR: 6 dB per octave each; needed with `family`, 2 with `q`.",
		},
		{
			Name: "ripple", Effect: language.Wanted, Type: language.Type{Dims: []language.Dim{language.Level}, Min: 0.001, Max: 6}, Example: "0.5 dB",
			Doc: "Passband ripple in dB, 0.001 to 6: needed by " + strings.Join(ripple, " and ") + ", and by no other.",
		},
		{
			Name: "stop", Effect: language.Wanted, Type: language.Type{Dims: []language.Dim{language.Level}, Min: 1, Max: 200}, Example: "60 dB",
			Doc: "Attenuation of the stopband in dB, 1 to 200: needed by " + strings.Join(stop, " and ") + ", and by no other.",
		},
		{
			Name: "scaled-by", Effect: language.Wanted, Type: language.Type{Words: []string{scaledByLevel, scaledByDelay, scaledByPhase}}, Default: scaledByLevel, Example: scaledByDelay,
			Doc: "What bessel has at `at`: level (-3.01 dB), delay (a delay at 0 Hz of 1/(2π·at)) or phase (half the final phase shift).",
		},
		qKey("Q of a second-order section, instead of a family: the level at `at` is 20·lg q dB", false),
	}
}

// alignment is the low-pass at 1 rad/s that the arguments ask for.
func alignment(args *language.Value) ([]biquad.Analog, []Problem) {
	if given(args, "q") {
		return ofQ(args)
	}
	if word(args, "family") == "" {
		return nil, []Problem{problem("", "`family: butterworth, order: 4`, or `q: 0.7`",
			"the filter needs `family` or `q`")}
	}
	family, ok := FamilyByName(word(args, "family"))
	if !ok {
		return nil, []Problem{problem("family", "one of the families that exist", "`%s` is not a family", word(args, "family"))}
	}
	d := Design{
		Order: int(number(args, "order")), RippleDB: number(args, "ripple"),
		StopDB: number(args, "stop"), ScaledBy: word(args, "scaled-by"),
	}
	if problems := misfit(args, family, d); problems != nil {
		return nil, problems
	}
	unit := family.Sections(d)
	for _, s := range unit {
		if _, q := s.Natural(); q > maxPoleQ {
			return nil, []Problem{problem("stop", "a lower order, or a `stop` further above `ripple`",
				"%s of order %d with these limits needs a pole pair of Q %s", family.Name, d.Order, digits(q))}
		}
	}
	return unit, nil
}

// ofQ is the second-order section of a given Q.
func ofQ(args *language.Value) ([]biquad.Analog, []Problem) {
	var problems []Problem
	for _, key := range []string{"family", "ripple", "stop", "scaled-by"} {
		if given(args, key) {
			problems = append(problems, problem(key, "either `q`, or `family` with `order`",
				"`%s` cannot be combined with `q`", key))
		}
	}
	if given(args, "order") && number(args, "order") != 2 {
		problems = append(problems, problem("order", "`order: 2`, or a `family` instead of `q`",
			"a filter with `q` has order 2, not %d", int(number(args, "order"))))
	}
	return []biquad.Analog{pair(1, 1/number(args, "q"))}, problems
}

// misfit is what a family's keys lack or have too many of.
func misfit(args *language.Value, f Family, d Design) []Problem {
	var problems []Problem
	switch {
	case !given(args, "order"):
		problems = append(problems, problem("", "`order: 4`", "the family %s needs an `order`", f.Name))
	case d.Order < 1 || d.Order > MaxOrder:
		problems = append(problems, problem("order", fmt.Sprintf("1 to %d", MaxOrder), "there is no order %d", d.Order))
	case f.EvenOnly && d.Order%2 != 0:
		problems = append(problems, problem("order", fmt.Sprintf("`order: %d` or `order: %d`", max(2, d.Order-1), min(MaxOrder, d.Order+1)),
			"%s consists of two equal halves, so its order is even, not %d", f.Name, d.Order))
	}
	for _, k := range []struct {
		key, example string
		uses         func(Family) bool
		required     bool
	}{
		{"ripple", "0.5 dB", func(f Family) bool { return f.UsesRipple }, true},
		{"stop", "60 dB", func(f Family) bool { return f.UsesStop }, true},
		{"scaled-by", scaledByDelay, func(f Family) bool { return f.UsesScale }, false},
	} {
		switch {
		case given(args, k.key) && !k.uses(f):
			var users []string
			for _, g := range Families {
				if k.uses(g) {
					users = append(users, g.Name)
				}
			}
			problems = append(problems, problem(k.key, "leave it out; it belongs to "+strings.Join(users, " and "),
				"`%s` does not apply to the family %s", k.key, f.Name))
		case k.required && k.uses(f) && !given(args, k.key):
			problems = append(problems, problem("", "`"+k.key+": "+k.example+"`", "the family %s needs `%s`", f.Name, k.key))
		}
	}
	if problems == nil && f.UsesRipple && f.UsesStop && d.StopDB <= d.RippleDB {
		problems = append(problems, problem("stop", "more than "+inDB(d.RippleDB),
			"`stop` of %s is not more than the passband's ripple of %s", inDB(d.StopDB), inDB(d.RippleDB)))
	}
	return problems
}
