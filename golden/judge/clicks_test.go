package judge

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"bandwright/compiler/result"
)

// spoken are the specs in the tree with settings whose words a C program plays as they stand,
// in single precision.
var spoken = []string{"heron", "dabchick", "bittern", "dunlin"}

// listening is one program for the script clicks.py, and what it makes of it.
type listening struct {
	Program string `json:"program"`
	JSON    string `json:"json"`
	Reset   bool   `json:"reset"` // one comes in the middle of every tour
}

type heard struct {
	Failures []string `json:"failures"`
	ClickDB  float64  `json:"click_db"` // the most of all, above 1 kHz re a sine of 60 Hz
	LevelDB  float64  `json:"level_db"` // the most of all, re the louder of before and after
	StartDB  float64  `json:"start_db"` // above 1 kHz behind init, while a tone begins with a step: told, and held to nothing
}

// What is heard of the C that ships while settings change, in any order and at any time, is within
// what is promised of it, and is what NAME.json says: the C is compiled and played, scipy's filters
// measure it, and neither knows of the simulation that the figures come from.
func TestScipyHearsNoClicks(t *testing.T) {
	dir := t.TempDir()
	cases := make([]listening, len(spoken))
	t.Run("programs", func(t *testing.T) {
		for i, name := range spoken {
			t.Run(name, func(t *testing.T) {
				t.Parallel()
				cases[i] = speaking(t, dir, name)
			})
		}
	})
	// Teeth: a reset is no change of a setting, and another figure not what is heard.
	jolted, retold := cases[1], cases[1]
	jolted.Reset = true
	r, err := result.Read(must[[]byte](t)(os.ReadFile(retold.JSON)))
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range r.Digital {
		if d.Changes != nil {
			d.Changes.Each[0].ClickDB += 0.02
			d.Changes.Each[1].LevelDB -= 0.02
		}
	}
	retold.JSON = filepath.Join(dir, "retold.json")
	if err := os.WriteFile(retold.JSON, must[[]byte](t)(r.Bytes()), 0o600); err != nil {
		t.Fatal(err)
	}

	var verdicts []heard
	asked(t, "clicks.py", append(cases, jolted, retold), &verdicts)
	for i, h := range verdicts[:len(cases)] {
		for _, f := range h.Failures {
			t.Errorf("%s: %s", spoken[i], f)
		}
		t.Logf("%s: %.1f dB above 1 kHz, %+.3f dB louder than before and after; %.1f dB when the tone begins", spoken[i], h.ClickDB, h.LevelDB, h.StartDB)
	}
	for i, wanted := range [][]string{{"dB above 1 kHz"}, {"a click of", "a level of"}} {
		got := strings.Join(verdicts[len(cases)+i].Failures, "\n")
		for _, w := range wanted {
			if !strings.Contains(got, w) {
				t.Errorf("the judge does not say %q where it should, but\n%s", w, got)
			}
		}
	}
}

// speaking compiles the golden C of a spec, with the names that clicks.c calls.
func speaking(t *testing.T, dir, name string) listening {
	t.Helper()
	c := listening{filepath.Join(dir, name), filepath.Join("..", name, name+".json"), false}
	r, err := result.Read(must[[]byte](t)(os.ReadFile(c.JSON)))
	if err != nil {
		t.Fatal(err)
	}
	rateHz := 0.0
	for _, d := range r.Digital {
		if d.Changes != nil {
			rateHz = d.RateHz
		}
	}
	var set strings.Builder
	for k, s := range r.Settings {
		id := strings.ReplaceAll(s.Name, "-", "_")
		fmt.Fprintf(&set, "    if (k == %d) return NAME_set_%s(s, 0, (enum NAME_%s)c);\n", k, id, id)
	}
	text := strings.NewReplacer("NAME", name, "UPPER", strings.ToUpper(name)).Replace(fmt.Sprintf(`
#include "NAME_float32.h"
#define STATE NAME_state
#define INIT NAME_init
#define RUN NAME_run
#define MUTE NAME_mute
#define RESET NAME_reset_channel
#define CHANNELS UPPER_CHANNELS
#define WAYS UPPER_WAYS
#define RATE %g
static int set(STATE *s, int k, int c)
{
%s    return 1;
}
`, rateHz, set.String()))
	folder := c.Program + ".names"
	if err := os.Mkdir(folder, 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(folder, "filters.h"), []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	golden := filepath.Join("..", name)
	code := filepath.Join(golden, name+"_float32.c")
	// The cache of test results follows only what the test itself opens.
	for _, path := range []string{code, filepath.Join(golden, name+"_float32.h"), "testdata/clicks.c"} {
		must[[]byte](t)(os.ReadFile(path))
	}
	out, err := exec.Command("gcc", "-std=c99", "-O0", "-Wall", "-Wextra", "-Werror", "-I", folder, "-I", golden, "-o", c.Program, code, "testdata/clicks.c", "-lm").CombinedOutput()
	if err != nil {
		t.Fatalf("gcc (Debian package gcc): %v\n%s", err, out)
	}
	return c
}
