package nodal

import "math/big"

const (
	MaxResidual  = maxResidual
	GoodResidual = goodResidual
)

// Looked solves at hz anew and returns the residual before a step of refinement, that which
// Solver.refined returns, and that of the solution which it leaves, worked out exactly.
func (s *Solver) Looked(hz float64) (before, told, exact float64, err error) {
	if err = s.At(hz); err != nil {
		return 0, 0, 0, err
	}
	copy(s.work, s.rhs)
	s.substitute(s.ac, s.work, s.x)
	before = s.residual(s.ac)
	told = s.refined(s.ac)
	return before, told, s.exactly(s.ac), nil
}

// exactly is what residual returns, in numbers long enough for every product and sum.
func (s *Solver) exactly(p *plan) float64 {
	const bits = 4000
	long := func(v float64) *big.Float { return new(big.Float).SetPrec(bits).SetFloat64(v) }
	times := func(a, b float64) *big.Float { return new(big.Float).SetPrec(bits).Mul(long(a), long(b)) }
	worst, from := 0.0, int32(0)
	for i, end := range p.usedEnd {
		re, im, terms := long(real(s.rhs[i])), long(imag(s.rhs[i])), size(s.rhs[i])
		for _, e := range s.elements[from:end] {
			a, x := e.value, s.x[e.col]
			re.Sub(re, times(real(a), real(x))).Add(re, times(imag(a), imag(x)))
			im.Sub(im, times(real(a), imag(x))).Sub(im, times(imag(a), real(x)))
			terms += size(a) * size(x)
		}
		from = end
		r, _ := re.Float64()
		j, _ := im.Float64()
		if m := size(complex(r, j)); m > worst*terms {
			worst = m / terms
		}
	}
	return worst
}
