package discretize

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"sort"
	"strings"
	"testing"

	"bandwright/biquad"
)

// prototype is one cascade of golden/published/prototype_corpus.json:
// numerators and denominators in powers of s, rad/s.
type prototype struct {
	Name, Family string
	Sections     []struct{ B, A [3]float64 }
}

func corpus(t testing.TB) []prototype {
	t.Helper()
	raw, err := os.ReadFile("../../golden/published/prototype_corpus.json")
	if err != nil {
		t.Fatal(err)
	}
	var c struct{ Prototypes []prototype }
	if err := json.Unmarshal(raw, &c); err != nil {
		t.Fatal(err)
	}
	return c.Prototypes
}

// analog are the prototype's sections, each scaled to its own frequency.
func (p prototype) analog() []biquad.Analog {
	var out []biquad.Analog
	for _, s := range p.Sections {
		w := 1.0
		switch {
		case s.A[2] != 0 && s.A[0] != 0:
			w = math.Sqrt(s.A[0] / s.A[2])
		case s.A[1] != 0:
			w = math.Abs(s.A[0] / s.A[1])
		}
		a := biquad.Analog{W0: w, Keep: w}
		f := 1 / s.A[0]
		for i := range a.B {
			a.B[i], a.A[i] = s.B[i]*f, s.A[i]*f
			f *= w
		}
		out = append(out, a)
	}
	return out
}

var rates = [...]float64{44100, 48000, 96000, 192000}

// worstDB is the metric of the corpus: the largest |error| in dB where
// |H| > -60 dB, 20 Hz to 20 kHz, from biquad's responses alone.
func worstDB(as []biquad.Analog, ds []biquad.Digital, rateHz float64) float64 {
	worst := 0.0
	const n = 1800
	for i := 0; i <= n; i++ {
		hz := 20 * math.Exp2(float64(i)/n*math.Log2(1000))
		h, g := complex128(1), complex128(1)
		for _, a := range as {
			h *= a.At(2 * math.Pi * hz)
		}
		if biquad.DB(h) < -60 {
			continue
		}
		pt := biquad.PointAt(hz, rateHz)
		for _, d := range ds {
			g *= d.At(pt)
		}
		worst = math.Max(worst, math.Abs(biquad.DB(g)-biquad.DB(h)))
	}
	return worst
}

// prewarped is the bilinear transform of one section that keeps its own
// frequency: the yardstick.
func prewarped(a biquad.Analog, rateHz float64) biquad.Digital {
	w, _ := a.Natural()
	if w == 0 {
		return biquad.Digital{Form: biquad.Delta, B: [3]float64{a.B[0] / a.A[0]}, A: [3]float64{1}}
	}
	hz := math.Min(w/(2*math.Pi), 0.49*rateHz)
	k, f := hz*2*math.Pi/warp(hz, rateHz)/a.W0, 1.0
	p := planar{a.B, a.A}
	for i := range p.n {
		p.n[i] *= f
		p.d[i] *= f
		f *= k
	}
	return p.digital()
}

func each(f func(biquad.Analog, float64) biquad.Digital) func([]biquad.Analog, float64) []biquad.Digital {
	return func(as []biquad.Analog, rateHz float64) []biquad.Digital {
		var out []biquad.Digital
		for _, a := range as {
			out = append(out, f(a, rateHz))
		}
		return out
	}
}

// fitted is Magnitude; a fit that breaks a limit realises nothing here.
func fitted(extra int) func([]biquad.Analog, float64) []biquad.Digital {
	return func(as []biquad.Analog, rateHz float64) []biquad.Digital {
		f := Magnitude(as, rateHz, Audible(rateHz), extra)
		if n := len(f.Sections) - len(as); !f.Fitted || !f.Audit.Keeps(Guarded) || n < 0 || n > extra {
			return nil
		}
		return f.Sections
	}
}

// matched is Matched judged up to the end of the audible band.
func matched(a biquad.Analog, rateHz float64) biquad.Digital {
	return Matched(a, rateHz, Audible(rateHz).HighHz)
}

// recorded are the median, the 90th percentile and the worst of the corpus, in
// dB. Worse is a failure, and so is better until it is recorded.
var recorded = []struct {
	method string
	do     func([]biquad.Analog, float64) []biquad.Digital
	errors [len(rates)][3]float64
}{
	{"bilinear", each(prewarped), [len(rates)][3]float64{{0.722, 26.5, 95.2}, {0.609, 17.6, 61.7}, {0.131, 2.75, 53.5}, {0.0327, 0.632, 26.9}}},
	{"magnitude-matched", each(matched), [len(rates)][3]float64{{0.0258, 0.401, 3.44}, {0.0159, 0.259, 2.03}, {0.00024, 0.012, 0.573}, {5.67e-06, 0.000716, 0.0303}}},
	{"fit", fitted(0), [len(rates)][3]float64{{0.000647, 0.0862, 1.08}, {0.000282, 0.0377, 0.669}, {1.12e-06, 0.000599, 0.0273}, {6.2e-08, 3.5e-05, 0.00157}}},
	{"fit +1", fitted(1), [len(rates)][3]float64{{2.61e-06, 0.000157, 0.00255}, {2.91e-07, 2.06e-05, 0.000461}, {4.86e-09, 6.51e-07, 2.93e-05}, {2.65e-09, 1.23e-07, 1.07e-05}}},
}

const (
	recordTolerance = 0.03 // what the last digits of a record and of other processors may differ by
	recordFloorDB   = 2e-6 // where fits stop by turns, far below what anything resolves
)

// goals are the worst errors that the fits may have, in dB, at each rate, with
// the prototype's number of biquads and with one more.
var corpusGoals = map[string][len(rates)]float64{
	"fit":    {1.1, 0.7, 0.03, 0.03},
	"fit +1": {0.005, 0.002, 0.002, 0.002},
}

func TestCorpusKeepsItsRecord(t *testing.T) {
	ps := corpus(t)
	for _, m := range recorded {
		for k, rate := range rates {
			t.Run(fmt.Sprint(m.method, " ", rate), func(t *testing.T) {
				t.Parallel()
				var es []float64
				for _, p := range ps {
					as := p.analog()
					ds := m.do(as, rate)
					if ds == nil {
						t.Errorf("%s breaks a limit or has a wrong number of sections", p.Name)
					}
					es = append(es, worstDB(as, ds, rate))
				}
				sort.Float64s(es)
				got := [3]float64{es[len(es)/2], es[len(es)*9/10], es[len(es)-1]}
				for i, want := range m.errors[k] {
					if math.Abs(got[i]-want) > recordTolerance*want+recordFloorDB {
						t.Errorf("median, 90 %%, worst are %.3g dB, recorded %.3g", got, m.errors[k])
						break
					}
				}
				if g, ok := corpusGoals[m.method]; ok && got[2] > g[k] {
					t.Errorf("worst %.3g dB, goal %.3g", got[2], g[k])
				}
			})
		}
	}
}

// TestDocsShowTheRecord holds the table in DEVELOPERS.md to the record.
func TestDocsShowTheRecord(t *testing.T) {
	docs, err := os.ReadFile("../../DEVELOPERS.md")
	if err != nil {
		t.Fatal(err)
	}
	want := "| median / p90 / worst, dB | 44.1 kHz | 48 kHz | 96 kHz | 192 kHz |\n|---|---|---|---|---|\n"
	for _, m := range recorded {
		want += "| " + m.method
		for _, e := range m.errors {
			want += fmt.Sprintf(" | %.2g / %.2g / %.2g", e[0], e[1], e[2])
		}
		want += " |\n"
	}
	if !strings.Contains(string(docs), want) {
		t.Errorf("DEVELOPERS.md does not hold this table:\n%s", want)
	}
}
