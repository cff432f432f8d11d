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
		slices.Equal(k.Ready, as.Ready) && slices.Equal(k.Section(form), as.Section(form))
}

// nativelyFixed is natively of whole numbers with the functions of callsOf.
func nativelyFixed(k Kernel, form biquad.Form) func(r []int64, x int64) int64 {
	if !k.does(form, fixedKernel) {
		return nil
	}
	switch form {
	case biquad.Direct:
		return func(r []int64, x int64) int64 {
			r = r[:7]
			b0, b1, b2, a1, a2, p, q := r[0], r[1], r[2], r[3], r[4], r[5], r[6]
			y := narrow(b0*x + p)
			r[5], r[6] = q+b1*x-a1*y, b2*x-a2*y
			return y
		}
	case biquad.Shaped:
		return func(r []int64, x int64) int64 {
			r = r[:7]
			b0, b1, b2, a1, a2, p, q := r[0], r[1], r[2], r[3], r[4], r[5], r[6]
			s := b0*x + p
			y := s >> fraction
			r[5], r[6] = q+b1*x-a1*y+s&(1<<fraction-1), b2*x-a2*y
			return y
		}
	case biquad.Delta4:
		return func(r []int64, x int64) int64 {
			r = r[:7]
			b0, b1, b2, a1, a2, p, q := r[0], r[1], r[2], r[3], r[4], r[5], r[6]
			y := (b0*x + p>>4) >> fraction
			r[5], r[6] = p+q>>4+b1*x-a1*y, q+b2*x-a2*y
			return y
		}
	case biquad.Delta8:
		return func(r []int64, x int64) int64 {
			r = r[:7]
			b0, b1, b2, a1, a2, p, q := r[0], r[1], r[2], r[3], r[4], r[5], r[6]
			y := (b0*x + p) >> fraction
			r[5], r[6] = p+(q+b1*x-a1*y)>>8, q+(b2*x-a2*y)>>8
			return y
		}
	}
	return nil
}
