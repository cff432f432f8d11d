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

// headers are those of all shapes in one format, with their code.
func headers(t *testing.T, format number.Format) map[string][]byte {
	t.Helper()
	files := map[string][]byte{}
	for _, s := range shapes {
		for _, f := range emit(t, s.build()) {
			if strings.HasPrefix(f.Name, s.name+"_"+format.Name+".") {
				files[f.Name] = f.Data
			}
		}
	}
	return files
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

// sanitized are the flags that stop a program at what it does outside. Nothing is optimised, so that nothing that is
// undefined is gone before it is looked for, and gcc takes a fraction of the time.
var sanitized = append(strictC[:len(strictC):len(strictC)], "-O0", "-g", "-fsanitize=address,undefined", "-fno-sanitize-recover=all")

// filling is a program that fills the states of some shapes with any bytes.
func filling(format number.Format, some []shape) string {
	include, source, calls := "", fillSource, ""
	for _, s := range some {
		include += "#include \"" + s.name + "_" + format.Name + ".c\"\n"
		var sets strings.Builder
		for _, set := range s.settings {
			ident := strings.ReplaceAll(set.Name, "-", "_")
			for _, choice := range []int{1, 0} {
				fmt.Fprintf(&sets, "        refused += %s_set_%s(s, channel, (enum %s_%s)%d);\n"+
					"        refused += %s_run(s, in, out, 3);\n        calls += 2;\n", s.name, ident, s.name, ident, choice, s.name)
			}
		}
		source += strings.NewReplacer("STEM", s.name, "UPPER", strings.ToUpper(s.name), "TYPE", format.C.Type.Name,
			"HZ", fmt.Sprintf("%.0f", s.rates[0]), "SETTINGS\n", sets.String()).Replace(fillOneSource)
		calls += "fill_" + s.name + "() + "
	}
	return include + source + "\nint main(void)\n{\n    return " + calls + "0;\n}\n"
}

// A state that init never saw is refused by every call, which touches nothing
// then, whatever the bytes are; and so is one in which any byte of the two words
// that tell of init was overwritten.
func TestStatesOfAnyBytes(t *testing.T) {
	for _, format := range computed() {
		if format.Name == number.Reference {
			continue // its states are those of float32, of wider words
		}
		files := headers(t, format)
		for _, compiler := range []string{"gcc", "clang"} {
			if format.GuardBits > 0 && compiler == "gcc" {
				continue // one sanitizer is enough where compilers have no choice
			}
			some := shapes
			if compiler == "gcc" { // whose sanitizers go through all shapes in another test
				some = []shape{shapes[0], shapes[2]} // with settings and without
			}
			t.Run(format.Name+"-"+compiler, func(t *testing.T) {
				t.Parallel()
				told := "\n" + built(t, files, filling(format, some), compiler, sanitized...)
				for _, s := range some {
					if !strings.Contains(told, "\n"+s.name+": 8 bytes\n") {
						t.Errorf("%s: which bytes tell of init is not told", s.name)
					}
				}
			})
		}
	}
}
