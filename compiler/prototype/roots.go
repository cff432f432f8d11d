package prototype

import (
	"math"

	"bandwright/biquad"
	"bandwright/compiler/language"
)

// maxRoots bounds each list of roots.
const maxRoots = 12

// maxUnityDB bounds the gain that `unity-at` may ask for: beyond it the
// frequency lies far down a slope by mistake.
const maxUnityDB = 200

// roots is k·Π(s-zero)/Π(s-pole), k > 0, with |H| = 1 at `unity-at`.
var roots = Kind{
	Kind: language.Kind{
		Name: "roots",
		Doc:  "A transfer function given by its zeros and poles, with a positive factor that makes the level 0 dB at `unity-at`.",
		Keys: []language.Key{
			{
				Name: "zeros", Effect: language.Wanted, Example: "[0, {at: 3 kHz, q: inf}]",
				Type: language.Type{List: &rootType, MaxLen: maxRoots},
				Doc:  "Zeros: f for s = -2πf, 0 for the origin, or {at, q, side} for a pair, with q: inf on the imaginary axis and side: right in the right half plane; none by default, 12 at most.",
			},
			{
				Name: "poles", Effect: language.Wanted, Required: true, Example: "[20.6 Hz, {at: 12 kHz, q: 0.5}]",
				Type: language.Type{List: &rootType, MinLen: 1, MaxLen: maxRoots},
				Doc:  "Poles, at least as many as zeros: f for s = -2πf, or {at, q} for a pair; above 0 Hz, of finite Q and on the left; 12 at most.",
			},
			{
				Name: "unity-at", Effect: language.Wanted, Required: true, Example: "1 kHz",
				Type: language.Type{Dims: []language.Dim{language.Frequency}, Min: 0, Max: maxHz, Words: []string{"inf"}},
				Doc:  "Frequency at which the level is 0 dB: 0 Hz to 1 MHz, or inf.",
			},
		},
	},
	Ideal: func(args *language.Value) (Ideal, []Problem) {
		zeros, poles := listed(args.Get("zeros")), listed(args.Get("poles"))
		var problems []Problem
		if z, p := degree(zeros), degree(poles); z > p {
			problems = append(problems, problem("zeros", "at least as many poles as zeros; a pair counts twice",
				"%d zeros and %d poles: the gain would rise without limit", z, p))
		}
		if v := args.Get("poles"); v != nil {
			for _, item := range v.Items {
				if word(item, "q") == "inf" {
					problems = append(problems, problem("poles", "a number for `q`; `q: inf` is for zeros",
						"unstable: a pole pair at %s with `q: inf` oscillates", inHz(number(item, "at"))))
				} else if word(item, "side") == "right" {
					problems = append(problems, problem("poles", "leave `side` out; `side: right` is for zeros",
						"unstable: a pole at %s in the right half plane", inHz(number(item, "at"))))
				} else if rootHz(item) == 0 {
					problems = append(problems, unstable("poles", []factor{{order: 1}}, 1)...)
				}
			}
		}
		if v := args.Get("zeros"); v != nil {
			for _, item := range v.Items {
				if word(item, "q") == "inf" && given(item, "side") {
					problems = append(problems, problem("zeros", "leave `side` out",
						"a zero pair with `q: inf` lies on the imaginary axis, so `side` does not apply"))
				}
			}
		}
		if problems != nil {
			return Ideal{}, problems
		}
		sections, _ := arrange(zeros, poles)
		if problem := unity(args.Get("unity-at"), sections, zeros); problem != nil {
			return Ideal{}, []Problem{*problem}
		}
		for i := range sections {
			sections[i].Keep = sections[i].W0
		}
		return Ideal{Gain: 1, Sections: sections}, nil
	},
}

// rootType is one root: a frequency, or a mapping.
var rootType = language.Type{Either: []language.Type{
	{Dims: []language.Dim{language.Frequency}, Min: 0, Max: maxHz, Words: []string{"0"}},
	{Keys: []language.Key{
		{
			Name: "at", Effect: language.Wanted, Type: frequencyType(), Required: true, Example: "3 kHz",
			Doc: "Frequency of the root or the pair, 0.001 Hz to 1 MHz.",
		},
		{
			Name: "q", Effect: language.Wanted, Example: "0.7",
			Type: language.Type{Number: true, Min: minQ, Max: maxQ, Words: []string{"inf"}},
			Doc:  "Q of a pair, a plain number from 0.05 to 1000, or inf for zeros on the imaginary axis; without it the root is real.",
		},
		{
			Name: "side", Effect: language.Wanted, Type: language.Type{Words: []string{"left", "right"}}, Default: "left", Example: "right",
			Doc: "Half plane that the root lies in; right is for zeros.",
		},
	}},
}}

// rootHz is the frequency of one entry of a list.
func rootHz(item *language.Value) float64 {
	if at := item.Get("at"); at != nil {
		return at.Number
	}
	return item.Number
}

// listed turns a list of roots into factors in rad/s.
func listed(list *language.Value) []factor {
	if list == nil {
		return nil
	}
	var fs []factor
	for _, item := range list.Items {
		f := factor{order: 1, w: omega(rootHz(item)), r: 1}
		if q := item.Get("q"); q != nil {
			f.order = 2
			if f.r = 0; q.Word != "inf" {
				f.r = 1 / q.Number
			}
		}
		if word(item, "side") == "right" && f.r != 0 {
			f.r = -f.r
		}
		fs = append(fs, f)
	}
	return fs
}

// unity scales the sections to 0 dB at a frequency, or says why that cannot
// be.
func unity(at *language.Value, sections []biquad.Analog, zeros []factor) *Problem {
	level, place := 1.0, ""
	switch {
	case at.Word == "inf":
		place = "infinity"
		for _, s := range sections {
			n := s.Order()
			level *= s.B[n] / s.A[n]
		}
	default:
		w := omega(at.Number)
		place = inHz(at.Number)
		for _, s := range sections {
			h := s.At(w)
			level *= math.Hypot(real(h), imag(h))
		}
		for _, z := range zeros {
			// A zero on the axis that rounding would leave a trace of.
			if z.order == 2 && z.r == 0 && math.Abs(z.w-w) <= 1e-9*w {
				level = 0
			}
		}
	}
	level = math.Abs(level)
	if level == 0 {
		p := problem("unity-at", "a frequency that the filter passes", "the response is 0 at %s, and no gain makes it 0 dB", place)
		return &p
	}
	if db := biquad.GainDB(level); math.Abs(db) > maxUnityDB {
		p := problem("unity-at", "a frequency that the filter passes", "the response at %s is too small or too large (%s)", place, inDB(db))
		return &p
	}
	amplified(sections, 1/level)
	return nil
}
