package page_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// controls tries every control of the page.
func controls(t *testing.T, b *browser, p product) {
	shows(t, b, p)
	selects(t, b)
	cursor(t, b)
}

// shows presses every button that shows the settings of a worst figure: there the line has that figure.
func shows(t *testing.T, b *browser, p product) {
	type pressed struct {
		With, Chosen, Of string
		Value, Drawn     float64
		Slack            float64 // of a board
	}
	all := evaluate[[]pressed](t, b, `(() => {
		const out = [];
		for (const button of document.querySelectorAll("td [data-with]")) {
			button.click();
			const cell = button.closest("td"), [value, hz] = [...cell.querySelectorAll("data")];
			const made = +button.dataset.mark, section = button.closest("section").id;
			const kind = {error: "error", phase: "phase-error", delay: "delay-error", sum: "sum-error"}[section];
			if (!kind) continue;
			const way = kind === "sum-error" ? window.report.data.ways.length : [...cell.parentElement.querySelectorAll("td")].indexOf(cell);
			const at = hz ? window.report.hz.findIndex(f => Math.abs(f / hz.value - 1) < 1e-8) : -1;
			out.push({With: button.dataset.with, Chosen: [...document.querySelectorAll("#shown [data-setting]")].map(s => s.value).join(" "),
				Of: value.dataset.of, Value: +value.value, Slack: window.report.data.made[made].board ? {error: 1e-6, sum: 1e-6, phase: 1e-5, delay: 1e-9}[section] : 1e-9, Drawn: at < 0 ? 1e9 : window.report.kinds[kind](way, made, at)});
		}
		return out;
	})()`)
	if n := len(p.build.Settings); (n > 0) != (len(all) > 0) {
		t.Fatalf("%d settings and %d buttons", n, len(all))
	}
	for _, x := range all {
		if x.With != x.Chosen {
			t.Errorf("%s: with %s, and %s is chosen", x.Of, x.With, x.Chosen)
		}
		if math.Abs(x.Drawn-x.Value) > 2e-5*math.Abs(x.Value)+x.Slack {
			t.Errorf("%s: %v in the table, %v drawn", x.Of, x.Value, x.Drawn)
		}
	}
	// A ring in a drawing does the same.
	if n := evaluate[int](t, b, `(() => {
		let wrong = 0;
		for (const ring of document.querySelectorAll("svg [data-mark]:not([hidden])")) {
			ring.querySelector("circle").dispatchEvent(new MouseEvent("click", {bubbles: true}));
			if (ring.dataset.with && [...document.querySelectorAll("#shown [data-setting]")].map(s => s.value).join(" ") !== ring.dataset.with) wrong++;
		}
		return wrong;
	})()`); n > 0 {
		t.Errorf("%d rings show other settings", n)
	}
}

// selects changes every list to every choice: lines move for a setting, and are others for a realisation; paper
// turns light and dark; and all of it is kept over a reload.
func selects(t *testing.T, b *browser) {
	still := evaluate[[]string](t, b, `(() => {
		const out = [], lines = () => [...document.querySelectorAll("[data-line]")].map(p => p.getAttribute("d") + p.hasAttribute("hidden")).join();
		const all = () => { document.querySelectorAll("[data-strip]").forEach(window.report.draw); return lines(); };
		for (const s of document.querySelectorAll("#shown select:not([data-paper])")) {
			for (const o of s.options) {
				if (o.value === s.value) continue;
				const before = all();
				s.value = o.value;
				s.dispatchEvent(new Event("change", {bubbles: true}));
				if (all() === before) out.push(s.closest("label").textContent + o.textContent);
			}
		}
		return out;
	})()`)
	for _, s := range still {
		t.Errorf("no line moves for %s", s)
	}
	paper := func(name string) string {
		return evaluate[string](t, b, fmt.Sprintf(`(() => { const s = document.querySelector("select[data-paper]"); s.value = %q; s.dispatchEvent(new Event("change", {bubbles: true})); return getComputedStyle(document.documentElement).backgroundColor; })()`, name))
	}
	light, dark := paper("light"), paper("dark")
	if light == dark || paper("") != light {
		t.Errorf("light is %s, dark %s", light, dark)
	}
	chosen := `[...document.querySelectorAll("#shown select")].map(s => s.value).join(" ")`
	paper("dark")
	before := evaluate[string](t, b, chosen)
	b.do(t, chromedp.Reload())
	if after := evaluate[string](t, b, chosen); after != before {
		t.Errorf("%q is chosen, and after a reload %q", before, after)
	}
	paper("")
}

// cursor reads values by pointer and by keys.
func cursor(t *testing.T, b *browser) {
	reads := evaluate[[]string](t, b, `(() => {
		const out = [];
		for (const plot of document.querySelectorAll(".plot:not(.still)")) {
			const said = () => plot.parentElement.querySelector("output").textContent;
			const key = (key, shiftKey) => plot.dispatchEvent(new KeyboardEvent("keydown", {key, shiftKey, bubbles: true}));
			const shows = () => getComputedStyle(plot.querySelector(".cursor")).visibility === "visible" && getComputedStyle(plot.querySelector(".cursor")).display !== "none";
			if (shows()) out.push("a cursor before anything is pointed at");
			plot.focus();
			const texts = [];
			for (const k of ["Home", "ArrowRight", "PageUp", "End", "ArrowLeft", "PageDown"]) { key(k); texts.push(said()); }
			key("ArrowLeft", true);
			texts.push(said());
			const box = plot.getBoundingClientRect();
			plot.dispatchEvent(new PointerEvent("pointermove", {clientX: box.left + box.width / 2, clientY: box.top + 20, bubbles: true}));
			texts.push(said());
			if (new Set(texts).size !== texts.length || texts.some(x => !/Hz/.test(x))) out.push(texts.join("\n"));
			if (!shows()) out.push("no cursor");
			if (plot.getAttribute("aria-valuetext") !== said() || document.activeElement !== plot) out.push("not told");
			if (!plot.querySelector("svg").getAttribute("aria-label")) out.push("no words for those who cannot see it");
		}
		return out;
	})()`)
	for _, r := range reads {
		t.Errorf("the cursor: %s", strings.TrimSpace(r))
	}
}
