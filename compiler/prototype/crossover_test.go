package prototype_test

import (
	"fmt"
	"math"
	"math/cmplx"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/prototype"
	"bandwright/compiler/prototype/prototypetest"
)

// sumTol is the error allowed to a crossover's sum: two responses of up to
// twelve poles, each coefficient within a unit of its last place.
const sumTol = 1e-12

// alignments is lr_alignments.json: closed forms at 50 digits, the alignment
// after J. Audio Eng. Soc. 24(1), 1976.
type alignments struct {
	Alignments []struct {
		Alignment   string
		Polarity    string    `json:"high_pass_polarity"`
		AtCorner    float64   `json:"level_at_fc_db"`
		Denominator []float64 `json:"allpass_denominator_ascending"`
		DelayAtDC   float64   `json:"group_delay_dc_times_2pi_fc"`
		Sections    []struct {
			Order, Count int
			Q            float64
		}
		Check []struct {
			F     float64  `json:"f_over_fc"`
			LP    float64  `json:"lp_db"`
			HP    float64  `json:"hp_db"`
			Sum   float64  `json:"sum_db"`
			Phase float64  `json:"sum_phase_deg"`
			Wrong *float64 `json:"wrong_polarity_sum_db"`
			Power float64  `json:"power_sum_db"`
		}
	}
	Pairs []struct {
		Order    int
		AtCorner float64 `json:"level_at_fc_db"`
		Check    []struct {
			F     float64  `json:"f_over_fc"`
			Sum   *float64 `json:"sum_db"`
			Diff  *float64 `json:"diff_db"`
			Power float64  `json:"power_sum_db"`
		}
	} `json:"butterworth_pairs"`
}

const corner = 1000.0

// sides are the two responses of a crossover at f.
func sides(t *testing.T, family string, order int, f float64) (low, high complex128) {
	t.Helper()
	g := prototypetest.Given{"at": corner, "family": family, "order": order}
	return prototypetest.Response(build(t, "low-pass", g), f), prototypetest.Response(build(t, "high-pass", g), f)
}

func TestCrossoverTables(t *testing.T) {
	var file alignments
	readJSON(t, "lr_alignments.json", &file)
	for _, a := range file.Alignments {
		var order int
		if _, err := fmt.Sscanf(a.Alignment, "LR%d", &order); err != nil {
			t.Fatal(err)
		}
		sign := 1
		if a.Polarity == "inverted" {
			sign = -1
		}
		ours := build(t, "low-pass", prototypetest.Given{"at": corner, "family": "LR", "order": order}).Sections
		for _, want := range a.Sections {
			n := 0
			for _, s := range ours {
				if _, q := s.Natural(); s.Order() == want.Order && math.Abs(q-want.Q) <= poleTol*q {
					n++
				}
			}
			if n != want.Count {
				t.Errorf("%s: %d sections of Q %v, want %d", a.Alignment, n, want.Q, want.Count)
			}
		}
		comp, ok := prototype.AllPassSum("LR", order, 2*math.Pi*corner, sign)
		if !ok {
			t.Errorf("%s with the high-pass %s has no all-pass sum", a.Alignment, a.Polarity)
			continue
		}
		if _, ok := prototype.AllPassSum("LR", order, 2*math.Pi*corner, -sign); ok {
			t.Errorf("%s sums to an all-pass in the wrong polarity", a.Alignment)
		}
		den := []float64{1}
		delay := 0.0
		for _, s := range comp {
			den = times(den, s.A[:s.Order()+1])
			delay += 2 * s.A[1]
		}
		for k, want := range a.Denominator {
			near(t, a.Alignment+" all-pass denominator", den[k], want, poleTol*want)
		}
		near(t, a.Alignment+" delay at 0 Hz", delay, a.DelayAtDC, poleTol*a.DelayAtDC)
		for _, c := range a.Check {
			low, high := sides(t, "LR", order, c.F*corner)
			sum := low + complex(float64(sign), 0)*high
			what := fmt.Sprintf("%s at %v", a.Alignment, c.F)
			const printed = 0.51e-6 // six decimals
			near(t, what+" low-pass", biquad.DB(low), c.LP, printed)
			near(t, what+" high-pass", biquad.DB(high), c.HP, printed)
			near(t, what+" sum", biquad.DB(sum), c.Sum, printed)
			turn := cmplx.Phase(sum)*180/math.Pi - c.Phase
			near(t, what+" phase", turn-360*math.Round(turn/360), 0, printed)
			wrong := biquad.DB(low - complex(float64(sign), 0)*high)
			if c.Wrong == nil {
				if wrong > -200 {
					t.Errorf("%s: the wrong polarity leaves %v dB, want a null", what, wrong)
				}
			} else {
				near(t, what+" wrong polarity", wrong, *c.Wrong, 0.51e-4)
			}
			near(t, what+" power", 10*math.Log10(sq(low)+sq(high)), c.Power, printed)
		}
		low, _ := sides(t, "LR", order, corner)
		near(t, a.Alignment+" at the corner", biquad.DB(low), a.AtCorner, 1e-9)
	}
}

// The sums and differences of Butterworth pairs.
func TestButterworthPairs(t *testing.T) {
	var file alignments
	readJSON(t, "lr_alignments.json", &file)
	for _, p := range file.Pairs {
		for _, c := range p.Check {
			low, high := sides(t, "butterworth", p.Order, c.F*corner)
			what := fmt.Sprintf("Butterworth %d at %v", p.Order, c.F)
			for sign, want := range map[int]*float64{1: c.Sum, -1: c.Diff} {
				sum := biquad.DB(low + complex(float64(sign), 0)*high)
				if want == nil {
					if sum > -200 {
						t.Errorf("%s: %v dB, want a null", what, sum)
					}
					continue
				}
				near(t, what, sum, *want, 0.51e-6)
			}
			near(t, what+" power", 10*math.Log10(sq(low)+sq(high)), c.Power, 0.51e-6)
		}
		low, _ := sides(t, "butterworth", p.Order, corner)
		near(t, "Butterworth at the corner", biquad.DB(low), p.AtCorner, 1e-9)
	}
}

func sq(h complex128) float64 { return real(h)*real(h) + imag(h)*imag(h) }

// Wherever AllPassSum says that a sum is an all-pass, it is that one; wherever
// it says no, the sum is none. Every family, order and polarity.
func TestAllPassSum(t *testing.T) {
	yes := 0
	for _, f := range prototype.Families {
		for order := 1; order <= prototype.MaxOrder; order++ {
			if f.EvenOnly && order%2 != 0 {
				continue
			}
			g := prototypetest.Given{"at": corner, "family": f.Name, "order": order}
			if f.UsesRipple {
				g["ripple"] = 0.5
			}
			if f.UsesStop {
				g["stop"] = 60.0
			}
			lp, hp := build(t, "low-pass", g), build(t, "high-pass", g)
			for _, sign := range []int{1, -1} {
				what := fmt.Sprintf("%s order %d sign %d", f.Name, order, sign)
				comp, ok := prototype.AllPassSum(f.Name, order, 2*math.Pi*corner, sign)
				if ok {
					yes++
					prototypetest.Sound(t, prototype.Ideal{Gain: 1, Sections: comp})
				}
				apart := 0.0 // of the sum's magnitude from 1
				for lg := -4.0; lg <= 4; lg += 0.11 {
					f := corner * math.Exp2(lg)
					sum := prototypetest.Response(lp, f) + complex(float64(sign), 0)*prototypetest.Response(hp, f)
					apart = math.Max(apart, math.Abs(cmplx.Abs(sum)-1))
					if ok {
						want := complex(1, 0)
						for _, s := range comp {
							want *= s.At(2 * math.Pi * f)
							if s.Keep != 2*math.Pi*corner {
								t.Fatalf("%s: Keep %v", what, s.Keep)
							}
						}
						near(t, what, cmplx.Abs(sum-want), 0, sumTol)
					}
				}
				if ok && apart > sumTol {
					t.Errorf("%s: |sum| is off 1 by %v", what, apart)
				}
				// A single pole has the same shape in every family that
				// normalises it to -3.01 dB, and sums flat without being asked.
				if !ok && apart < 1e-6 && order > 1 {
					t.Errorf("%s sums to an all-pass, and AllPassSum says no", what)
				}
			}
		}
	}
	if want := prototype.MaxOrder/2 + prototype.MaxOrder; yes != want {
		t.Errorf("%d all-pass sums, want %d: LR of every even order, Butterworth of every odd order twice", yes, want)
	}
}
