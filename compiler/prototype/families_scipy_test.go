package prototype_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"math/cmplx"
	"os/exec"
	"testing"

	"bandwright/compiler/prototype"
	"bandwright/compiler/prototype/prototypetest"
)

// scipyRootTol bounds the relative distance of our poles and zeros from
// scipy's: both compute in float64, and the worst measured is 2.4e-14 (elliptic
// order 12, 3 dB and 40 dB, whose theta functions lose a hundred ulps in scipy
// or here).
const scipyRootTol = 1e-12

// scipyResponseTol bounds the relative difference of the responses: the
// roots' errors times a Q of up to 6000, or over the distance from a zero; the
// worst measured is 4e-12.
const scipyResponseTol = 1e-10

// python is Debian's interpreter, the one that python3-scipy belongs to.
const python = "/usr/bin/python3"

type scipyCase struct {
	Family   string    `json:"family"`
	Order    int       `json:"order"`
	Ripple   float64   `json:"ripple"`
	Stop     float64   `json:"stop"`
	ScaledBy string    `json:"norm"`
	High     bool      `json:"high"`
	W        []float64 `json:"w"` // rad/s, corner at 1
}

type scipyDesign struct {
	Z, P, H [][2]float64
	K       float64
}

// scipyCases is every family and order, with several limits and norms, as a
// low-pass and as a high-pass.
func scipyCases() []scipyCase {
	var out []scipyCase
	for _, f := range prototype.Families {
		for n := 1; n <= prototype.MaxOrder; n++ {
			if f.EvenOnly && n%2 != 0 {
				continue
			}
			base := scipyCase{Family: f.Name, Order: n}
			variants := []scipyCase{base}
			vary := func(set func(c *scipyCase, i int), count int) {
				var next []scipyCase
				for _, v := range variants {
					for i := range count {
						c := v
						set(&c, i)
						next = append(next, c)
					}
				}
				variants = next
			}
			if f.UsesRipple {
				vary(func(c *scipyCase, i int) { c.Ripple = []float64{0.01, 0.1, 1, 3}[i] }, 4)
			}
			if f.UsesStop {
				stops := []float64{40, 60, 100}
				if n <= 6 { // beyond, 3 dB and 20 dB ask for a Q above the limit
					stops = append(stops, 20)
				}
				vary(func(c *scipyCase, i int) { c.Stop = stops[i] }, len(stops))
			}
			if f.UsesScale {
				vary(func(c *scipyCase, i int) { c.ScaledBy = []string{"magnitude", "delay", "phase"}[i] }, 3)
			}
			for _, v := range variants {
				for _, high := range []bool{false, true} {
					v.High = high
					for e := -3.0; e <= 3; e += 0.27 {
						v.W = append(v.W, math.Exp2(e))
					}
					out = append(out, v)
					v.W = nil
				}
			}
		}
	}
	return out
}

func (c scipyCase) String() string {
	s := fmt.Sprintf("%s order %d", c.Family, c.Order)
	if c.Ripple != 0 {
		s += fmt.Sprintf(" ripple %v dB", c.Ripple)
	}
	if c.Stop != 0 {
		s += fmt.Sprintf(" stop %v dB", c.Stop)
	}
	if c.High {
		s += " high-pass"
	}
	return s + " " + c.ScaledBy
}

// ours is the case as a filter kind computes it, at 1 rad/s.
func (c scipyCase) ours(t *testing.T) prototype.Ideal {
	t.Helper()
	g := prototypetest.Given{"at": 1000.0, "family": c.Family, "order": c.Order}
	if c.Ripple != 0 {
		g["ripple"] = c.Ripple
	}
	if c.Stop != 0 {
		g["stop"] = c.Stop
	}
	if c.ScaledBy != "" {
		g["scaled-by"] = c.ScaledBy
	}
	kind := "low-pass"
	if c.High {
		kind = "high-pass"
	}
	ideal := build(t, kind, g)
	for i := range ideal.Sections {
		ideal.Sections[i].W0 /= 2 * math.Pi * 1000
	}
	return ideal
}

func TestFamiliesAgainstScipy(t *testing.T) {
	cases := scipyCases()
	in, err := json.Marshal(cases)
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(python, "testdata/scipy_prototypes.py")
	cmd.Stdin = bytes.NewReader(in)
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	raw, err := cmd.Output()
	if err != nil {
		t.Fatalf("%s could not run scipy (Debian package python3-scipy): %v\n%s", python, err, stderr.String())
	}
	var designs []scipyDesign
	if err := json.Unmarshal(raw, &designs); err != nil {
		t.Fatal(err)
	}
	if len(designs) != len(cases) {
		t.Fatalf("%d designs for %d cases", len(designs), len(cases))
	}
	for i, c := range cases {
		ideal, d := c.ours(t), designs[i]
		var poles, zeros []complex128
		for _, s := range ideal.Sections {
			poles = append(poles, s.Poles()...)
			zeros = append(zeros, s.Zeros()...)
		}
		if e := distance(poles, d.P); !(e <= scipyRootTol) {
			t.Errorf("%v: a pole is off scipy's by %.2g", c, e)
		}
		if e := distance(zeros, d.Z); !(e <= scipyRootTol) {
			t.Errorf("%v: a zero is off scipy's by %.2g", c, e)
		}
		for k, w := range c.W {
			want := complex(d.H[k][0], d.H[k][1])
			got := prototypetest.Response(ideal, w/(2*math.Pi))
			if e := cmplx.Abs(got-want) / cmplx.Abs(want); !(e <= scipyResponseTol) {
				t.Errorf("%v: the response at %v rad/s is off scipy's by %.2g", c, w, e)
			}
		}
	}
}

// distance is the greatest relative distance from one of scipy's roots to the
// nearest of ours, +Inf if their numbers differ.
func distance(ours []complex128, theirs [][2]float64) float64 {
	if len(ours) != len(theirs) {
		return math.Inf(1)
	}
	used := make([]bool, len(ours))
	worst := 0.0
	for _, v := range theirs {
		want := complex(v[0], v[1])
		best, at := math.Inf(1), -1
		for i, r := range ours {
			if d := cmplx.Abs(r - want); !used[i] && d < best {
				best, at = d, i
			}
		}
		used[at] = true
		if m := cmplx.Abs(want); m > 0 {
			best /= m
		}
		worst = math.Max(worst, best)
	}
	return worst
}
