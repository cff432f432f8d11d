package number

import (
	"maps"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// A program without b1 and b2 gives the bits of the form's own where both are zero, signs of zeros included:
// noise, silence of either sign, numbers that vanish and rests, from silence on.
func TestBareProgramsGiveTheSameBits(t *testing.T) {
	a := native[float32](32, "f", nil)
	k := floating
	k.Words, k.States = float32Format.typed(k.Words), float32Format.typed(k.States)
	whole := compiled(k, a)
	for form, program := range k.Bare {
		other := k
		other.Sections = maps.Clone(k.Sections)
		other.Sections[form] = program
		bare := compiled(other, a)
		draw := rand.New(rand.NewPCG(3, 4))
		for row := range 200 {
			one, two := slices.Clone(whole.initial), slices.Clone(bare.initial)
			for _, r := range []struct {
				c *code[float32]
				r []float32
			}{{whole, one}, {bare, two}} {
				r.r[r.c.registers["b0"]], r.r[r.c.registers["a1"]], r.r[r.c.registers["a2"]] = float32(row%7)-3, 0.01*float32(row%5), 1e-4*float32(row%3)
			}
			for n := range 400 {
				x := float32(draw.NormFloat64() * math.Exp2(float64(-draw.IntN(160))))
				switch draw.IntN(4) {
				case 0:
					x = 0
				case 1:
					x = float32(math.Copysign(0, -1))
				}
				one[whole.x], two[bare.x] = x, x
				whole.execute(whole.section[form], one)
				bare.execute(bare.section[form], two)
				if n%100 == 99 { // as a rest does
					clear(one[whole.words : whole.words+whole.states])
					clear(two[bare.words : bare.words+bare.states])
				}
				for _, name := range []string{"y", "p", "q"} {
					u, v := one[whole.registers[name]], two[bare.registers[name]]
					if math.Float32bits(u) != math.Float32bits(v) {
						t.Fatalf("form %v, row %d, sample %d: %s is %v, without b1 and b2 %v", form, row, n, name, u, v)
					}
				}
			}
		}
	}
}
