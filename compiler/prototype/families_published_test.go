package prototype_test

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"math/cmplx"
	"os"
	"strconv"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/prototype"
)

// published is where the values from standards and handbooks lie.
const published = "../../golden/published/"

// poleTol is the relative error allowed to the poles of closed forms.
const poleTol = 1e-12

// rounding is how far a printed figure may stand from the exact one, in units
// of its last place: half a unit, and a little more because one table rounds
// 0.231049 up to 0.2311.
const rounding = 0.52

func readJSON(t *testing.T, name string, into any) {
	t.Helper()
	raw, err := os.ReadFile(published + name)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(raw, into); err != nil {
		t.Fatalf("%s: %v", name, err)
	}
}

// readCSV is a table's rows as maps from the column's name.
func readCSV(t *testing.T, name string) []map[string]string {
	t.Helper()
	f, err := os.Open(published + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	all, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var rows []map[string]string
	for _, line := range all[1:] {
		row := map[string]string{}
		for i, v := range line {
			row[all[0][i]] = v
		}
		rows = append(rows, row)
	}
	if len(rows) == 0 {
		t.Fatalf("%s is empty", name)
	}
	return rows
}

func parsed(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func unitSections(t *testing.T, family string, d prototype.Design) []biquad.Analog {
	t.Helper()
	f, ok := prototype.FamilyByName(family)
	if !ok {
		t.Fatalf("no family %s", family)
	}
	return f.Sections(d)
}

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: %.17g, want %.17g within %.2g", what, got, want, tol)
	}
}

// asPrinted compares with a figure printed to some decimals.
func asPrinted(t *testing.T, what string, got, printed float64, decimals int) {
	t.Helper()
	near(t, what, got, printed, rounding*unitOf(decimals))
}

func unitOf(decimals int) float64 { return 1 / biquad.FromDB(20*float64(decimals)) }

// through is a low-pass's gain at w for sections at 1 rad/s.
func through(sections []biquad.Analog, w float64) float64 {
	h := 1.0
	for _, s := range sections {
		h *= cmplx.Abs(s.At(w))
	}
	return h
}

// downTo is the frequency above 1 rad/s at which a falling response reaches a
// fraction of its gain at 0 Hz.
func downTo(sections []biquad.Analog, fraction float64) float64 {
	lo, hi := 1.0, 1e3
	target := fraction * through(sections, 0)
	for range 200 {
		if mid := (lo + hi) / 2; through(sections, mid) > target {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo
}

// Source: closed forms at 50 digits (all_pole_prototypes.csv), compared there
// with printed tables: Butterworth, Bessel in three norms, Chebyshev with two
// reference frequencies.
func TestAllPoleTable(t *testing.T) {
	names := map[string]string{"butterworth": "butterworth", "bessel": "bessel", "chebyshev1": "chebyshev"}
	scales := map[string]string{"delay": "delay", "phase": "phase", "mag_3db": "level"}
	for _, row := range readCSV(t, "all_pole_prototypes.csv") {
		d := prototype.Design{Order: int(parsed(t, row["order"]))}
		norm := row["normalisation"]
		ripple, reference, ok := strings.Cut(norm, "dB_")
		if ok {
			d.RippleDB = parsed(t, ripple)
		} else if norm != "" {
			if d.ScaledBy = scales[norm]; d.ScaledBy == "" {
				t.Fatalf("unknown norm %q", norm)
			}
		}
		sections := unitSections(t, names[row["family"]], d)
		scale := 1.0
		if reference == "3db_re_dc" {
			scale = 1 / downTo(sections, math.Sqrt(0.5))
		}
		s := sections[int(parsed(t, row["section"]))-1]
		what := row["family"] + " " + norm + " " + row["order"] + "." + row["section"]
		if s.Order() != int(parsed(t, row["section_order"])) {
			t.Errorf("%s: order %d", what, s.Order())
			continue
		}
		ratio := parsed(t, row["f_ratio"])
		w, q := s.Natural()
		w *= scale
		near(t, what+" f_ratio", w, ratio, poleTol*ratio)
		near(t, what+" a", s.A[1]/w, parsed(t, row["a_i"]), poleTol*parsed(t, row["a_i"]))
		near(t, what+" b", s.A[2]/(w*w), parsed(t, row["b_i"]), poleTol*parsed(t, row["b_i"]))
		if row["Q"] != "" {
			near(t, what+" Q", q, parsed(t, row["Q"]), poleTol*q)
		}
		p := s.Poles()[0] * complex(scale, 0)
		near(t, what+" pole", cmplx.Abs(p-complex(parsed(t, row["pole_re"]), parsed(t, row["pole_im"]))), 0, poleTol*ratio)
	}
}

type publishedTable struct {
	ID, Source string
	Rows       []struct {
		Family string
		N, I   int
		A      float64  `json:"a_pub"`
		B      float64  `json:"b_pub"`
		K      float64  `json:"k_pub"`
		Q      *float64 `json:"Q_pub"`
		OK     bool
		F      float64  `json:"f_pub"`
		LowQ   *float64 `json:"q_pub"`
		Bad    bool
	}
	Published   json.RawMessage
	Recomputed  json.RawMessage
	Values      json.RawMessage
	NormFactors map[string]string `json:"norm_factors"`
	Check       []struct {
		Item      string
		Published float64
	}
	AtNominalDB float64 `json:"response_at_nominal_f3_db"`
}

func publishedTables(t *testing.T) map[string]publishedTable {
	t.Helper()
	var file struct{ Tables []publishedTable }
	readJSON(t, "published_alignment_tables.json", &file)
	m := map[string]publishedTable{}
	for _, tab := range file.Tables {
		m[tab.ID] = tab
	}
	return m
}

// minus3 is the -3.01 dB frequency of a section alone, relative to its own.
func minus3(s biquad.Analog) float64 {
	if s.Order() == 1 {
		return 1
	}
	half := 1 - s.A[1]*s.A[1]/2
	return math.Sqrt(half + math.Sqrt(half*half+1))
}

// Source: B. Carter, R. Mancini, Op Amps for Everyone, 5th ed., Tables 16.6 and
// 16.7. The misprint that the reference flags must differ.
func TestHandbookSections(t *testing.T) {
	misprints := 0
	for _, row := range publishedTables(t)["oafe_16_6_7"].Rows {
		s := unitSections(t, row.Family, prototype.Design{Order: row.N})[row.I-1]
		what := row.Family + " " + strconv.Itoa(row.N) + "." + strconv.Itoa(row.I)
		k := s.W0 * minus3(s)
		if !row.OK {
			misprints++
			if math.Abs(k-row.K) < 10*unitOf(3) {
				t.Errorf("%s: the misprint k = %v no longer differs from %v", what, row.K, k)
			}
		} else {
			asPrinted(t, what+" k", k, row.K, 3)
		}
		asPrinted(t, what+" a", s.A[1]/s.W0, row.A, 4)
		asPrinted(t, what+" b", s.A[2]/(s.W0*s.W0), row.B, 4)
		if row.Q != nil {
			_, q := s.Natural()
			asPrinted(t, what+" Q", q, *row.Q, 2)
		}
	}
	if misprints != 1 {
		t.Errorf("%d flagged misprints, want 1", misprints)
	}
}

// Sources, in this order: the same book, Table 16-9 in Example 16-2 (reference
// 3 dB below the gain at 0 Hz); S. Franco, Design with Operational Amplifiers
// and Analog Integrated Circuits, 3rd ed., Examples 4.2 and 4.4.
func TestHandbookChebyshev(t *testing.T) {
	tables := publishedTables(t)
	var two struct{ A1, B1 float64 }
	mustUnmarshal(t, tables["oafe_cheb"].Published, &two)
	sections := unitSections(t, "chebyshev", prototype.Design{Order: 2, RippleDB: 3})
	w := sections[0].W0 / downTo(sections, math.Sqrt(0.5))
	asPrinted(t, "3 dB order 2 a", sections[0].A[1]/w, two.A1, 4)
	asPrinted(t, "3 dB order 2 b", sections[0].A[2]/(w*w), two.B1, 4)

	var raw struct {
		Six struct {
			F []float64 `json:"f_ratio"`
			Q []float64
		} `json:"n6_1dB"`
		Three struct {
			Pair float64 `json:"f_ratio_pair"`
			Q    float64
			Real float64 `json:"f_ratio_real"`
		} `json:"n3_01dB"`
	}
	mustUnmarshal(t, tables["franco_cheb"].Published, &raw)
	sections = unitSections(t, "chebyshev", prototype.Design{Order: 6, RippleDB: 1})
	for i, s := range sections {
		j := len(sections) - 1 - i // the book begins with the highest Q
		w, q := s.Natural()
		asPrinted(t, "1 dB order 6 f", w, raw.Six.F[j], 3)
		asPrinted(t, "1 dB order 6 Q", q, raw.Six.Q[j], []int{1, 1, 3}[j])
	}
	sections = unitSections(t, "chebyshev", prototype.Design{Order: 3, RippleDB: 0.1})
	asPrinted(t, "0.1 dB order 3 real", sections[0].W0, raw.Three.Real, 3)
	w, q := sections[1].Natural()
	asPrinted(t, "0.1 dB order 3 pair", w, raw.Three.Pair, 3)
	asPrinted(t, "0.1 dB order 3 Q", q, raw.Three.Q, 3)
}

// Source: table of Chebyshev poles, also printed in S. Winder, Analog and
// Digital Filter Design, 2nd ed., p. 105.
func TestHandbookChebyshevPoles(t *testing.T) {
	var values map[string]map[string][2][]float64
	mustUnmarshal(t, publishedTables(t)["cheb_poles"].Values, &values)
	checked := 0
	for ripple, orders := range values {
		for order, parts := range orders {
			n := int(parsed(t, order))
			sections := unitSections(t, "chebyshev", prototype.Design{Order: n, RippleDB: parsed(t, ripple)})
			// The table begins with the pair of highest Q; its real pole is last.
			for i, s := range sections {
				j := len(sections) - 1 - i
				p := s.Poles()[0]
				what := ripple + " dB order " + order
				asPrinted(t, what+" real", -real(p), parts[0][j], 5)
				checked++
				if s.Order() == 2 {
					asPrinted(t, what+" imaginary", imag(p), parts[1][j], 5)
					checked++
				}
			}
		}
	}
	if checked < 170 {
		t.Errorf("only %d figures checked", checked)
	}
}

// Source: M. Moravec, Butterworth Filter Coefficients, Connexions m18689.
func TestHandbookButterworthPolynomials(t *testing.T) {
	var values map[string][]float64
	mustUnmarshal(t, publishedTables(t)["butterworth_polynomials"].Values, &values)
	for order, want := range values {
		c := []float64{1}
		for _, s := range unitSections(t, "butterworth", prototype.Design{Order: int(parsed(t, order))}) {
			c = times(c, s.A[:s.Order()+1])
		}
		for k, v := range want {
			asPrinted(t, "order "+order, c[k+1], v, 6)
		}
	}
}

// Sources: C. R. Bond, Bessel Filter Constants (ratio of the two norms, orders
// 1 to 10); the pair of tables of Bessel factors quoted from a guide to IIR
// filters; J. M. Fiore, Op Amps and Linear Integrated Circuits, examples 11.2
// and 11.3, whose fifth-order factors are 3.6 % too great: they must differ.
func TestHandbookBessel(t *testing.T) {
	tables := publishedTables(t)
	for order, factor := range tables["bond_bessel"].NormFactors {
		n := int(parsed(t, order))
		ratio := unitSections(t, "bessel", prototype.Design{Order: n, ScaledBy: "delay"})[0].W0 /
			unitSections(t, "bessel", prototype.Design{Order: n, ScaledBy: "magnitude"})[0].W0
		near(t, "norm factor "+order, ratio, parsed(t, factor), poleTol*ratio)
	}
	for _, row := range tables["se_bessel"].Rows {
		found := false
		for _, s := range unitSections(t, "bessel", prototype.Design{Order: row.N}) {
			w, q := s.Natural()
			if math.Abs(w-row.F) <= rounding*unitOf(2) && (row.LowQ == nil) == (s.Order() == 1) &&
				(row.LowQ == nil || math.Abs(q-*row.LowQ) <= rounding*unitOf(2)) {
				found = true
			}
		}
		if found == row.Bad {
			t.Errorf("order %d, f %v: found %v, flagged as a misprint %v", row.N, row.F, found, row.Bad)
		}
	}
	fiore := map[string]float64{}
	for _, c := range tables["fiore_bessel_kf"].Check {
		fiore[c.Item] = c.Published
	}
	five := unitSections(t, "bessel", prototype.Design{Order: 5})
	asPrinted(t, "stage 2 1/Q", five[1].A[1], fiore["stage2 alpha=1/Q"], 3)
	asPrinted(t, "stage 3 1/Q", five[2].A[1], fiore["stage3 alpha"], 3)
	var built []biquad.Analog
	for i, item := range []string{"1st-order kf", "stage2 kf", "stage3 kf"} {
		s := five[i]
		if r := fiore[item] / s.W0; r < 1.03 || r > 1.04 {
			t.Errorf("%s: the misprint %v stands at %v times the exact %v", item, fiore[item], r, s.W0)
		}
		s.W0 = fiore[item]
		built = append(built, s)
	}
	// The reference's figure is for the book's own 1/Q as well: 1 mdB apart.
	near(t, "the misprint's level at the nominal corner", biquad.GainDB(through(built, 1)), tables["fiore_bessel_kf"].AtNominalDB, 2e-3)
}

// Source: S. Franco, the same book, Example 4.3 (0.1 dB, order 6, stop edge at
// 1.3): the printed stages, and scipy's with the 46.8624 dB that this takes.
func TestHandbookElliptic(t *testing.T) {
	tab := publishedTables(t)["franco_elliptic"]
	var book, exact struct{ F0, Q, Fz []float64 }
	mustUnmarshal(t, tab.Published, &book)
	mustUnmarshal(t, tab.Recomputed, &exact)
	sections := unitSections(t, "elliptic", prototype.Design{Order: 6, RippleDB: 0.1, StopDB: 46.8624})
	for i, s := range sections {
		w, q := s.Natural()
		z := imag(s.Zeros()[0])
		// The book's own stages: figures of four digits that the table
		// software of the time left off by up to 2e-4.
		near(t, "f0", 1000*w, book.F0[i], 2e-4*book.F0[i])
		near(t, "Q", q, book.Q[i], 5e-4*book.Q[i])
		near(t, "fz", 1000*z, book.Fz[i], 2e-4*book.Fz[i])
		// The stop-band attenuation is printed to four decimals, 1 part in 10⁶.
		near(t, "f0 by scipy", 1000*w, exact.F0[i], 1e-6*exact.F0[i]+0.5e-4)
		near(t, "Q by scipy", q, exact.Q[i], 1e-5*exact.Q[i])
		near(t, "fz by scipy", 1000*z, exact.Fz[i], 0.06)
	}
}

func mustUnmarshal(t *testing.T, raw json.RawMessage, into any) {
	t.Helper()
	if err := json.Unmarshal(raw, into); err != nil {
		t.Fatal(err)
	}
}

// times multiplies two polynomials, lowest power first.
func times(x, y []float64) []float64 {
	out := make([]float64, len(x)+len(y)-1)
	for i, a := range x {
		for j, b := range y {
			out[i+j] += a * b
		}
	}
	return out
}
