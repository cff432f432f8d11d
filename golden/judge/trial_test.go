package judge

import (
	"bytes"
	"context"
	"encoding/binary"
	"encoding/json"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/language"
	"bandwright/compiler/result"
)

// python is Debian's own interpreter, which Debian's scipy belongs to: another
// one first in PATH may lack it.
const python = "/usr/bin/python3"

// points is how many frequencies a response is compared at.
const points = 60

// trial is one compiled spec on its way to the judge.
type trial struct {
	name   string
	system system
	build  *compiler.Build
	json   []byte
}

// compiled compiles a spec that must compile, for what the judge looks at, coefficients and findings. Advice on
// what is broken is no matter of his: to every other bilinear spec it makes the fit that TestScipyAgreesOnFits makes.
func compiled(t *testing.T, name, text string) *compiler.Build {
	t.Helper()
	b, faults, err := compiler.Findings(context.Background(), name+".yaml", []byte(text), os.DirFS("../../specs"))
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range faults {
		if f.Severity == language.Error {
			t.Fatalf("%s does not compile: %d:%d: %s (%s)\n%s", name, f.Pos.Line, f.Pos.Col, f.Message, f.Right, text)
		}
	}
	return b
}

func newTrial(t *testing.T, name string, s system, b *compiler.Build) trial {
	t.Helper()
	data, err := result.Of(b).Bytes()
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	return trial{name, s, b, data}
}

// docket is what the script reads. The responses stand in a file of float64
// numbers, least byte first, complex ones as two; places in it count numbers.
type docket struct {
	Numbers string  `json:"numbers"`
	Cases   []paper `json:"cases"`
}

type paper struct {
	Name         string      `json:"name"`
	Result       string      `json:"result"` // NAME.json
	Description  system      `json:"description"`
	Combinations [][]int     `json:"combinations"`
	Rates        []rateTable `json:"rates"`
}

// rateTable says where the responses at one rate are: [way][combination][hz].
type rateTable struct {
	RateHz  float64        `json:"rate_hz"`
	Points  int            `json:"points"`
	Hz      int            `json:"hz"`
	Analog  int            `json:"analog"`
	Digital map[string]int `json:"digital"` // by format
}

// verdict is what the script prints.
type verdict struct {
	Cases []struct {
		Name     string      `json:"name"`
		Failures [][2]string `json:"failures"` // the check and what is wrong
	} `json:"cases"`
	Figures []string `json:"figures"` // of each check: worst error, worst share of the tolerance
}

// judged writes the docket, runs the script and returns its verdict.
func judged(t *testing.T, trials []trial) verdict {
	t.Helper()
	dir := t.TempDir()
	var numbers bytes.Buffer
	at := 0
	put := func(v []float64) (place int) {
		place = at
		at += len(v)
		if err := binary.Write(&numbers, binary.LittleEndian, v); err != nil {
			t.Fatal(err)
		}
		return place
	}
	d := docket{Numbers: filepath.Join(dir, "numbers")}
	rng := rand.New(rand.NewPCG(seed, points))
	for _, x := range trials {
		d.Cases = append(d.Cases, x.paper(rng, put))
	}
	if err := os.WriteFile(d.Numbers, numbers.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	var v verdict
	asked(t, "judge.py", d, &v)
	if len(v.Cases) != len(trials) {
		t.Fatalf("%d verdicts on %d specs", len(v.Cases), len(trials))
	}
	return v
}

// asked runs a script of the judge, which reads JSON and answers in JSON.
func asked(t *testing.T, script string, question, answer any) {
	t.Helper()
	text, err := json.Marshal(question)
	if err != nil {
		t.Fatal(err)
	}
	// The cache of test results follows only what the test itself opens.
	for _, path := range must[[]string](t)(filepath.Glob("testdata/*.py")) {
		must[[]byte](t)(os.ReadFile(path))
	}
	cmd := exec.Command(python, filepath.Join("testdata", script))
	// One thread: the judge must not depend on how a library shares out work.
	cmd.Env = append(os.Environ(), "OPENBLAS_NUM_THREADS=1", "OMP_NUM_THREADS=1", "PYTHONDONTWRITEBYTECODE=1")
	cmd.Stdin = bytes.NewReader(text)
	var complaint bytes.Buffer
	cmd.Stderr = &complaint
	out, err := cmd.Output()
	if err != nil {
		var exit *exec.ExitError
		if !errors.As(err, &exit) || bytes.Contains(complaint.Bytes(), []byte("ModuleNotFoundError")) {
			t.Fatalf("the judge needs %s with scipy: install the Debian package python3-scipy (%v)\n%s", python, err, complaint.Bytes())
		}
		t.Fatalf("the judge failed: %v\n%s", err, complaint.Bytes())
	}
	if err := json.Unmarshal(out, answer); err != nil {
		t.Fatalf("the judge's verdict is not JSON: %v\n%s", err, out)
	}
}

// combinations are all choices of all settings.
func (x trial) combinations() [][]int {
	var axes []biquad.Axis
	for k, s := range x.build.Settings {
		axes = append(axes, biquad.Axis{Setting: k, Choices: len(s.Choices)})
	}
	var out [][]int
	biquad.Each(axes, len(axes), func(c biquad.Combination) {
		list := []int{}
		for _, k := range c {
			list = append(list, int(k))
		}
		out = append(out, list)
	})
	return out
}

// paper writes the compiler's own responses of one build.
func (x trial) paper(rng *rand.Rand, put func([]float64) int) paper {
	b := x.build
	p := paper{Name: x.name, Result: string(x.json), Description: x.system, Combinations: x.combinations()}
	responses := func(paths []*biquad.Responder) int {
		var all []float64
		h := make([]complex128, points)
		for _, r := range paths {
			for _, c := range p.Combinations {
				comb := make(biquad.Combination, len(c))
				for i, k := range c {
					comb[i] = uint8(k)
				}
				r.Response(h, comb)
				for _, v := range h {
					all = append(all, real(v), imag(v))
				}
			}
		}
		return put(all)
	}
	for _, d := range b.Digital {
		var table *rateTable
		for i := range p.Rates {
			if p.Rates[i].RateHz == d.RateHz {
				table = &p.Rates[i]
			}
		}
		if table == nil {
			p.Rates = append(p.Rates, rateTable{RateHz: d.RateHz, Points: points, Digital: map[string]int{}})
			table = &p.Rates[len(p.Rates)-1]
		}
		// From 5 Hz to just below half the rate, off any round number.
		hz := make([]float64, points)
		top := math.Log2(0.495 * d.RateHz / 5)
		for i := range hz {
			hz[i] = 5 * math.Exp2(top*(float64(i)+rng.Float64())/points)
		}
		if len(table.Digital) == 0 {
			table.Hz = put(hz)
			var ideal []*biquad.Responder
			for k := range b.Prototype.Ways {
				ideal = append(ideal, biquad.OnAnalog(b.Prototype.Path(k), hz))
			}
			table.Analog = responses(ideal)
			for _, e := range b.Digital {
				if e.RateHz != d.RateHz {
					continue
				}
				var real []*biquad.Responder
				for k := range e.System.Ways {
					real = append(real, biquad.OnDigital(e.System.Path(k), e.RateHz, hz))
				}
				table.Digital[e.Format.Name] = responses(real)
			}
		}
	}
	return p
}

// report fails the test for everything that the judge found.
func report(t *testing.T, v verdict) {
	t.Helper()
	for _, c := range v.Cases {
		for _, f := range c.Failures {
			t.Errorf("%s: %s: %s", c.Name, f[0], f[1])
		}
	}
	for _, f := range v.Figures {
		t.Log(f)
	}
}

// shipped are the specs in the tree.
func shipped(t *testing.T) []string {
	t.Helper()
	names, err := filepath.Glob("../../specs/*.yaml")
	if err != nil || len(names) == 0 {
		t.Fatalf("no specs: %v", err)
	}
	return names
}

func stem(path string) string {
	base := filepath.Base(path)
	return base[:len(base)-len(filepath.Ext(base))]
}

func must[T any](t *testing.T) func(T, error) T {
	return func(v T, err error) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}
