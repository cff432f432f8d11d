package page_test

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
)

// pdfBox is the size of a page.
var pdfBox = regexp.MustCompile(`/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]`)

// printed prints the page on both papers. Black on white whatever the window is; no drawing, row or heading that a page
// could part, none taller than a page or wider than its paper; each sheet of the schematic on a page across; and no
// more pages than what stands on them needs.
func printed(t *testing.T, b *browser) {
	paper(t, b, "dark", "dark")
	for name, mm := range map[string][2]float64{"A4": {210, 297}, "Letter": {215.9, 279.4}} {
		const margin, perMM = 16, 96 / 25.4
		b.do(t, chromedp.EmulateViewport(int64((mm[0]-2*margin)*perMM), 900))
		wrong := evaluate[[]string](t, b, fmt.Sprintf(`(() => {
			const out = [], w = document.documentElement.clientWidth, css = getComputedStyle(document.documentElement);
			if (css.backgroundColor !== "rgb(255, 255, 255)" || css.color !== "rgb(0, 0, 0)") out.push(css.color + " on " + css.backgroundColor);
			for (const e of document.querySelectorAll("figure, tr, li, h2, h3, .says")) {
				if (getComputedStyle(e).breakInside !== "avoid") out.push("can be parted: " + e.outerHTML.slice(0, 60));
				const r = e.getBoundingClientRect();
				if (r.height > %v && r.width > 0) out.push(r.height + " px tall: " + e.outerHTML.slice(0, 60));
				if (r.right > w + 1) out.push(r.right + " of " + w + " px wide: " + e.textContent.slice(0, 60));
			}
			for (const e of document.querySelectorAll("h2, h3, .says")) if (getComputedStyle(e).breakAfter !== "avoid") out.push("left behind: " + e.textContent);
			if (getComputedStyle(document.getElementById("shown")).display !== "none") out.push("controls are printed");
			return out.slice(0, 5);
		})()`, (mm[1]-2*margin)*perMM))
		for _, w := range wrong {
			t.Errorf("%s: %s", name, w)
		}
		needs := evaluate[float64](t, b, `document.body.scrollHeight - [...document.querySelectorAll(".sheets")].reduce((s, e) => s + e.offsetHeight, 0)`) / ((mm[1] - 2*margin) * perMM)
		sheets := evaluate[int](t, b, `document.querySelectorAll(".sheet").length`)
		pdf, err := chromedp.Run(b, chromedp.PrintToPDF(chromedp.PDFPrintBackground(), chromedp.PDFPaper(chromedp.PaperSize{Width: mm[0] / 25.4, Height: mm[1] / 25.4})))
		if err != nil {
			t.Fatal(err)
		}
		across, pages := 0, pdfBox.FindAllStringSubmatch(string(pdf), -1)
		for _, box := range pages {
			wide, _ := strconv.ParseFloat(box[1], 64)
			tall, _ := strconv.ParseFloat(box[2], 64)
			if wide > tall {
				across++
			}
		}
		t.Logf("%s: %d pages, %d of them across; %.1f pages of text and drawings, %d sheets", name, len(pages), across, needs, sheets)
		if !strings.HasPrefix(string(pdf), "%PDF-") || across != sheets || float64(len(pages)-across) < needs || float64(len(pages)-across) > 1.4*needs+2 {
			t.Errorf("%s: %d pages, %d of them across; %.1f pages of text and drawings, %d sheets", name, len(pages), across, needs, sheets)
		}
	}
	paper(t, b, "", "light")
}

// paper chooses the page's paper and the window's scheme, and shows what is printed where that is not light.
func paper(t *testing.T, b *browser, chosen, scheme string) {
	t.Helper()
	evaluate[bool](t, b, fmt.Sprintf(`(() => { const s = document.querySelector("select[data-paper]"); s.value = %q; s.dispatchEvent(new Event("change", {bubbles: true})); return true; })()`, chosen))
	media := ""
	if scheme == "dark" {
		media = "print"
	}
	if _, err := chromedp.Call(b, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: media,
		Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}}); err != nil {
		t.Fatal(err)
	}
}
