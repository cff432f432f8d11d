package prototype

import (
	"fmt"
	"math"
	"math/big"
	"sort"
	"sync"

	"bandwright/biquad"
)

// bessel: θn(0)/θn(s) with the reverse Bessel polynomial
// θn = Σ (2n-k)!/(2^(n-k)·k!·(n-k)!)·s^k (W. E. Thomson, Proc. IEE 96, 1949),
// scaled in one of three ways: by level, -3.01 dB at 1 rad/s; by delay, a group
// delay of 1 s at 0 Hz; by phase, the high-frequency asymptote of a Butterworth
// low-pass of the same order, so that the phase at 1 rad/s is half its range.
var bessel = Family{
	Name:      "bessel",
	Also:      []string{"bes", "be"},
	Doc:       "maximally flat delay, scaled as `scaled-by` says",
	UsesScale: true,
	Sections: func(d Design) []biquad.Analog {
		b := besselOf(d.Order)
		scale := b.magnitude
		switch d.ScaledBy {
		case scaledByDelay:
			scale = 1
		case scaledByPhase:
			scale = b.phase
		}
		out := make([]biquad.Analog, len(b.sections))
		for i, s := range b.sections {
			s.W0 /= scale
			out[i] = s
		}
		return out
	},
}

// What a Bessel alignment may be scaled by.
const (
	scaledByLevel = "level"
	scaledByDelay = "delay"
	scaledByPhase = "phase"
)

// besselOrder is what one order's prototype is made of: the delay-normalised
// sections and the frequencies in rad/s that the other scales move to 1.
type besselOrder struct {
	sections         []biquad.Analog
	magnitude, phase float64
}

// besselOf computes each order once: the roots take milliseconds.
func besselOf(order int) besselOrder { return besselOrders[order]() }

var besselOrders = func() (t [MaxOrder + 1]func() besselOrder) {
	for n := range t {
		t[n] = sync.OnceValue(func() besselOrder { return newBessel(n) })
	}
	return t
}()

func newBessel(n int) besselOrder {
	c := reverseBessel(n)
	f := make([]float64, n+1)
	for k, v := range c {
		f[k], _ = new(big.Float).SetInt(v).Float64() // below 2^53 up to order 12
	}
	poles, err := biquad.Roots(f)
	if err != nil {
		panic(fmt.Sprintf("prototype: Bessel polynomial of order %d: %v", n, err)) // no input leads here
	}
	b := besselOrder{
		magnitude: halfPower(c),
		phase:     math.Exp2(math.Log2(f[0]) / float64(n)),
	}
	for _, p := range poles {
		switch {
		case imag(p) == 0:
			b.sections = append(b.sections, single(-real(p)))
		case imag(p) > 0:
			w := math.Hypot(real(p), imag(p))
			b.sections = append(b.sections, pair(w, -2*real(p)/w))
		}
	}
	sort.Slice(b.sections, func(i, j int) bool { return lessQ(b.sections[i], b.sections[j]) })
	return b
}

// reverseBessel is θn's coefficients, lowest power first: the first is (2n-1)!!,
// and each next one follows by a ratio of small integers.
func reverseBessel(n int) []*big.Int {
	c := make([]*big.Int, n+1)
	c[0] = big.NewInt(1)
	for k := 1; k < 2*n; k += 2 {
		c[0].Mul(c[0], big.NewInt(int64(k)))
	}
	for k := range n {
		// c[k+1]/c[k] = 2(n-k)/((2n-k)(k+1))
		v := new(big.Int).Mul(c[k], big.NewInt(int64(2*(n-k))))
		c[k+1] = v.Quo(v, big.NewInt(int64((2*n-k)*(k+1))))
	}
	return c
}

// halfPower is the frequency (rad/s) where |θn(jω)|² = 2·θn(0)². In y = ω² the
// left side is a polynomial with positive coefficients, so that Newton's
// iteration from above falls to the one solution without losing digits.
func halfPower(c []*big.Int) float64 {
	n := len(c) - 1
	square := new(big.Float).SetInt(new(big.Int).Mul(c[0], c[0]))
	m := make([]float64, n+1)
	for k := range m {
		sum := new(big.Int)
		for i := max(0, 2*k-n); i <= min(n, 2*k); i++ {
			t := new(big.Int).Mul(c[i], c[2*k-i])
			if (k-i)%2 != 0 {
				t.Neg(t)
			}
			sum.Add(sum, t)
		}
		m[k], _ = new(big.Float).Quo(new(big.Float).SetInt(sum), square).Float64()
	}
	y := float64(2 * n) // above the solution, which is about 0.69·(2n-1)
	for {
		f, slope := 0.0, 0.0
		for k := n; k >= 1; k-- {
			slope = float64(slope*y) + float64(k)*m[k]
			f = float64(f*y) + m[k]
		}
		next := y - (float64(f*y)-1)/slope
		if !(next < y) {
			return math.Sqrt(y)
		}
		y = next
	}
}
