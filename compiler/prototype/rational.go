package prototype

import (
	"math"

	"bandwright/biquad"
	"bandwright/compiler/language"
)

// giveBack is how closely the product of a rational's sections must give back
// its coefficients: a thousandth of what any response could show.
const giveBack = 1e-12

// Roots of a rational outside these frequencies (Hz) mean a slip of the pen.
const minRootHz, maxRootHz = 1e-6, 1e9

// maxCoefficient keeps powers of the coefficients inside float64.
const maxCoefficient = 1e30

// rational is a fraction of polynomials in p = s/ω0, factored into sections.
var rational = Kind{
	Kind: language.Kind{
		Name: "rational",
		Doc:  "A transfer function given as two polynomials in p = s/(2π·at), factored into sections; its poles must lie in the left half plane.",
		Keys: []language.Key{
			atKey("Frequency that p is normalised to"),
			polynomialKey("numerator", "[1, 0, 0]"),
			polynomialKey("denominator", "[1, 1.4, 1]"),
		},
	},
	Ideal: func(args *language.Value) (Ideal, []Problem) {
		at := number(args, "at")
		num, den := ascending(args.Get("numerator")), ascending(args.Get("denominator"))
		if problems := improper(num, den); problems != nil {
			return Ideal{}, problems
		}
		n := len(num) - 1
		for num[n] == 0 {
			n--
		}
		num = num[:n+1]
		zeros, problems := factored("numerator", num, at)
		poles, more := factored("denominator", den, at)
		if problems = append(problems, more...); problems != nil {
			return Ideal{}, problems
		}
		if problems := unstable("denominator", poles, at); problems != nil {
			return Ideal{}, problems
		}
		lead := num[n] / den[len(den)-1]
		if len(poles) == 0 {
			return Ideal{Gain: 1, Sections: []biquad.Analog{biquad.Constant(lead)}}, nil
		}
		unit, rest := arrange(zeros, poles)
		amplified(unit, lead*rest)
		if !givesBack(unit, num, den) {
			return Ideal{}, []Problem{problem("", "the filter as a chain of `roots` or smaller fractions",
				"the fraction cannot be factored to an accuracy of %s", digits(giveBack))}
		}
		return Ideal{Gain: 1, Sections: placed(unit, omega(at))}, nil
	},
}

func polynomialKey(name, example string) language.Key {
	return language.Key{
		Name: name, Effect: language.Wanted, Required: true, Example: example,
		Type: language.Type{
			List:   &language.Type{Number: true, Min: -maxCoefficient, Max: maxCoefficient},
			MinLen: 1, MaxLen: MaxOrder + 1,
		},
		Doc: "Coefficients of the " + name + " in p, highest power first, plain numbers; 13 at most.",
	}
}

// ascending is a list's numbers, last first.
func ascending(list *language.Value) []float64 {
	if list == nil {
		return nil
	}
	n := len(list.Items)
	c := make([]float64, n)
	for i, v := range list.Items {
		c[n-1-i] = v.Number
	}
	return c
}

// improper is what keeps two coefficient lists from being a filter.
func improper(num, den []float64) []Problem {
	top := -1
	for k, v := range num {
		if v != 0 {
			top = k
		}
	}
	switch {
	case len(den) == 0 || den[len(den)-1] == 0:
		return []Problem{problem("denominator", "leave the leading zeros out", "the denominator begins with 0, which hides its order")}
	case top < 0:
		return []Problem{problem("numerator", "at least one coefficient that is not 0", "a numerator of 0 gives no output")}
	case top >= len(den):
		return []Problem{problem("numerator", "an order of the denominator of at least that of the numerator",
			"the numerator has order %d and the denominator %d: the gain would rise without limit", top, len(den)-1)}
	}
	return nil
}

// factored is a polynomial's roots as factors in units of ω0.
func factored(key string, c []float64, at float64) ([]factor, []Problem) {
	rs, err := biquad.Roots(c)
	if err != nil {
		return nil, []Problem{problem(key, "coefficients of more similar size", "the %s cannot be factored (%v)", key, err)}
	}
	var fs []factor
	for _, x := range rs {
		w := math.Hypot(real(x), imag(x))
		if f := w * at; w != 0 && !(f >= minRootHz && f <= maxRootHz) {
			return nil, []Problem{problem(key, "roots from 1e-6 Hz to 1 GHz; lists begin with the highest power",
				"the %s has a root at %s", key, inHz(f))}
		}
		switch {
		case imag(x) > 0:
			fs = append(fs, factor{2, w, -2 * real(x) / w})
		case imag(x) == 0 && real(x) > 0:
			fs = append(fs, factor{1, w, -1})
		case imag(x) == 0:
			fs = append(fs, factor{1, w, 1})
		}
	}
	return fs, nil
}

// unstable names the poles that do not die away; unit is what the factors'
// frequencies are multiplied by to give Hz.
func unstable(key string, poles []factor, unit float64) []Problem {
	var problems []Problem
	for _, p := range poles {
		f := inHz(p.w * unit)
		switch {
		case p.w == 0:
			problems = append(problems, problem(key, "a pole above 0 Hz", "a pole at 0 Hz is an integrator, whose output grows without limit"))
		case p.r < 0 && p.order == 1:
			problems = append(problems, problem(key, "poles in the left half plane", "unstable: a real pole at %s in the right half plane", f))
		case p.r < 0:
			problems = append(problems, problem(key, "poles in the left half plane",
				"unstable: a pole pair at %s with Q %s in the right half plane", f, digits(-1/p.r)))
		case p.r == 0:
			problems = append(problems, problem(key, "a finite Q", "unstable: a pole pair at %s on the imaginary axis oscillates", f))
		case 1/p.r > maxPoleQ:
			problems = append(problems, problem(key, "a Q of at most "+digits(maxPoleQ),
				"a pole pair at %s with Q %s is almost undamped", f, digits(1/p.r)))
		}
	}
	return problems
}

// givesBack compares the product of sections at 1 rad/s with the fraction,
// both scaled to a leading denominator coefficient of 1. A numerator that
// cancels is held to the size of its terms.
func givesBack(unit []biquad.Analog, num, den []float64) bool {
	b, size, a := expanded(unit, 1)
	top := len(den) - 1
	for k := range den {
		if !(math.Abs(a[k]/a[top]-den[k]/den[top]) <= giveBack*math.Abs(den[k]/den[top])) {
			return false
		}
		want := 0.0
		if k < len(num) {
			want = num[k] / den[top]
		}
		if !(math.Abs(b[k]/a[top]-want) <= giveBack*size[k]/a[top]) {
			return false
		}
	}
	return true
}
