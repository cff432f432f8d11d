package number

import (
	"encoding/json"
	"math"
	"math/big"
	"math/rand"
	"os"
	"testing"

	"bandwright/biquad"
)

// reference reads a file of golden/published.
func reference(t *testing.T, name string, into any) {
	t.Helper()
	raw, err := os.ReadFile("../../golden/published/" + name)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(raw, into); err != nil {
		t.Fatal(err)
	}
}

// What a section in fixed point may be off by, coefficients and round-off together (dB
// re its own greatest gain), from 20 Hz up at rates to 192 kHz. Between samples q23
// computes in the words of q31.
const (
	q31GoalDB = CoarseDB
	// worstQ31DB is the record: what the worst section of the corpus has.
	worstQ31DB = -106
)

// Every section of the prototype corpus from 20 Hz up, transformed bilinearly by itself,
// at four rates: coefficients against a reference in 160 bits, and round-off on top.
func TestFixedPointSectionsAreWithinTheirGoals(t *testing.T) {
	var corpus struct {
		Prototypes []struct {
			Name     string
			Sections []struct{ B, A [3]float64 }
		}
	}
	reference(t, "prototype_corpus.json", &corpus)
	type section struct{ b, a [3]float64 }
	seen := map[section]bool{}
	worst, count := math.Inf(-1), 0
	forms := map[biquad.Form]int{}
	for _, p := range corpus.Prototypes {
		for _, s := range p.Sections {
			x := section{s.B, s.A}
			low := s.A[0] / s.A[1]
			if s.A[2] != 0 {
				low = math.Sqrt(s.A[0] / s.A[2])
			}
			if seen[x] || low < 2*math.Pi*20*(1-1e-9) {
				continue
			}
			seen[x] = true
			for _, rate := range []float64{44100, 48000, 96000, 192000} {
				exact := bilinearExact(s.B, s.A, rate)
				ideal := exact.float()
				if !(ideal.PoleMargin() > 0) || low > 0.45*2*math.Pi*rate {
					continue
				}
				slot := q31Format.Quantise(biquad.Fixed(ideal), rate)
				db := biquad.GainDB(math.Hypot(exact.change(slot.Alt[0]), biquad.FromDB(slot.Error.RoundOffDB)))
				if db > q31GoalDB {
					t.Errorf("%s at %g kHz: %s form is %.1f dB off", p.Name, rate/1000, slot.Error.Form, db)
				}
				worst = math.Max(worst, db)
				forms[slot.Error.Form]++
				if count++; count%50 == 0 && q23Format.Quantise(biquad.Fixed(ideal), rate).Alt[0] != slot.Alt[0] {
					t.Errorf("%s at %g kHz: q23 has other words than q31", p.Name, rate/1000)
				}
			}
		}
	}
	if count < 500 || len(forms) != len(q31Format.Forms) {
		t.Errorf("%d sections in forms %v: not the corpus", count, forms)
	}
	if worst > worstQ31DB+0.1 || worst < worstQ31DB-1 {
		t.Errorf("the worst of %d sections is %.2f dB off, recorded is %d", count, worst, worstQ31DB)
	}
	t.Logf("%d sections, the worst %.1f dB; forms %v", count, worst, forms)
}

// bits160 is the precision of what is exact here.
const bits160 = 160

func number160(x float64) *big.Float { return new(big.Float).SetPrec(bits160).SetFloat64(x) }

func product160(a, b *big.Float) *big.Float { return new(big.Float).SetPrec(bits160).Mul(a, b) }
func sum160(a, b *big.Float) *big.Float     { return new(big.Float).SetPrec(bits160).Add(a, b) }

// wide is a section in powers of 1/(z-1) in 160 bits: numerator and denominator by
// powers of u = z-1 downwards.
type wide struct {
	b, a [3]*big.Float
	n    int
}

// bilinearExact is the section b(s)/a(s), s = 2·rate·u/(u+2), without prewarping.
func bilinearExact(b, a [3]float64, rate float64) wide {
	w := wide{n: 2}
	if b[2] == 0 && a[2] == 0 {
		w.n = 1
	}
	k, two := number160(2*rate), number160(2)
	in := func(c [3]float64) (out [3]*big.Float) {
		for i := range out {
			out[i] = number160(0)
		}
		c0, c1, c2 := number160(c[0]), product160(number160(c[1]), k), product160(product160(number160(c[2]), k), k)
		if w.n == 1 {
			out[0], out[1] = sum160(c0, c1), product160(two, c0)
			return out
		}
		out[0] = sum160(c0, sum160(c1, c2))
		out[1] = sum160(product160(number160(4), c0), product160(two, c1))
		out[2] = product160(number160(4), c0)
		return out
	}
	w.b, w.a = in(b), in(a)
	// Gains are about one, as they are behind relieved.
	peak := 0.0
	for _, hz := range errorGrid(rate, w.float()) {
		peak = math.Max(peak, biquad.Power(w.float().At(biquad.PointAt(hz, rate))))
	}
	_, up := math.Frexp(math.Sqrt(peak))
	for i := range w.b {
		w.b[i].SetMantExp(w.b[i], -up)
	}
	return w
}

// float is the nearest section in float64.
func (w wide) float() biquad.Digital {
	d := biquad.Digital{Form: biquad.Delta}
	for i := range d.B {
		d.B[i], _ = new(big.Float).Quo(w.b[i], w.a[0]).Float64()
		d.A[i], _ = new(big.Float).Quo(w.a[i], w.a[0]).Float64()
	}
	return d
}

// complex160 is a complex number.
type complex160 struct{ re, im *big.Float }

func (x complex160) times(y complex160) complex160 {
	minus := new(big.Float).SetPrec(bits160).Neg(product160(x.im, y.im))
	return complex160{sum160(product160(x.re, y.re), minus), sum160(product160(x.re, y.im), product160(x.im, y.re))}
}

// at is numerator and denominator at u.
func (w wide) at(u complex160) (b, a complex160) {
	poly := func(c [3]*big.Float) complex160 {
		v := complex160{c[0], number160(0)}
		for i := 1; i <= w.n; i++ {
			v = v.times(u)
			v.re = sum160(v.re, c[i])
		}
		return v
	}
	return poly(w.b), poly(w.a)
}

// change is the greatest difference that a section in words makes, over the greatest
// response. Frequencies are those of tan(ω/2) = t for which z = (1+jt)/(1-jt) is
// rational: logarithmic, and close around each pole.
func (w wide) change(q biquad.Digital) float64 {
	x := q.To(biquad.Delta) // exact: words around 1 are sums of a few bits
	other := wide{n: w.n}
	for i := range x.B {
		other.b[i], other.a[i] = number160(x.B[i]), number160(x.A[i])
	}
	if q.Form.Origin() == 0 { // To rounds: once more in 160 bits
		other.b, other.a = around1(q.B, w.n), around1(q.A, w.n)
	}
	var ts []float64
	for e := -16.0; e <= 4; e += 0.5 {
		ts = append(ts, math.Exp2(e))
	}
	for _, z := range w.float().Poles() {
		if c := math.Tan(math.Abs(math.Atan2(imag(z), real(z))) / 2); c > 0 && c < 100 {
			for _, f := range []float64{0.97, 0.99, 0.997, 1, 1.003, 1.01, 1.03} {
				ts = append(ts, f*c)
			}
		}
	}
	var most, peak float64
	for _, t := range ts {
		// u = z-1 = 2jt/(1-jt) = 2jt(1+jt)/(1+t²)
		tt := number160(t)
		over := new(big.Float).SetPrec(bits160).Quo(number160(2), sum160(number160(1), product160(tt, tt)))
		u := complex160{new(big.Float).Neg(product160(product160(tt, tt), over)), product160(tt, over)}
		b, a := w.at(u)
		ob, oa := other.at(u)
		cross, back := ob.times(a), b.times(oa)
		diff := complex160{new(big.Float).Sub(cross.re, back.re), new(big.Float).Sub(cross.im, back.im)}
		most = math.Max(most, size160(diff)/(size160(a)*size160(oa)))
		peak = math.Max(peak, size160(b)/size160(a))
	}
	return most / peak
}

// around1 is c in powers of z-1, from powers of z.
func around1(c [3]float64, n int) (out [3]*big.Float) {
	x, y, z := number160(c[0]), number160(c[1]), number160(c[2])
	if n == 1 {
		return [3]*big.Float{x, sum160(x, y), number160(0)}
	}
	return [3]*big.Float{x, sum160(product160(number160(2), x), y), sum160(x, sum160(y, z))}
}

// size160 is a magnitude as a float64: numbers here lie far inside its range.
func size160(x complex160) float64 {
	re, _ := x.re.Float64()
	im, _ := x.im.Float64()
	return math.Hypot(re, im)
}

// The norms by which round-off is computed, against the textbook's closed form of
// 1/(1 - 2r·cos θ·z⁻¹ + r²·z⁻²) (Oppenheim and Schafer; values as published).
func TestNoiseNormsArePublished(t *testing.T) {
	var file struct {
		Roundoff struct {
			Values []struct {
				R     float64
				Theta float64 `json:"theta_deg"`
				Gain  float64
			}
		} `json:"roundoff_noise"`
	}
	reference(t, "fixed_point.json", &file)
	for _, v := range file.Roundoff.Values {
		th := v.Theta * math.Pi / 180
		d := biquad.Digital{B: [3]float64{1}, A: [3]float64{1, -2 * v.R * math.Cos(th), v.R * v.R}}
		y, _, _ := noiseNorms(d)
		// Double poles near 1 lose as many digits as they lie near it.
		if tolerance := 1e-14 / math.Pow(1-v.R, 3); math.Abs(y/v.Gain-1) > tolerance {
			t.Errorf("r %g, θ %g°: %.12g, published %.12g", v.R, v.Theta, y, v.Gain)
		}
	}
	if len(file.Roundoff.Values) < 20 {
		t.Errorf("%d values", len(file.Roundoff.Values))
	}
}

// A gain below a half is the same product, to the bit, of 32 times its word, which a word holds.
func TestPartIsScale(t *testing.T) {
	calls := callsOf(container{bits: 32})
	r := rand.New(rand.NewSource(11))
	for k := range 100000 {
		gain, x := int64(r.Uint32()>>5)-1<<26, int64(int32(r.Uint32()))
		switch k {
		case 0:
			gain, x = 1-1<<26, math.MinInt32
		case 1:
			gain, x = 1<<26-1, math.MinInt32
		case 2:
			gain, x = 1<<26-1, math.MaxInt32
		}
		if word := gain * 32; word != int64(int32(word)) {
			t.Fatalf("32 times %d is no word", gain)
		}
		if a, b := calls["part"](gain*32, x), calls["scale"](gain, x); a != b || a != int64(int32(a)) {
			t.Fatalf("%d of %d: %d, with scale %d", gain, x, a, b)
		}
	}
}

// Samples are rounded as published: half upwards, limited.
func TestSamplesAreRoundedAsPublished(t *testing.T) {
	var file struct {
		Qformat struct {
			Rows []struct {
				Bits     int    `json:"word_bits"`
				Fraction int    `json:"frac_bits"`
				X        string `json:"x"`
				Int      struct {
					HalfUp int64 `json:"half_up"`
				}
			}
		}
	}
	reference(t, "fixed_point.json", &file)
	n := 0
	for _, r := range file.Qformat.Rows {
		if r.Fraction != r.Bits-1 {
			continue
		}
		var x float64
		if err := json.Unmarshal([]byte(r.X), &x); err != nil {
			t.Fatal(err)
		}
		n++
		if got := (container{bits: r.Bits, guard: 1}).nearest(x); got != r.Int.HalfUp {
			t.Errorf("%s in %d bits is %d, published %d", r.X, r.Bits, got, r.Int.HalfUp)
		}
	}
	if n < 20 {
		t.Errorf("%d rows", n)
	}
	// Of what comes out, too: the reference is rounded up by hand.
	for _, c := range []struct {
		x    container
		v    int64
		want int64
	}{
		{container{32, 3, 0}, 1<<28 - 1, 1<<31 - 8}, {container{32, 3, 0}, 1 << 28, 1<<31 - 8}, {container{32, 3, 0}, -1 << 28, -1 << 31},
		{container{32, 3, 0}, -1<<28 - 1, -1 << 31}, {container{24, 3, 0}, 15, 0}, {container{24, 3, 0}, 16, 1}, {container{24, 3, 0}, -16, 0},
		{container{24, 3, 0}, -17, -1}, {container{24, 8, 0}, -17, -17}, {container{24, 10, 0}, 3, 12}, {container{24, 3, 0}, 1<<28 - 1, 1<<23 - 1},
	} {
		if got := c.x.given(c.v); got != c.want {
			t.Errorf("%+v: %d becomes %d, want %d", c.x, c.v, got, c.want)
		}
	}
}

// Limit cycles: what rounding to the nearest can keep alive is at most half a last bit
// times the L1 norm behind it. For y = Q[a·y₁] that is the published dead band, half a bit
// over 1 - |a|; the published sequences of the second order, with two roundings, stay
// within theirs.
func TestLimitCyclesAreBounded(t *testing.T) {
	var file struct {
		First struct {
			Rows []struct {
				A        float64
				Bits     int `json:"frac_bits"`
				Deadband float64
				Final    []float64
			}
		} `json:"limit_cycles_first_order"`
		Second struct {
			Rows []struct {
				A1, A2  float64
				Tail    float64 `json:"tail_max"`
				TailMin float64 `json:"tail_min"`
			}
		} `json:"limit_cycles_second_order"`
	}
	reference(t, "fixed_point.json", &file)
	for _, c := range file.First.Rows {
		d := biquad.Digital{B: [3]float64{1}, A: [3]float64{1, -c.A}}
		bound := math.Ldexp(0.5, -c.Bits) * feedbackNorm(d)
		// The published dead band is in whole steps.
		if steps := math.Floor(bound*math.Ldexp(1, c.Bits) + 1e-6); steps != c.Deadband*math.Ldexp(1, c.Bits) {
			t.Errorf("a = %g: at most %g, published %g", c.A, bound, c.Deadband)
		}
		for _, v := range c.Final {
			if math.Abs(v) > bound*(1+1e-6) {
				t.Errorf("a = %g: %g circulates, bound %g", c.A, v, bound)
			}
		}
	}
	for _, c := range file.Second.Rows {
		d := biquad.Digital{B: [3]float64{1}, A: [3]float64{1, c.A1, c.A2}}
		if bound := 2 * 0.5 * feedbackNorm(d); math.Max(c.Tail, -c.TailMin) > bound {
			t.Errorf("a1 = %g, a2 = %g: %g circulates, bound %g", c.A1, c.A2, c.Tail, bound)
		}
	}
	if len(file.First.Rows) < 4 || len(file.Second.Rows) < 4 {
		t.Error("not the published sequences")
	}
}

// What our own arithmetic keeps alive after noise, in every form, is within the bound,
// and within the levels that idleDBFS tells of whole ways.
func TestIdleIsBounded(t *testing.T) {
	const rateHz = 48000.0
	r := rand.New(rand.NewSource(11))
	for _, name := range []string{"q31", "q23"} {
		f, systems := format(name).Systems([]biquad.System[biquad.Digital]{switchedSystem(rateHz)}, 1, []float64{rateHz})
		s := systems[0]
		m := f.NewMachine(s, 1, rateHz, fadeS, []int{3, 2})
		noise := make([]float64, 5000)
		for i := range noise {
			noise[i] = 2*r.Float64() - 1
		}
		m.Run(noise)
		y := m.Run(make([]float64, 60000))
		for k := range s.Ways {
			most := 0.0
			for _, v := range y[k][40000:] {
				most = math.Max(most, math.Abs(v))
			}
			bound := biquad.FromDB(idleDBFS(f, s, k))
			if most > bound {
				t.Errorf("%s, way %d: %g is left, bound %g", name, k, most, bound)
			}
			if bound > 1e-5 {
				t.Errorf("%s, way %d: the bound %g says nothing", name, k, bound)
			}
		}
	}
}

// feedbackNorm is the sum of the magnitudes of what one rounding of y becomes at y.
func feedbackNorm(d biquad.Digital) float64 { return norms([]node{{slot: feedback(d)}}, nil)[0].Y }

// feedback is the section that a rounding of y goes through: 1/D in the section's own
// variable, and 1 - z⁻¹ more of Shaped.
func feedback(d biquad.Digital) *biquad.Slot[biquad.Digital] {
	n := biquad.Digital{Form: d.Form, B: [3]float64{1}, A: d.A}
	if d.Form == biquad.Shaped {
		n.B[1] = -1
	}
	s := biquad.Fixed(n)
	return &s
}

// lostOf is the section that what a delta form's q loses goes through.
func lostOf(d biquad.Digital) *biquad.Slot[biquad.Digital] {
	s := biquad.Fixed(biquad.Digital{Form: d.Form, B: [3]float64{0, 1}, A: d.A})
	return &s
}

// idleDBFS bounds what rounding can keep alive at the output of way k when nothing goes in
// (dBFS, peak), in any combination of settings: every rounding as large as it can be, at
// its worst sign at every sample. f is fitted to the system.
func idleDBFS(f Format, s biquad.System[biquad.Digital], k int) float64 {
	path, _ := pathOf(s, k, 1)
	sum := f.rounding.made
	if sum > 0 {
		sum = math.Sqrt(sum)
	}
	for i := range path {
		behind := 1.0
		if rest := path[i+1:]; len(rest) > 0 {
			some := reaches(rest, 0)
			behind = some[len(some)-1].Y
		}
		own := 1.0
		if path[i].slot != nil {
			own = 0
			for _, d := range path[i].slot.Alt {
				step := stepOf(d.Form)
				was := step * feedbackNorm(d)
				if slopeOf(d) != 0 { // and what of q goes on: x/D
					was += math.Ldexp(step, -slopeBits(d)) * norms([]node{{slot: lostOf(d)}}, nil)[0].Y
				}
				own = math.Max(own, was)
			}
		}
		sum += own * behind
	}
	return biquad.GainDB(sum * f.UnitRoundOff)
}
