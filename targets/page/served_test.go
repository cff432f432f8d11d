package page_test

import (
	"bufio"
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// service is the program as it serves a spec that is saved again and again.
type service struct{ spec, url string }

// serve starts the program on a spec of a folder and waits until it watches.
func serve(t *testing.T, program, spec string) service {
	t.Helper()
	cmd := exec.Command(program, "compile", filepath.Base(spec), "-o", "out", "--serve")
	cmd.Dir = filepath.Dir(spec)
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
	s := service{spec: spec}
	for lines := bufio.NewScanner(said); lines.Scan(); {
		if at := regexp.MustCompile(`http://\S+`).FindString(lines.Text()); at != "" {
			s.url = at
		}
		if strings.HasPrefix(lines.Text(), "watching") {
			break
		}
	}
	go func() {
		for lines := bufio.NewScanner(said); lines.Scan(); {
		}
	}()
	return s
}

func (s service) save(t *testing.T, text string) {
	t.Helper()
	if err := os.WriteFile(s.spec, []byte(text), 0o666); err != nil {
		t.Fatal(err)
	}
}

// turned saves a spec and waits until the browser shows the report of it, the built-th one. How long that took is said,
// and how much of it until the program told that there is one.
func (s service) turned(t *testing.T, b *browser, what, text string, built int) {
	t.Helper()
	news, err := http.Get(s.url + "changes")
	if err != nil {
		t.Fatal(err)
	}
	defer news.Body.Close()
	told := make(chan time.Time, 1)
	go func() {
		for lines := bufio.NewScanner(news.Body); lines.Scan(); {
			if strings.Contains(lines.Text(), fmt.Sprintf(`"built":%d,`, built)) {
				told <- time.Now()
				return
			}
		}
	}()
	before := time.Now()
	s.save(t, text)
	b.until(t, "the new report", fmt.Sprintf(`document.readyState === "complete" && window.report?.ready && !document.getElementById("faults") && document.querySelector("script[data-built]").dataset.built === "%d"`, built))
	seen := time.Now()
	at := <-told
	t.Logf("%s: from the save to the page turned over %v, of which %v until it was made", what, seen.Sub(before).Round(time.Millisecond), at.Sub(before).Round(time.Millisecond))
}

// until waits for an expression of the page to be true.
func (b *browser) until(t *testing.T, what, expression string) {
	t.Helper()
	for end := time.Now().Add(20 * time.Second); time.Now().Before(end); time.Sleep(5 * time.Millisecond) {
		if evaluate[bool](t, b, "Boolean("+expression+")") {
			return
		}
	}
	t.Fatalf("%s: not within 20 s", what)
}

// served turns the page over in the browser after a save: it stays where it was with what was chosen; a mistake
// shows in the page and leaves the last good report. A board that is held is turned over as well.
func served(t *testing.T, b *browser) {
	dir := t.TempDir()
	program := filepath.Join(dir, "bandwright")
	if out, err := exec.Command("go", "build", "-o", program, "../../cmd/bandwright").CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	good := strings.Replace(broken, "name: broken\n", "name: kept\nsettings: {wall: [free, near, far]}\ncommon: [{low-shelf: {at: 200 Hz, gain: -3 dB, q: 0.7, when: {wall: near}}}]\n", 1)
	spec := filepath.Join(dir, "kept.yaml")
	if err := os.WriteFile(spec, []byte(good), 0o666); err != nil {
		t.Fatal(err)
	}
	s := serve(t, program, spec)
	b.open(t, s.url, 1280, "light")
	b.choose(t, []byte{1})
	evaluate[bool](t, b, `(() => { scrollTo(0, 900); return true; })()`)
	s.save(t, good+"nonsense: 3\n")
	b.until(t, "a mistake shows", `document.getElementById("faults")?.textContent.includes("nonsense")`)
	if !evaluate[bool](t, b, `document.getElementById("verdict") !== null && document.querySelectorAll("svg").length > 3`) {
		t.Error("the last good report is gone")
	}
	s.turned(t, b, "digital filters", strings.Replace(good, "-3 dB", "-9 dB", 1), 2)
	b.until(t, "the place", `Math.abs(scrollY - 900) < 3`)
	if got := evaluate[string](t, b, `document.querySelector("[data-setting]").value + " " + window.report.state.choices`); got != "1 1" {
		t.Errorf("chosen is %s", got)
	}
	low := evaluate[float64](t, b, `window.report.values("level", 0, -1)[window.report.hz.findIndex(f => f > 30)]`)
	if low > -8.5 || low < -9.5 {
		t.Errorf("%v dB at 30 Hz of the new spec, with the chosen setting", low)
	}
	b.do(t, chromedp.Navigate("about:blank")) // before the program ends, which the page would complain of
	held(t, b, program)
}

// held turns the largest board over, as it is held.
func held(t *testing.T, b *browser, program string) {
	dir := t.TempDir()
	if err := os.CopyFS(dir, os.DirFS("../../specs")); err != nil {
		t.Fatal(err)
	}
	spec := filepath.Join(dir, "bittern.yaml")
	src, err := os.ReadFile(spec)
	if err != nil {
		t.Fatal(err)
	}
	s := serve(t, program, spec)
	b.open(t, s.url, 1280, "light")
	s.turned(t, b, "a held board", strings.Replace(string(src), "revision: C1", "revision: C2", 1), 2)
	if said := evaluate[string](t, b, `document.querySelector("header").textContent`); !strings.Contains(said, "revision C2") {
		t.Errorf("the page is of %q", said)
	}
	b.do(t, chromedp.Navigate("about:blank"))
}
