package golden

import (
	"bytes"
	"encoding/json"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler"
)

// recipe finds README.md's Python function that works out a way's response from
// NAME.json.
var recipe = regexp.MustCompile("(?s)<!-- run: response -->\n+```python\n(.*?)```")

// question is one response that the recipe is asked for.
type question struct {
	RateHz  float64           `json:"rate_hz"`
	Format  string            `json:"format"`
	Way     string            `json:"way"`
	Setting map[string]string `json:"setting"`
	Hz      float64           `json:"hz"`
	want    complex128
}

// questions are every way of every realisation of a build, in several
// combinations of settings, and what the program itself says.
func questions(b *compiler.Build) []question {
	const most = 6 // combinations
	var out []question
	for _, d := range b.Digital {
		hz := []float64{30, 47.3, 211, 1000, 2345.6, 9876, 0.45 * d.RateHz}
		for k, w := range d.System.Ways {
			path := d.System.Path(k)
			count := 1
			for _, s := range b.Settings {
				count *= len(s.Choices)
			}
			for n := 0; n < count; n += max(1, count/most) {
				c, setting := make(biquad.Combination, len(b.Settings)), map[string]string{}
				for i, rest := 0, n; i < len(c); i++ {
					choices := b.Settings[i].Choices
					c[i], rest = uint8(rest%len(choices)), rest/len(choices)
					setting[b.Settings[i].Name] = choices[c[i]]
				}
				h := make([]complex128, len(hz))
				biquad.DigitalAt(h, path, c, d.RateHz, hz)
				for i, f := range hz {
					out = append(out, question{d.RateHz, d.Format.Name, w.Name, setting, f, h[i] * complex(d.InputGain, 0)})
				}
			}
		}
	}
	return out
}

// README.md's recipe for NAME.json, run by Python, gives every way's response
// as the program has it: attenuation at the input, common gain, delays and all.
func TestReadmeRecipeIsTrue(t *testing.T) {
	text, err := os.ReadFile("../README.md")
	if err != nil {
		t.Fatal(err)
	}
	found := recipe.FindSubmatch(text)
	if found == nil {
		t.Fatal("README.md has no recipe for NAME.json")
	}
	const tolerance = 1e-9 // dB, and as much of the phase
	for _, path := range shipped(t) {
		b, files := compile(t, path)
		if len(b.Digital) == 0 {
			continue
		}
		dir := t.TempDir()
		asked := questions(b)
		for name, data := range map[string]any{"result.json": json.RawMessage(files[len(files)-1].Data), "questions.json": asked} {
			data, err := json.Marshal(data)
			if err == nil {
				err = os.WriteFile(filepath.Join(dir, name), data, 0o666)
			}
			if err != nil {
				t.Fatal(err)
			}
		}
		cmd := exec.Command("python3", "-c", string(found[1])+`
result = json.load(open("result.json"))
answers = [response(result, q["rate_hz"], q["format"], q["way"], q["setting"], q["hz"]) for q in json.load(open("questions.json"))]
print(json.dumps([[h.real, h.imag] for h in answers]))
`)
		cmd.Dir = dir
		var errors bytes.Buffer
		cmd.Stderr = &errors
		said, err := cmd.Output()
		if err != nil {
			t.Fatalf("%s: %v\n%s", path, err, errors.String())
		}
		var answers [][2]float64
		if err := json.Unmarshal(said, &answers); err != nil || len(answers) != len(asked) || len(asked) == 0 {
			t.Fatalf("%s: %d answers to %d questions: %v", path, len(answers), len(asked), err)
		}
		for i, q := range asked {
			h := complex(answers[i][0], answers[i][1])
			ratio := h / q.want
			if db := biquad.DB(ratio); !(math.Abs(db) <= tolerance) || !(math.Abs(math.Atan2(imag(ratio), real(ratio))) <= tolerance) {
				t.Errorf("%s: %s at %g Hz, %g Hz %s, %v: README's recipe gives %.9f dB, the program %.9f dB",
					path, q.Way, q.Hz, q.RateHz, q.Format, q.Setting, biquad.DB(h), biquad.DB(q.want))
			}
		}
	}
}
