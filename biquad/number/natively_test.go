package number

import (
	"maps"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"bandwright/biquad"
)

// The host's own operations give the bits of the instructions, for words and samples of
// any size, in every form of every kernel that they are used for.
func TestNatively(t *testing.T) {
	float, whole := []biquad.Form{biquad.Direct, biquad.Delta, biquad.Mirrored}, []biquad.Form{biquad.Direct, biquad.Shaped, biquad.DeltaFine, biquad.DeltaWide, biquad.DeltaDeep}
	t.Run("float32", func(t *testing.T) { compareNatively(t, floating, native[float32](32, "f", nil), float, 1) })
	t.Run("float64", func(t *testing.T) { compareNatively(t, floating, native[float64](64, "", nil), float, 1) })
	t.Run("fixed", func(t *testing.T) {
		a := inWords(container{bits: 24, guard: 2}, callsOf(container{bits: 24, guard: 2}))
		a.natively = nativelyFixed
		compareNatively(t, fixedKernel, a, whole, 1<<28) // some of the sums overflow, in both alike
	})
}

func compareNatively[V host](t *testing.T, k Kernel, a arithmetic[V], forms []biquad.Form, full float64) {
	sections := k.Sections
	k.Words, k.States = float32Format.typed(k.Words), float32Format.typed(k.States) // as formats have it
	c := compiled(k, a)
	draw := rand.New(rand.NewPCG(5, 8))
	for _, form := range forms {
		f := c.natively[form]
		if f == nil {
			t.Fatalf("form %v has no native program", form)
		}
		for range 300 {
			one := slices.Clone(c.initial)
			for i := range c.words + c.states {
				one[i] = V(full * draw.NormFloat64() * math.Exp2(float64(draw.IntN(40)-30)))
			}
			two := slices.Clone(one)
			for n := range 20 {
				x := V(full * draw.NormFloat64())
				one[c.x] = x
				c.execute(c.section[form], one)
				y := f(two, x)
				if one[c.y] != y && y == y || !slices.EqualFunc(one[:c.words+c.states], two[:c.words+c.states], func(a, b V) bool { return a == b || a != a && b != b }) {
					t.Fatalf("form %v, sample %d: %v and %v, registers %v and %v", form, n, one[c.y], y, one[:12], two[:12])
				}
			}
		}
	}
	other := k
	other.Sections = maps.Clone(sections)
	other.Sections[biquad.Direct] = slices.Clone(sections[biquad.Direct])
	other.Sections[biquad.Direct][0].Is = "p + " + sections[biquad.Direct][0].Is
	if compiled(other, a).natively[biquad.Direct] != nil {
		t.Error("another program counts as known")
	}
}
