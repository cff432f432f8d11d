package page_test

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"bandwright/targets/page"
)

// broken is a spec that breaks promises, without settings.
const broken = `bandwright: 1
name: broken
ways:
  low: {}
  high: {}
crossovers:
  - {between: [low, high], family: LR, order: 4, at: 1.9 kHz}
promise: {magnitude: 0.0001 dB, phase: 0.001 deg}
digital: {rates: [44.1 kHz], formats: [q23], method: bilinear}
`

// TestInBrowser looks at pages in one Chromium: of a product with settings, filters and a board; of a
// board alone; and of filters alone that break promises.
func TestInBrowser(t *testing.T) {
	b := newBrowser(t)
	axe, err := os.ReadFile("../../build/axe/node_modules/axe-core/axe.min.js")
	if err != nil {
		t.Fatalf("%v: `make tools` installs it", err)
	}
	pages := map[string]product{"heron": roomy(t), "siskin": shipped(t, "siskin"), "broken": made(t, "broken", broken)}
	for _, name := range []string{"heron", "siskin", "broken"} {
		p := pages[name]
		t.Run(name, func(t *testing.T) {
			b.open(t, p.url, 1280, "light")
			t.Run("figures", func(t *testing.T) { figures(t, b, p) })
			t.Run("chapters", func(t *testing.T) { chapters(t, b, p) })
			t.Run("first screen", func(t *testing.T) { firstScreen(t, b, p) })
			t.Run("drawn", func(t *testing.T) { drawn(t, b) })
			t.Run("series", func(t *testing.T) { series(t, b, p) })
			t.Run("time", func(t *testing.T) { inTime(t, b, p) })
			t.Run("spectra", func(t *testing.T) { spectra(t, b, p) })
			t.Run("air", func(t *testing.T) { inTheAir(t, b, p) })
			t.Run("controls", func(t *testing.T) { controls(t, b, p) })
			t.Run("widths", func(t *testing.T) { widths(t, b, p) })
			for _, scheme := range []string{"light", "dark"} {
				b.open(t, p.url, 1280, scheme)
				accessible(t, b, string(axe))
			}
			t.Run("print", func(t *testing.T) { printed(t, b) })
		})
	}
	t.Run("changes", func(t *testing.T) { changed(t, b, string(axe)) })
	t.Run("many settings", func(t *testing.T) { many(t, b) })
	t.Run("between", func(t *testing.T) { between(t, b, string(axe)) })
	t.Run("units", func(t *testing.T) { unitsOfBoard(t, b, string(axe)) })
	t.Run("served", func(t *testing.T) { served(t, b) })
	if said := b.heard(); said != "" {
		t.Errorf("the console is not silent:\n%s", said)
	}
}

// figures holds every figure of the page against the index.
func figures(t *testing.T, b *browser, p product) {
	type figure struct {
		Of, Value, Text string
	}
	all := evaluate[[]figure](t, b, `[...document.querySelectorAll("data")].map(d => ({Of: d.dataset.of || "", Value: d.value, Text: d.textContent}))`)
	if len(all) < 10 {
		t.Fatalf("%d figures", len(all))
	}
	for _, f := range all {
		want, err := at(p.json, f.Of)
		if err != nil {
			t.Error(err)
			continue
		}
		n, ok := want.(json.Number)
		if !ok {
			t.Errorf("%s is %v", f.Of, want)
			continue
		}
		x, _ := n.Float64()
		if got, err := strconv.ParseFloat(f.Value, 64); err != nil || got != x {
			t.Errorf("%s: %s, in the index %v", f.Of, f.Value, n)
		}
		if !sameDigits(f.Text, x) {
			t.Errorf("%s: the page says %q of %v", f.Of, f.Text, n)
		}
	}
	// What the index says of the verdict is what the page does.
	verdict := evaluate[string](t, b, `document.getElementById("verdict").textContent`)
	kept := true
	for _, f := range p.index.Findings {
		kept = kept && f.Kept
	}
	if kept != strings.Contains(verdict, "○ Kept:") || kept == strings.Contains(verdict, "● Broken:") {
		t.Errorf("kept is %v, and the page says %q", kept, verdict)
	}
	if n := evaluate[int](t, b, `document.querySelectorAll("#promises tbody tr").length`); n == 0 {
		t.Error("no promise in the table")
	}
}

var numeral = regexp.MustCompile(`[0-9.]+(e-?[0-9]+)?`)

// sameDigits reports whether a text begins with a number as it is rounded to the text's last digit, in a unit
// of any power of ten.
func sameDigits(text string, x float64) bool {
	digits := numeral.FindString(text)
	v, err := strconv.ParseFloat(digits, 64)
	if err != nil {
		return false
	}
	if strings.HasPrefix(text, "<") {
		return math.Abs(x) < v
	}
	mantissa, power, _ := strings.Cut(digits, "e")
	_, behind, _ := strings.Cut(mantissa, ".")
	last := math.Pow10(-len(behind))
	if power != "" {
		n, _ := strconv.Atoi(power)
		last *= math.Pow10(n)
	}
	if v == 0 || x == 0 {
		return v == 0 && math.Abs(x) < last
	}
	size := math.Abs(x) / math.Pow10(int(math.Round(math.Log10(math.Abs(x)/v))))
	return strings.HasPrefix(text, "\u2212") == (x < 0) && math.Abs(v-size) < 0.51*last
}

// chapters finds every row of the table that has something to say, in the list and in the page.
func chapters(t *testing.T, b *browser, p product) {
	type chapter struct{ Name, Title, Says string }
	list := evaluate[[]chapter](t, b, `[...document.querySelectorAll("nav li")].map(l => ({Name: l.querySelector("a").getAttribute("href").slice(1), Title: l.querySelector("a").textContent, Says: l.querySelector("span").textContent}))`)
	known := map[string]string{}
	for _, c := range page.Chapters {
		known[c.Name] = c.Title
	}
	if len(list) < 5 {
		t.Errorf("%d chapters", len(list))
	}
	for _, c := range list {
		if known[c.Name] != c.Title || c.Says == "" {
			t.Errorf("%+v", c)
		}
		in := evaluate[string](t, b, fmt.Sprintf(`document.querySelector("#%s .says").textContent + "|" + document.querySelector("#%[1]s h2").textContent`, c.Name))
		if in != c.Says+"|"+c.Title {
			t.Errorf("%s: %q in the page", c.Name, in)
		}
	}
}

// firstScreen is for those with ten seconds: verdict, worst way, headroom and DC stand whole on the first screen of a
// desk and of a phone, with nothing over them.
func firstScreen(t *testing.T, b *browser, p product) {
	for _, size := range [][2]int64{{1280, 800}, {360, 640}} {
		b.do(t, chromedp.EmulateViewport(size[0], size[1]), chromedp.Navigate(p.url))
		evaluate[bool](t, b, `new Promise(done => requestAnimationFrame(() => requestAnimationFrame(() => done(true))))`)
		for _, words := range []string{"promise", "Worst way:", "Headroom:", "DC:"} {
			found := evaluate[string](t, b, fmt.Sprintf(`(() => {
				const e = [...document.querySelectorAll("#verdict, .first li")].find(e => e.textContent.includes(%q));
				if (!e) return "missing";
				for (const r of e.getClientRects()) {
					if (r.top < 0 || r.left < 0 || r.bottom > innerHeight || r.right > innerWidth) return "from " + r.top + " to " + r.bottom;
					for (const y of [r.top + 2, r.bottom - 2]) if (!e.contains(document.elementFromPoint(r.left + 8, y))) return "something lies over it";
				}
				return "";
			})()`, words))
			if found != "" && !(len(p.index.Findings) == 0 && words == "promise") {
				t.Errorf("%q in a window of %d by %d: %s", words, size[0], size[1], found)
			}
		}
	}
	b.open(t, p.url, 1280, "light")
}

// drawn has the script draw every line anew and compares it with what the compiler drew.
func drawn(t *testing.T, b *browser) {
	type moved struct {
		Lines int
		Most  float64
		Where string
	}
	m := evaluate[moved](t, b, `(() => {
		let lines = 0, most = 0, where = "";
		for (const path of document.querySelectorAll("[data-line]:not([hidden]), [data-own], [data-band]")) {
			const strip = path.closest("[data-strip]"), before = path.getAttribute("d");
			window.report.draw(strip);
			const a = before.match(/[\d.-]+/g) || [], b = path.getAttribute("d").match(/[\d.-]+/g) || [];
			if (before.replace(/[\d.-]+/g, "") !== path.getAttribute("d").replace(/[\d.-]+/g, "") || a.length !== b.length) { most = 1e9; where = strip.dataset.strip + " " + strip.dataset.name + " " + strip.dataset.unit; }
			a.forEach((x, i) => { const d = Math.abs(x - b[i]); if (d > most) { most = d; where = strip.dataset.strip + " " + strip.dataset.name + " " + path.dataset.line; } });
			lines++;
		}
		return {Lines: lines, Most: most, Where: where};
	})()`)
	if m.Lines < 6 || m.Most > 0.11 {
		t.Errorf("%d lines, the furthest moved by %v: %s", m.Lines, m.Most, m.Where)
	}
}

// widths opens the page in windows from a phone's to a wall's: nothing sticks out.
func widths(t *testing.T, b *browser, p product) {
	for _, width := range []int64{360, 1280, 2560} {
		b.open(t, p.url, width, "light")
		out := evaluate[[]string](t, b, `(() => {
			const w = document.documentElement.clientWidth, out = [];
			if (document.documentElement.scrollWidth > w) out.push("the page is " + document.documentElement.scrollWidth + " wide");
			for (const e of document.querySelectorAll("body *")) {
				if (e.closest(".wide") || e.closest("clipPath") || e.closest("[clip-path]") || e.closest("[hidden]")) continue;
				const r = e.getBoundingClientRect();
				if (r.width > 0 && (r.right > w + 1 || r.left < -1)) out.push(e.tagName + " " + e.textContent.slice(0, 40) + " " + r.left + " to " + r.right);
				const svg = e.closest("svg");
				if (e.tagName === "text" && svg && svg.closest(".plot")) {
					const s = svg.getBoundingClientRect();
					if (r.right > s.right + 1 || r.left < s.left - 1 || r.top < s.top - 2) out.push("text " + e.textContent + " leaves its drawing");
				}
			}
			for (const c of document.querySelectorAll("td, th")) { // a column of a few letters is no column
				const words = document.createRange();
				words.selectNodeContents(c);
				const lines = words.getBoundingClientRect().height / parseFloat(getComputedStyle(c).lineHeight), wide = c.getBoundingClientRect().width;
				if (w < 600 && lines > 5.5 && wide < w / 2) out.push(Math.round(lines) + " lines in " + Math.round(wide) + " px: " + c.textContent.slice(0, 60));
			}
			const where = document.querySelector("#promises .tail td:last-child");
			if (where && where.getBoundingClientRect().right > w + 1) out.push("where a promise is worst is cut");
			for (const m of document.querySelectorAll(".plot .said")) { // what is drawn before shows through no label
				const s = getComputedStyle(m), after = e => m.compareDocumentPosition(e) & Node.DOCUMENT_POSITION_FOLLOWING;
				if (!s.paintOrder.startsWith("stroke") || parseFloat(s.strokeWidth) < 3 || s.stroke === "none") out.push(m.textContent + " has no ground of its own");
				if ([...m.closest("[data-strip]").querySelectorAll("[data-line], [data-band]")].some(after)) out.push("a line is drawn over " + m.textContent);
			}
			return out.slice(0, 6);
		})()`)
		for _, o := range out {
			t.Errorf("%d px: %s", width, o)
		}
	}
}

// accessible runs the rules of axe-core.
func accessible(t *testing.T, b *browser, axe string) {
	t.Helper()
	evaluate[bool](t, b, axe+"; true")
	found := evaluate[[]string](t, b, `axe.run(document, {resultTypes: ["violations"]}).then(r => r.violations.map(v => v.id + ": " + v.help + ": " + v.nodes.slice(0, 3).map(n => n.html.slice(0, 160) + " " + n.failureSummary).join(" | ")))`)
	for _, f := range found {
		t.Error(f)
	}
	if n := evaluate[int](t, b, `axe.getRules().length`); n < 50 {
		t.Errorf("%d rules", n)
	}
}
