// Package page emits report.html, the error report that people look at: one file that needs
// nothing beside it. The verdict comes first, then what every promise came to, then
// each way as it was wanted and as it was built, on one frequency axis. A finished Build goes in.
// The one invariant: every figure is one of NAME.json, and says which; every curve is
// what the words and parts in NAME.json give.
//
// Read first: Emit, Chapters.
package page

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"html/template"
	"strings"

	"bandwright/compiler"
	"bandwright/compiler/verify"
)

// Chapter is one row of the table: one part of the page.
type Chapter struct {
	Name  string // of its place in the page
	Title string
	// Says is what the chapter would say if it stood alone, in one line; "" of a build that
	// has nothing of it.
	Says func(*Paper) string
	// Body is what stands below that line.
	Body func(*Paper) template.HTML
}

// Chapters are all parts of the page, in their order.
var Chapters = []Chapter{
	promisesChapter,
	magnitudeChapter,
	errorChapter,
	phaseChapter,
	delayChapter,
	sumChapter,
	digitalChapter,
	boardChapter,
	levelsChapter,
	spreadChapter,
	cautionsChapter,
}

// Paper is a build with its curves: what chapters are written on.
type Paper struct {
	*compiler.Build
	verdict verify.Verdict
	curves  *curves
	// fig counts the drawings, so that the names inside of them differ.
	fig   int
	peaks []float64 // as of peak
}

//go:embed look.css
var look string

//go:embed act.js
var act string

// chapterView is a chapter as the template has it.
type chapterView struct {
	Name, Title, Says string
	Body              template.HTML
}

// settingView is a setting as the template has it.
type settingView struct {
	Index   int
	Name    string
	Choices []string
}

// Emit is report.html.
func Emit(b *compiler.Build) ([]compiler.File, error) {
	p := &Paper{Build: b, verdict: verify.VerdictOn(b.Findings), curves: curvesOf(b)}
	view := struct {
		Name, Title, Revision, SHA256 string
		Kept                          bool
		Verdict                       string
		First                         template.HTML
		Settings                      []settingView
		Made                          []string // digital realisations to choose from
		Chapters                      []chapterView
		Look                          template.CSS
		Act, Data                     template.JS
	}{
		Name: b.Spec.Name, Title: b.Spec.Title, Revision: b.Spec.Revision, SHA256: b.SHA256,
		Kept: verify.Kept(b.Findings), Verdict: sentence(p.verdict.String()), First: first(p),
		Look: template.CSS(look), Act: template.JS(act),
	}
	if view.Title == "" {
		view.Title = view.Name
	}
	for i, s := range b.Settings {
		view.Settings = append(view.Settings, settingView{i, s.Name, s.Choices})
	}
	for _, m := range p.curves.made {
		if !m.board {
			view.Made = append(view.Made, m.short)
		}
	}
	for _, c := range Chapters {
		if says := c.Says(p); says != "" {
			view.Chapters = append(view.Chapters, chapterView{c.Name, c.Title, says, c.Body(p)})
		}
	}
	data, err := json.Marshal(p.data())
	if err != nil {
		return nil, err
	}
	view.Data = template.JS(data)
	var out strings.Builder
	if err := whole.Execute(&out, view); err != nil {
		return nil, err
	}
	return []compiler.File{{Name: "report.html", Data: []byte(out.String())}}, nil
}

// sentence is the verdict as a page says it: "Kept: all 14 promises hold, in 97 checks."
func sentence(s string) string {
	word, rest, _ := strings.Cut(s, ":")
	return word[:1] + strings.ToLower(word[1:]) + ":" + rest + "."
}

//go:embed page.html
var skeleton string

var whole = template.Must(template.New("page").Parse(skeleton))

// markup renders a template of a chapter. The templates are fixed and what they are given
// is ours: an error is a mistake in the chapter.
func markup(t *template.Template, data any) template.HTML {
	var out strings.Builder
	if err := t.Execute(&out, data); err != nil {
		panic(fmt.Sprintf("page: %v", err))
	}
	return template.HTML(out.String())
}

// parsed is a chapter's template. A table that is wider than the window scrolls, with keys as well.
func parsed(text string) *template.Template {
	text = strings.ReplaceAll(text, `<div class="wide">`, `<div class="wide" tabindex="0" role="group" aria-label="table">`)
	return template.Must(template.New("chapter").Parse(text))
}
