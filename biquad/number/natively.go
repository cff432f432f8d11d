package number

import (
	"slices"

	"bandwright/biquad"
)

// natively is a section's program in the host's own operations, some times as fast as its
// instructions are executed: of x and the registers of words and states it makes y, and
// moves the states on. It is nil for programs that are not known here, word by word; what
// is, a test compares with the instructions, bit for bit.
func natively[V float32 | float64](k Kernel, form biquad.Form) func(r []V, x V) V {
	if !k.does(form, floating) {
		return nil
	}
	// Conversions keep Go from fusing.
	switch form {
	case biquad.Direct:
		return func(r []V, x V) V {
			r = r[:7]
			b0, b1, b2, a1, a2, p, q := r[0], r[1], r[2], r[3], r[4], r[5], r[6]
			y := V(b0*x) + p
			r[5], r[6] = V(q+V(b1*x))-V(a1*y), V(b2*x)-V(a2*y)
			return y
		}
	case biquad.Delta:
		return func(r []V, x V) V {
			r = r[:7]
			b0, b1, b2, a1, a2, p, q := r[0], r[1], r[2], r[3], r[4], r[5], r[6]
			y := V(b0*x) + p
			r[5], r[6] = p+V(V(q+V(b1*x))-V(a1*y)), V(q+V(b2*x))-V(a2*y)
			return y
		}
	case biquad.Mirrored:
		return func(r []V, x V) V {
			r = r[:7]
			b0, b1, b2, a1, a2, p, q := r[0], r[1], r[2], r[3], r[4], r[5], r[6]
			y := V(b0*x) + p
			r[5], r[6] = V(V(q+V(b1*x))-V(a1*y))-p, V(V(b2*x)-q)-V(a2*y)
			return y
		}
	}
	return nil
}

// does reports whether a form's section is the other kernel's, name by name.
func (k Kernel) does(form biquad.Form, as Kernel) bool {
	named := func(a, b Variable) bool { return a.Name == b.Name }
	return slices.EqualFunc(k.Words, as.Words, named) && slices.EqualFunc(k.States, as.States, named) &&
		slices.Equal(k.Section(form), as.Section(form))
}

// nativelyFixed is natively of whole numbers with the functions of callsOf.
func nativelyFixed(k Kernel, form biquad.Form) func(r []int64, x int64) int64 {
	if !k.does(form, fixedKernel) {
		return nil
	}
	switch form {
	case biquad.Direct:
		return func(r []int64, x int64) int64 {
			r = r[:8]
			b0, b1, b2, m1, m2, q, s := r[0], r[1], r[2], r[3], r[4], r[6], r[7]
			y := narrow(b0*x + s)
			r[6], r[7] = b2*x+m2*y, q+b1*x+m1*y
			return y
		}
	case biquad.Shaped:
		return func(r []int64, x int64) int64 {
			r = r[:12]
			x1, x2, y1, y2 := r[8], r[9], r[10], r[11]
			s := r[7] + r[0]*x + r[1]*x1 + r[2]*x2 + r[3]*y1 + r[4]*y2
			y := s >> 32 * 8
			r[7], r[8], r[9], r[10], r[11] = s, x, x1, y, y1
			return y
		}
	case biquad.DeltaFine:
		return func(r []int64, x int64) int64 { return deltaNatively(r, x, 2) }
	case biquad.DeltaWide:
		return func(r []int64, x int64) int64 { return deltaNatively(r, x, 8) }
	case biquad.DeltaDeep:
		return func(r []int64, x int64) int64 { return 4 * deltaNatively(r, x, 2) }
	}
	return nil
}

// deltaNatively is a section of a delta form, whose y, or a quarter of it, is the sum's high word times step.
func deltaNatively(r []int64, x, step int64) int64 {
	r = r[:9]
	q, s := r[6], r[7]+r[0]*(x-r[8])
	y := s >> 32 * step
	r[6], r[7], r[8] = q+r[2]*x+r[4]*y, s+r[1]*x+r[3]*y+r[5]*(q>>32), x
	return y
}
