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

type given = prototypetest.Given

// Source: IEC 61672-1, tables of the A and C weightings (published columns,
// printed to 0.1 dB) at the exact frequencies, and the responses computed from
// the poles that the standard defines. B is from IEC 60651.
func TestWeightings(t *testing.T) {
	var raw struct {
		Hz map[string]any `json:"poles_hz"`
		B  struct {
			Value float64
		} `json:"B_extra_pole_hz"`
	}
	readJSON(t, "iec61672_weightings.json", &raw)
	f := func(name string) float64 { return raw.Hz[name+"_recomputed"].(float64) }
	weighting := map[string]prototype.Ideal{
		"A": build(t, "roots", given{
			"zeros":    []any{0.0, 0.0, 0.0, 0.0},
			"poles":    []any{f("f1"), f("f1"), f("f2"), f("f3"), f("f4"), f("f4")},
			"unity-at": 1000.0,
		}),
		"B": build(t, "roots", given{
			"zeros":    []any{0.0, 0.0, 0.0},
			"poles":    []any{f("f1"), f("f1"), raw.B.Value, f("f4"), f("f4")},
			"unity-at": 1000.0,
		}),
		"C": build(t, "roots", given{
			"zeros":    []any{0.0, 0.0},
			"poles":    []any{f("f1"), f("f1"), f("f4"), f("f4")},
			"unity-at": 1000.0,
		}),
	}
	for _, row := range readCSV(t, "iec61672_weightings.csv") {
		hz := parsed(t, row["exact_hz"])
		for name, ideal := range weighting {
			got := biquad.DB(prototypetest.Response(ideal, hz))
			what := name + " at " + row["nominal_hz"] + " Hz"
			near(t, what+", published", got, parsed(t, row[name+"_published_db"]), 0.0501) // 0.1 dB steps
			near(t, what+", closed form", got, parsed(t, row[name+"_computed_db"]), 0.51e-5)
		}
	}
	// Four zeros at the origin: the A-weighting's sections are two high-passes
	// and a low-pass, as Q 1/3, 1/2, 1/2.
	for i, want := range [][3]float64{{0, 0, 1}, {0, 0, 1}, {1, 0, 0}} {
		s := weighting["A"].Sections[i]
		for k := range want {
			if (s.B[k] != 0) != (want[k] != 0) {
				t.Errorf("A-weighting section %d: numerator %v", i, s.B)
			}
		}
	}
}

// Source: IEC 60098, time constants 3180, 318 and 75 µs and the 7950 µs of its
// amendment; table recomputed from them to four decimals.
func TestDiscPlayback(t *testing.T) {
	var file struct {
		TC        []float64 `json:"time_constants_us"`
		Amendment float64   `json:"amendment_us"`
		Spot      []struct {
			F         float64
			To        float64
			Published float64 `json:"published_db"`
		} `json:"spot_check"`
	}
	readJSON(t, "iec60098_disc_playback.json", &file)
	hz := func(us float64) float64 { return 1e6 / (2 * math.Pi * us) }
	plain := build(t, "roots", given{
		"zeros": []any{hz(file.TC[1])}, "poles": []any{hz(file.TC[0]), hz(file.TC[2])}, "unity-at": 1000.0,
	})
	amended := build(t, "roots", given{
		"zeros": []any{0.0, hz(file.TC[1])}, "poles": []any{hz(file.Amendment), hz(file.TC[0]), hz(file.TC[2])}, "unity-at": 1000.0,
	})
	const printed = 0.51e-4
	for _, row := range readCSV(t, "iec60098_disc_playback.csv") {
		f := parsed(t, row["f_hz"])
		h := prototypetest.Response(plain, f)
		near(t, row["f_hz"]+" Hz", biquad.DB(h), parsed(t, row["riaa_db_re_1k"]), printed)
		near(t, row["f_hz"]+" Hz phase", cmplx.Phase(h)*180/math.Pi, parsed(t, row["riaa_phase_deg"]), printed)
		near(t, row["f_hz"]+" Hz with the amendment", biquad.DB(prototypetest.Response(amended, f)), parsed(t, row["riaa_iec_db_re_own_1k"]), printed)
	}
	near(t, "printed level at 10 kHz", biquad.DB(prototypetest.Response(plain, file.Spot[0].F)), file.Spot[0].Published, 0.05)
}

// cookbook is what the W3C cookbook says of its filters, and cookbookHz where
// they are built here.
type cookbook struct {
	Facts []struct{ Type, At, Gain string }
	BW    []struct {
		Oct float64 `json:"bw_oct"`
		Q   float64
	} `json:"bw_to_q_analog"`
}

const cookbookHz = 1234.0

// Source: W3C Group Note Audio EQ Cookbook, 8 June 2021: exact facts that
// follow from the printed formulas, for the analog prototypes.
func TestCookbookFacts(t *testing.T) {
	const f0 = cookbookHz
	var file cookbook
	readJSON(t, "audio_eq_cookbook_invariants.json", &file)
	hz := map[string][]float64{
		"f0": {f0}, "DC": {0}, "Nyquist": {math.Inf(1)}, "DC and Nyquist": {0, math.Inf(1)},
		"all f": {0, f0 / 7, f0, 3 * f0, math.Inf(1)}, "": nil,
	}
	for _, fact := range file.Facts {
		checked := false
		for _, q := range []float64{0.3, 0.7071, 2, 40} {
			for _, db := range []float64{-24, -3, 0.1, 12} {
				a := biquad.FromDB(db / 2)
				gains := map[string]float64{
					"Q": q, "1": 1, "0": 0, "A^2 = 10^(dB/20)": a * a, "A^2": a * a,
					"A (half the dB gain), for every Q": a, "A, for every Q": a, "A (half the dB gain)": a,
				}
				args := map[string]struct {
					kind string
					g    given
				}{
					"LPF":       {"low-pass", given{"at": f0, "q": q}},
					"HPF":       {"high-pass", given{"at": f0, "q": q}},
					"BPF_peak":  {"band-pass", given{"at": f0, "q": q}},
					"notch":     {"notch", given{"at": f0, "q": q}},
					"APF":       {"all-pass", given{"at": f0, "q": q}},
					"peakingEQ": {"peak", given{"at": f0, "q": q, "gain": db}},
					"lowShelf":  {"low-shelf", given{"at": f0, "q": q, "gain": db}},
					"highShelf": {"high-shelf", given{"at": f0, "q": q, "gain": db}},
				}
				c, ok := args[fact.Type]
				if !ok || fact.At == "" {
					continue
				}
				ideal := build(t, c.kind, c.g)
				want, known := gains[fact.Gain]
				places, placed := hz[fact.At]
				if !known || !placed {
					t.Fatalf("fact %+v is not understood", fact)
				}
				for _, f := range places {
					checked = true
					got := cmplx.Abs(prototypetest.Response(ideal, f))
					near(t, fmt.Sprintf("%s q %v gain %v dB at %s", fact.Type, q, db, fact.At), got, want, 1e-12*math.Max(1, q)*math.Max(1, want))
				}
				if fact.Type == "APF" { // phase_at_f0_deg -180
					h := prototypetest.Response(ideal, f0)
					near(t, "all-pass at f0", real(h), -1, 1e-12)
				}
			}
		}
		// The rest are no prototypes of ours, or are checked below.
		elsewhere := map[string]bool{
			"BPF_skirt": true, "BW to Q (digital)": true, "peakingEQ Q definition": true,
			"peakingEQ +g then -g, same f0 and Q": true,                           // conformance suite
			"S to Q":                              true, "BW to Q (analog)": true, // below
		}
		if checked == elsewhere[fact.Type] {
			t.Errorf("fact %+v: checked %v", fact, checked)
		}
	}
}

// The cookbook's two other ways to say a Q: bandwidth and slope.
func TestCookbookQ(t *testing.T) {
	var file cookbook
	readJSON(t, "audio_eq_cookbook_invariants.json", &file)
	// BW to Q: the same peak by bandwidth and by q.
	for _, row := range file.BW {
		byBW := build(t, "peak", given{"at": cookbookHz, "gain": 6.0, "bandwidth": row.Oct}).Sections[0]
		byQ := build(t, "peak", given{"at": cookbookHz, "gain": 6.0, "q": row.Q}).Sections[0]
		near(t, fmt.Sprintf("%v octaves", row.Oct), byBW.A[1], byQ.A[1], 1e-14*byQ.A[1])
	}
	// S to Q: S = 1 is Q = 1/√2 for every gain; others by the formula.
	for _, db := range []float64{-18, 3, 12} {
		a := biquad.FromDB(db / 2)
		for _, s := range []float64{0.3, 1, 1.2} {
			r := math.Sqrt((a+1/a)*(1/s-1) + 2)
			for _, kind := range []string{"low-shelf", "high-shelf"} {
				sec := build(t, kind, given{"at": cookbookHz, "gain": db, "slope": s}).Sections[0]
				near(t, fmt.Sprintf("%s slope %v", kind, s), sec.A[1], r, 1e-14)
				if s == 1 {
					near(t, "slope 1", sec.A[1], math.Sqrt2, 1e-14)
				}
			}
		}
	}
}

// The analog prototypes of the cookbook and of this table's other kinds as
// plain polynomials of p: the sections must be the same functions.
func TestFormulas(t *testing.T) {
	const f0 = 777.0
	type poly []complex128
	at := func(c poly, p complex128) complex128 {
		var v complex128
		for _, k := range c {
			v = v*p + k
		}
		return v
	}
	real2 := func(c ...float64) poly {
		var out poly
		for _, v := range c {
			out = append(out, complex(v, 0))
		}
		return out
	}
	for _, db := range []float64{-15, 4} {
		for _, q := range []float64{0.4, 3} {
			a := biquad.FromDB(db / 2)
			ra := math.Sqrt(a)
			from := 2.5 // frequency of pole-shift's and dipole-lift's `from` over `to`
			for _, c := range []struct {
				kind     string
				g        given
				num, den poly
			}{
				{"low-pass", given{"at": f0, "q": q}, real2(1), real2(1, 1/q, 1)},
				{"high-pass", given{"at": f0, "q": q}, real2(1, 0, 0), real2(1, 1/q, 1)},
				{"band-pass", given{"at": f0, "q": q}, real2(1/q, 0), real2(1, 1/q, 1)},
				{"notch", given{"at": f0, "q": q, "depth": 20.0}, real2(1, 0.1/q, 1), real2(1, 1/q, 1)},
				{"all-pass", given{"at": f0, "order": 1}, real2(-1, 1), real2(1, 1)},
				{"all-pass", given{"at": f0, "q": q}, real2(1, -1/q, 1), real2(1, 1/q, 1)},
				{"peak", given{"at": f0, "q": q, "gain": db}, real2(1, a/q, 1), real2(1, 1/(a*q), 1)},
				{"low-shelf", given{"at": f0, "q": q, "gain": db}, real2(a, a*ra/q, a*a), real2(a, ra/q, 1)},
				{"low-shelf", given{"at": f0, "order": 1, "gain": db}, real2(1, a), real2(1, 1/a)},
				{"high-shelf", given{"at": f0, "q": q, "gain": db}, real2(a*a, a*ra/q, a), real2(1, ra/q, a)},
				{"high-shelf", given{"at": f0, "order": 1, "gain": db}, real2(a, 1), real2(1/a, 1)},
				{"pole-shift", given{"from": given{"at": from * f0, "q": q}, "to": given{"at": f0, "q": 0.6}}, real2(1, from/q, from*from), real2(1, 1/0.6, 1)},
				{"dipole-lift", given{"from": from * f0, "to": f0}, real2(1, from), real2(1, 1)},
			} {
				ideal := build(t, c.kind, c.g)
				for lg := -5.0; lg <= 5; lg += 0.37 {
					x := math.Exp2(lg)
					p := complex(0, x)
					got := prototypetest.Response(ideal, x*f0)
					want := at(c.num, p) / at(c.den, p)
					near(t, fmt.Sprintf("%s %v at p = %vj", c.kind, c.g, x), cmplx.Abs(got-want), 0, 1e-13*math.Max(1, cmplx.Abs(want)))
				}
			}
		}
	}
}

func TestDelayAndGain(t *testing.T) {
	near(t, "343 m", build(t, "delay", given{"by": prototypetest.Metres(343)}).DelayS, 1, 0)
	near(t, "31 mm", build(t, "delay", given{"by": prototypetest.Metres(0.031)}).DelayS, 0.031/343, 0)
	near(t, "90 µs", build(t, "delay", given{"by": 90e-6}).DelayS, 90e-6, 0)
	near(t, "-6 dB", build(t, "gain", given{"by": -6.0}).Gain, 0.50118723362727229, 1e-16*4)
}

// Low-shelf's default q is the key table's figure, not 1/√2.
func TestShelfDefault(t *testing.T) {
	s := build(t, "low-shelf", given{"at": 100.0, "gain": 6.0}).Sections[0]
	near(t, "1/q", s.A[1], 1/0.7071, 1e-15)
}
