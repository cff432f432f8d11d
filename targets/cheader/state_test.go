package cheader

import (
	"fmt"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	_ "embed"

	"bandwright/biquad/number"
)

var (
	//go:embed testdata/fill.c
	fillSource string
	//go:embed testdata/fill_one.c
	fillOneSource string
)

// headers are those of all shapes in one format, with the lines that include them.
func headers(t *testing.T, format number.Format) (files map[string][]byte, include string) {
	t.Helper()
	files = map[string][]byte{}
	for _, s := range shapes {
		for _, f := range emit(t, s.build()) {
			if f.Name == s.name+"_"+format.Name+".h" {
				files[f.Name] = f.Data
				include += "#include \"" + f.Name + "\"\n"
			}
		}
	}
	return files, include
}

// built compiles source with the headers and runs it.
func built(t *testing.T, files map[string][]byte, source, compiler string, args ...string) string {
	t.Helper()
	dir := program{headers: files, source: source}.write(t)
	if out, err := compile(t, dir, compiler, append(args, "-o", "main")...); err != nil {
		t.Fatalf("%s: %v\n%s", compiler, err, out)
	}
	out, err := exec.Command(filepath.Join(dir, "main")).CombinedOutput()
	if err != nil {
		t.Fatalf("%s: %v\n%s", compiler, err, out)
	}
	return string(out)
}

// sanitized are the flags that stop a program at what it does outside.
var sanitized = append(strictC[:len(strictC):len(strictC)], "-O1", "-g", "-fsanitize=address,undefined", "-fno-sanitize-recover=all")

// A state that init never saw, or whose bytes were overwritten, is refused by
// every call, and no call touches anything outside, whatever the bytes are.
func TestStatesOfAnyBytes(t *testing.T) {
	for _, format := range number.Formats {
		files, include := headers(t, format)
		source, calls := include+fillSource, ""
		for _, s := range shapes {
			var sets strings.Builder
			for _, set := range s.settings {
				ident := identifier(set.Name)
				for _, choice := range []int{1, 0} {
					fmt.Fprintf(&sets, "        refused += %s_set_%s(s, channel, (enum %s_%s)%d);\n"+
						"        refused += %s_run(s, channel, in, ways, 3);\n        calls += 2;\n", s.name, ident, s.name, ident, choice, s.name)
				}
			}
			source += strings.NewReplacer("STEM", s.name, "UPPER", strings.ToUpper(s.name), "TYPE", format.C.Type.Name,
				"HZ", fmt.Sprintf("%.0f", s.rates[0]), "SETTINGS\n", sets.String()).Replace(fillOneSource)
			calls += "fill_" + s.name + "() + "
		}
		source += "\nint main(void)\n{\n    return " + calls + "0;\n}\n"
		for _, compiler := range []string{"gcc", "clang"} {
			t.Run(format.Name+"-"+compiler, func(t *testing.T) {
				t.Parallel()
				told := "\n" + built(t, files, source, compiler, sanitized...)
				for _, s := range shapes {
					// The four bytes of ready; where there are indices, all random ones but few.
					least := 4
					if len(s.settings) > 0 || s.delayS > 0 {
						least += 1990
					}
					_, after, _ := strings.Cut(told, "\n"+s.name+": ")
					n := 0
					if _, err := fmt.Sscan(after, &n); err != nil || n < least {
						t.Errorf("%s: %d states told, want %d or more", s.name, n, least)
					}
				}
			})
		}
	}
}

//go:embed testdata/again.c
var againSource string

// Setting the choice that is set already costs nothing: no byte of the state
// changes. That the output is the simulation's, TestHeadersEqualTheSimulation
// finds: its trials set choices again.
func TestSettingAgainChangesNothing(t *testing.T) {
	for _, format := range number.Formats {
		files, include := headers(t, format)
		source, calls := include+"#include <string.h>\n", ""
		for _, s := range shapes {
			if len(s.settings) == 0 {
				continue
			}
			var changes, same strings.Builder
			for i, set := range s.settings {
				ident := identifier(set.Name)
				one := fmt.Sprintf("        if (%s_set_%s(&s, 0, (enum %s_%s)%d) != 0) {\n            return 1;\n        }\n", s.name, ident, s.name, ident, i%2)
				changes.WriteString(one)
				same.WriteString(one)
			}
			source += strings.NewReplacer("STEM", s.name, "UPPER", strings.ToUpper(s.name), "TYPE", format.C.Type.Name,
				"SCALE", fmt.Sprintf("%.1f", format.C.FullScale), "HZ", fmt.Sprintf("%.0f", s.rates[0]),
				"CHANGES\n", changes.String(), "SETTINGS\n", same.String()).Replace(againSource)
			calls += "again_" + s.name + "() + "
		}
		t.Run(format.Name, func(t *testing.T) {
			t.Parallel()
			built(t, files, source+"\nint main(void)\n{\n    return "+calls+"0;\n}\n", "gcc", sanitized...)
		})
	}
}
