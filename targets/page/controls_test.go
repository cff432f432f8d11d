package page_test

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"bandwright/biquad"
)

// controls tries every control of the page.
func controls(t *testing.T, b *browser, p product) {
	shows(t, b, p)
	selects(t, b)
	cursor(t, b)
	readOut(t, b, p)
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
		for (const plot of document.querySelectorAll("figure:not([hidden]) .plot:not(.still)")) {
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
			if (new Set(texts).size !== texts.length || texts.some(x => !/Hz|ms/.test(x))) out.push(texts.join("\n"));
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

// readOut reads the drawings with places of their own by keys, in other settings than the default ones and in another
// realisation: what is said is what lies under the cursor of the present lines.
func readOut(t *testing.T, b *browser, p product) {
	c := make(biquad.Combination, len(p.build.Settings))
	for i, s := range p.build.Settings {
		c[i] = uint8(len(s.Choices) - 1)
	}
	b.choose(t, c)
	if n := evaluate[int](t, b, `document.querySelectorAll("#shown [data-made] option").length`); n > 1 {
		b.realise(t, n-1)
	}
	type value struct {
		Name, Said string
		Value      float64
	}
	type read struct {
		Name, Note, Text string
		Values           []value
	}
	all := evaluate[[]read](t, b, `(() => {
		const out = [];
		for (const plot of document.querySelectorAll("figure:not([hidden]) .plot:not(.still)")) {
			if (!plot.querySelector("[data-own], [data-band]")) continue;
			for (const keys of [["Home", "PageUp", "PageUp"], ["ArrowRight"], ["End", "PageDown"]]) {
				for (const key of keys) plot.dispatchEvent(new KeyboardEvent("keydown", {key, bubbles: true}));
				plot.querySelectorAll("[data-strip]").forEach(window.report.draw);
				const text = plot.getAttribute("aria-valuetext"), values = [];
				const parts = text.slice(text.indexOf("\u2013") + 2).split("; ");
				plot.querySelectorAll("[data-strip]").forEach((s, i) => {
					const said = parts[i].slice(s.dataset.name.length + 2).split(", ");
					const lines = [...s.querySelectorAll("[data-line]:not([hidden])")].length;
					[...s.querySelectorAll("[data-own], [data-band]")].forEach((l, k) => {
						const o = window.report.own(l.dataset.band ? +l.dataset.band : window.report.ownOf(l)), v = window.report.between(o.x, o.y, plot.value);
						values.push({Name: l.dataset.says || "95 of 100 within", Said: said[lines + k], Value: Number.isNaN(v) ? 1e9 : v});
					});
				});
				out.push({Name: plot.getAttribute("aria-label"), Note: plot.parentElement.querySelector("[data-note]")?.textContent || "", Text: text, Values: values});
			}
		}
		return out;
	})()`)
	if len(all) == 0 {
		t.Error("nothing is read out")
	}
	for _, r := range all {
		for _, v := range r.Values {
			rest, ok := strings.CutPrefix(v.Said, v.Name+" ")
			rest = strings.TrimPrefix(rest, "\u00b1")
			if _, err := strconv.ParseFloat(numeral.FindString(rest), 64); v.Value == 1e9 && err != nil && ok {
				continue // nowhere, unknown
			}
			rest = strings.Fields(rest)[0]
			if !ok || !sameDigits(rest, v.Value) && math.Abs(v.Value) > 5e-8 {
				t.Errorf("%s: %q of %s, which is %v: %s", r.Name, v.Said, v.Name, v.Value, r.Text)
			}
		}
		for i, s := range p.build.Settings {
			if !strings.Contains(r.Note, s.Name+": "+s.Choices[c[i]]) {
				t.Errorf("%s says %q with %s %s", r.Name, r.Note, s.Name, s.Choices[c[i]])
			}
		}
	}
	b.choose(t, make(biquad.Combination, len(p.build.Settings)))
	if evaluate[bool](t, b, `document.querySelector("#shown [data-made]") !== null`) {
		b.realise(t, 0)
	}
}
