package page_test

import (
	"bufio"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// served turns the page over in the browser after a save: it stays where it was with what was chosen; a mistake
// shows in the page and leaves the last good report.
func served(t *testing.T, b *browser) {
	dir := t.TempDir()
	program := filepath.Join(dir, "bandwright")
	if out, err := exec.Command("go", "build", "-o", program, "../../cmd/bandwright").CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	spec := filepath.Join(dir, "kept.yaml")
	save := func(text string) {
		if err := os.WriteFile(spec, []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	good := strings.Replace(broken, "name: broken\n", "name: kept\nsettings: {wall: [free, near, far]}\ncommon: [{low-shelf: {at: 200 Hz, gain: -3 dB, q: 0.7, when: {wall: near}}}]\n", 1)
	save(good)
	cmd := exec.Command(program, "compile", "kept.yaml", "-o", "out", "--serve")
	cmd.Dir = dir
	said, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		_ = cmd.Process.Kill()
		_ = cmd.Wait()
	})
	url := ""
	for lines := bufio.NewScanner(said); lines.Scan(); {
		if at := regexp.MustCompile(`http://\S+`).FindString(lines.Text()); at != "" {
			url = at
		}
		if strings.HasPrefix(lines.Text(), "watching") {
			break
		}
	}
	go func() {
		for lines := bufio.NewScanner(said); lines.Scan(); {
		}
	}()
	b.open(t, url, 1280, "light")
	b.choose(t, []byte{1})
	evaluate[bool](t, b, `(() => { scrollTo(0, 900); return true; })()`)
	until := func(what, expression string) {
		t.Helper()
		for end := time.Now().Add(20 * time.Second); time.Now().Before(end); time.Sleep(10 * time.Millisecond) {
			if evaluate[bool](t, b, "Boolean("+expression+")") {
				return
			}
		}
		t.Fatalf("%s: not within 20 s", what)
	}
	save(good + "nonsense: 3\n")
	until("a mistake shows", `document.getElementById("faults")?.textContent.includes("nonsense")`)
	if !evaluate[bool](t, b, `document.getElementById("verdict") !== null && document.querySelectorAll("svg").length > 3`) {
		t.Error("the last good report is gone")
	}
	before := time.Now()
	save(strings.Replace(good, "-3 dB", "-9 dB", 1))
	until("the new report", `document.readyState === "complete" && window.report?.ready && !document.getElementById("faults") && document.querySelector("script[data-built]").dataset.built === "2"`)
	t.Logf("from the save to the page turned over: %v", time.Since(before))
	until("the place", `Math.abs(scrollY - 900) < 3`)
	if got := evaluate[string](t, b, `document.querySelector("[data-setting]").value + " " + window.report.state.choices`); got != "1 1" {
		t.Errorf("chosen is %s", got)
	}
	low := evaluate[float64](t, b, `window.report.values("level", 0, -1)[window.report.hz.findIndex(f => f > 30)]`)
	if low > -8.5 || low < -9.5 {
		t.Errorf("%v dB at 30 Hz of the new spec, with the chosen setting", low)
	}
	b.do(t, chromedp.Navigate("about:blank")) // before the program ends, which the page would complain of
}
