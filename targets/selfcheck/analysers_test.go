package selfcheck

import (
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// analyser is a program that looks through C. It says what it found.
type analyser struct {
	name, finds string
	run         func(t *testing.T, dir, file string) string
}

var analysers = []analyser{
	{"cppcheck", "arrayIndexOutOfBounds", func(t *testing.T, dir, file string) string {
		said, err := built(t, dir, "cppcheck", "--quiet", "--std=c99", "--inconclusive", "--error-exitcode=3",
			"--enable=warning,style,performance,portability,information", "--suppress=missingIncludeSystem", "--max-configs=16", file)
		if err != nil && said == "" {
			t.Fatal(err)
		}
		return said
	}},
	{"gcc -fanalyzer", "-Wanalyzer-null-dereference", func(t *testing.T, dir, file string) string {
		said, err := built(t, dir, "gcc", "-std=c99", "-fanalyzer", "-c", "-o", "analysed.o", file)
		if err != nil {
			t.Fatalf("%v\n%s", err, said)
		}
		return said
	}},
}

// planted are faults in functions of the code and of the self-test: a read behind an array and
// one through no pointer on one of two ways.
const (
	plantedInCode = `
int smew_planted(smew_state *s);
int smew_planted(smew_state *s)
{
    static const int two[2] = { 1, 2 };
    const int *none = 0;
    int at = 2;

    if (s->rate > 0) {
        none = &at;
    }
    return two[at] + *none;
}
`
	behindThis    = "    int worst = 0;\n"
	plantedInTest = behindThis + `    static const int two[2] = { 1, 2 };
    const int *none = 0;

    if (rates > 7) {
        none = &worst;
    }
    worst = two[2] + *none;
`
)

// placed is the file and the line of what an analyser says.
var placed = regexp.MustCompile(`(?m)^(\S+):(\d+):\d+: `)

// Header, code and self-test are clean, and what is planted is found. The code is looked through once, with a
// function more behind all others, in which everything is that is found; within the self-test's own function a fault
// could hide what comes after it.
func TestAnalysersFindNothingButWhatIsPlanted(t *testing.T) {
	for _, f := range made(t, smew(t, "formats: [float32, float64]", "formats: [float32, q31]")) {
		bad := f
		bad.code += plantedInCode
		bad.selftest = strings.Replace(f.selftest, behindThis, plantedInTest, 1)
		for _, a := range analysers {
			if strings.HasPrefix(a.name, "gcc") && f.format != "float32" {
				continue // it takes ten seconds, for nothing but other types
			}
			t.Run(a.name+" "+f.format, func(t *testing.T) {
				t.Parallel()
				good, spoilt := t.TempDir(), t.TempDir()
				f.write(t, good)
				bad.write(t, spoilt)
				code, selftest := f.name()+".c", f.name()+"_selftest.c"
				said := a.run(t, spoilt, code)
				if !strings.Contains(said, a.finds) {
					t.Errorf("%s: what is planted is not found:\n%s", code, said)
				}
				places := placed.FindAllStringSubmatch(said, -1)
				if len(places) == 0 {
					t.Errorf("%s: what is found has no place:\n%s", code, said)
				}
				for _, m := range places {
					if line, err := strconv.Atoi(m[2]); err != nil || m[1] != code || line <= strings.Count(f.code, "\n") {
						t.Errorf("%s: something is found that is not planted:\n%s", code, said)
					}
				}
				if said := a.run(t, good, selftest); said != "" {
					t.Errorf("%s:\n%s", selftest, said)
				}
				if said := a.run(t, spoilt, selftest); !strings.Contains(said, a.finds) {
					t.Errorf("%s: what is planted is not found:\n%s", selftest, said)
				}
			})
		}
	}
}
