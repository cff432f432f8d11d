package number

import (
	"math"
	"math/rand"
	"slices"
	"strconv"
	"strings"
	"testing"

	"bandwright/biquad"
)

// Every row says all that a Machine and the C printer read. A program calls
// only functions that C has too, and begins with names that are given.
func TestFormatsAreComplete(t *testing.T) {
	for _, f := range Formats {
		k, c := f.Kernel, f.C
		for what, text := range map[string]string{
			"name": f.Name, "doc": f.Doc, "C type": c.Type.Name, "precision": c.Precision, "rounding": c.Rounding,
			"meaning": c.Meaning, "samples": c.Samples, "overflow": c.Overflow,
		} {
			if text == "" {
				t.Errorf("%s: no %s", f.Name, what)
			}
		}
		if len(f.Forms) == 0 || c.Type.Bytes == 0 || c.FullScale == 0 || f.UnitRoundOff <= 0 || f.Round(1+min(f.UnitRoundOff, 1.0/(1<<30))/2) != 1 || len(f.Literals(Row{})) != len(k.Words) {
			t.Errorf("%s: the row is not complete", f.Name)
		}
		var functions []string
		for _, function := range c.Functions {
			functions = append(functions, function.Name)
			if !strings.Contains(function.Text, "STEM_"+function.Name+"(") {
				t.Errorf("%s: the function %s is not defined", f.Name, function.Name)
			}
		}
		if c.Round != "" && !slices.Contains(functions, c.Round) {
			t.Errorf("%s: C has no function %s", f.Name, c.Round)
		}
		var section []string // names that a section's programs find
		for _, v := range slices.Concat(k.Words, k.States) {
			section = append(section, v.Name)
		}
		type program struct {
			name          string
			program       Program
			given, wanted []string
		}
		programs := []program{
			{"take", k.Take, []string{"in"}, []string{"x"}},
			{"give", k.Give, []string{"x"}, []string{"out"}},
			{"gain", k.Gain, []string{"gain", "x"}, []string{"x"}},
			{"weight", k.Weight, []string{"at", "step"}, []string{"w"}},
			{"mix", k.Mix, []string{"y", "z", "w"}, []string{"y"}},
			{"fade", k.Fade, []string{"y", "w"}, []string{"y"}},
		}
		for _, form := range append(slices.Clone(f.Forms), biquad.Direct) {
			programs = append(programs, program{form.String(), k.Sections[form], append(slices.Clone(section), "x"), []string{"y"}})
		}
		if k.Small != nil {
			programs = append(programs, program{"small", k.Small, []string{"gain", "x"}, []string{"x"}})
		}
		for _, p := range programs {
			known := p.given
			var made []string
			for _, s := range p.program {
				for _, name := range unknown(s.Tree(), known, functions) {
					t.Errorf("%s, %s: %s is not known in %s = %s", f.Name, p.name, name, s.To, s.Is)
				}
				known, made = append(known, s.To), append(made, s.To)
			}
			for _, name := range p.wanted {
				if !slices.Contains(made, name) {
					t.Errorf("%s, %s: does not make %s", f.Name, p.name, name)
				}
			}
		}
	}
}

// unknown is the names and functions of a tree that are not listed.
func unknown(n Node, names, functions []string) []string {
	var out []string
	switch {
	case n.Op == "" && !n.Number && !slices.Contains(names, n.Leaf):
		out = append(out, n.Leaf)
	case n.Call && !slices.Contains(functions, n.Op):
		out = append(out, n.Op)
	}
	for _, a := range n.Args {
		out = append(out, unknown(a, names, functions)...)
	}
	return out
}

// What is no expression of a step is refused.
func TestStepsAreRefused(t *testing.T) {
	for _, is := range []string{"", "a +", "a / b", "a << b", "-a", "a[0]", "x.y", "f.g(a)", "a = b"} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%q is taken", is)
				}
			}()
			Step{To: "y", Is: is}.Tree()
		}()
	}
}

func TestLiteral(t *testing.T) {
	single, double := format("float32"), format("float64")
	for _, c := range []struct {
		f    Format
		x    float64
		want string
	}{
		{single, 1, "1.0f"}, {single, math.Copysign(0, -1), "0.0f"}, {single, -0.1, "-0.1f"}, {single, 1e-5, "1e-05f"},
		{single, float64(float32(1) / 3), "0.33333334f"}, {double, 1.0 / 3, "0.3333333333333333"}, {double, 1e21, "1e+21"},
		{double, -2, "-2.0"}, {double, math.Copysign(0, -1), "0.0"},
	} {
		if got := c.f.Literal(c.x); got != c.want {
			t.Errorf("%g is %s, want %s", c.x, got, c.want)
		}
	}
	row := Row{Form: 1, B0: 0.5, B1: -2, B2: 1e-20, A1: -0.25, A2: 3}
	if got, want := single.Literals(row), []string{"0.5f", "-2.0f", "1e-20f", "-0.25f", "3.0f"}; !slices.Equal(got, want) {
		t.Errorf("the words of %+v are %v", row, got)
	}
	r := rand.New(rand.NewSource(1))
	for range 1000 {
		x := float32(math.Ldexp(r.NormFloat64(), r.Intn(60)-30))
		text, suffixed := strings.CutSuffix(single.Literal(float64(x)), "f")
		back, err := strconv.ParseFloat(text, 32)
		if err != nil || !suffixed || float32(back) != x {
			t.Errorf("%g reads back as %g", x, back)
		}
	}
}
