package prototype

import (
	"math"

	"gonum.org/v1/gonum/mathext"

	"bandwright/biquad"
)

// elliptic: ripple between 0 dB and -RippleDB up to 1 rad/s, at most -StopDB
// above the stop edge that order, ripple and attenuation leave. Poles and
// zeros by Jacobi's elliptic functions (A. Antoniou, Digital Filters, 2nd
// ed., 1993, chapter 5; S. J. Orfanidis, Lecture Notes on Elliptic Filter
// Design, 2006). The moduli are held as the logarithm of the nome and every
// function as a quotient of theta products, in which nothing cancels; the
// degree equation is then a division of that logarithm by the order. Each pole
// pair shares a section with the zero pair next to it. Even orders stand at
// -RippleDB at 0 Hz.
var elliptic = Family{
	Name:       "elliptic",
	Also:       []string{"ellip"},
	Doc:        "equal ripple in both bands, passband peaks at 0 dB, `at` is where the response leaves the passband ripple",
	UsesRipple: true, UsesStop: true,
	Sections: func(d Design) []biquad.Analog {
		n := d.Order
		pass, stop := excess(d.RippleDB), excess(d.StopDB) // ε² of both bands
		// Discrimination modulus k1 = εp/εs and its complement, without the
		// subtraction 1 - k1² that would lose one of them.
		k1 := math.Sqrt(pass / stop)
		k1c := math.Sqrt((1 + pass) * excess(d.StopDB-d.RippleDB) / stop)
		nome := lnNome(-math.Pi * mean(1, k1c) / mean(1, k1) / float64(n))
		conj := lnNome(math.Pi * math.Pi / float64(nome))

		// v solves sc(v, k1') = 1/εp: Legendre's F of the angle atan(1/εp),
		// by Carlson's integral. Scaled to the quarter period, which the
		// degree equation makes the same share of K'(k).
		cos2 := pass / (1 + pass)
		v := math.Sqrt(1/(1+pass)) * mathext.EllipticRF(cos2, (pass+k1*k1)/(1+pass), 1)
		sv, cv, dv := conj.jacobi(v * mean(1, k1))
		k := nome.modulus()

		var out []biquad.Analog
		for j := 1 - n%2; j < n; j += 2 {
			s, c, dn := nome.jacobi(math.Pi / 2 * float64(j) / float64(n))
			div := float64(cv*cv) + float64(k*s*sv)*float64(k*s*sv)
			re, im := c*dn*sv*cv/div, s*dv/div
			if j == 0 {
				out = append(out, single(re))
				continue
			}
			w := math.Hypot(re, im)
			p := pair(w, 2*re/w)
			p.B[2] = (w * k * s) * (w * k * s) // zero at 1/(k·sn)
			out = append(out, p)
		}
		if n%2 == 0 {
			amplified(out, biquad.FromDB(-d.RippleDB))
		}
		return out
	},
}

// mean is the arithmetic-geometric mean of two numbers ≥ 0: K(k) is
// π/(2·mean(1, k')).
func mean(a, b float64) float64 {
	for range 40 { // quadratic: six rounds, or some thirty for b near zero
		next := (a + b) / 2
		if next == a {
			break
		}
		a, b = next, math.Sqrt(a*b)
	}
	return a
}

// lnNome is ln q of the nome q = exp(-πK'/K), negative.
type lnNome float64

// lnNegligible: powers of the nome below 2^-60 change no product.
const lnNegligible = -60 * ln2

// theta holds the four theta products at one argument, without the factor
// Π(1 - q^2m) common to all and the 2q^(1/4) common to the first two (Abramowitz
// and Stegun, Handbook of Mathematical Functions, 16.37).
type theta struct{ one, two, three, four float64 }

func (q lnNome) at(sin, cos float64) theta {
	t := theta{sin, cos, 1, 1}
	for m := 1; float64(m)*float64(q) > lnNegligible; m++ {
		less := math.Expm1(float64(m) * float64(q)) // q^m - 1
		power := 1 + less
		withSin := float64(less*less) + float64(4*power*sin*sin) // 1 - 2q^m·cos 2z + q^2m
		withCos := float64(less*less) + float64(4*power*cos*cos) // 1 + 2q^m·cos 2z + q^2m
		if m%2 == 0 {
			t.one *= withSin
			t.two *= withCos
		} else {
			t.three *= withCos
			t.four *= withSin
		}
	}
	return t
}

// jacobi is sn, cn and dn at z·2K/π.
func (q lnNome) jacobi(z float64) (sn, cn, dn float64) {
	sin, cos := math.Sincos(z)
	at, origin := q.at(sin, cos), q.at(0, 1)
	return origin.three / origin.two * at.one / at.four,
		origin.four / origin.two * at.two / at.four,
		origin.four / origin.three * at.three / at.four
}

// modulus is k = (θ2/θ3)².
func (q lnNome) modulus() float64 {
	t := q.at(0, 1)
	r := t.two / t.three
	return 4 * math.Exp2(float64(q)/(2*ln2)) * r * r
}
