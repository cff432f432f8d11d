// Package page emits report.html, the error report that people look at: one file that needs
// nothing beside it. The verdict comes first, then what every promise came to, then
// each way as it was wanted and as it was built, on one frequency axis. A finished Build goes in.
// The one invariant: every figure is one of NAME.json, and says which; every curve is
// what the words and parts in NAME.json give.
//
// Read first: Emit, Chapters.
package page

import (
	"bytes"
	_ "embed"
	"encoding/json"
	"fmt"
	"html/template"
	"strconv"
	"strings"
	"sync"

	"bandwright/compiler"
	"bandwright/compiler/picture"
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
	timeChapter,
	digitalChapter,
	boardChapter,
	levelsChapter,
	spreadChapter,
	driversChapter,
	changesChapter,
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
	times []moments // as of allMoments
	board []answers // as of boardAnswers
	inner [][]inner // as of along, of the first digital realisation
	about string    // of a comparison: what its drawings are of
	// Of pages of anything else than a build: what is read out of the two things that are drawn, where figures and
	// findings stand in what the page's figures are of, and what is promised of a quantity.
	sides                 [2]string
	places, checks        []string
	promised              func(*verify.Quantity) float64
	worstHead, judgedOver string // of tables of worst figures, and below that of promises
	// What the script has of lines at places of their own.
	owns   []packedOwn
	lists  []string
	listed map[string]int
	since  *since                          // nil where nothing is compared with
	sheets func() ([]picture.Sheet, error) // of the schematic
}

//go:embed look.css
var look string

//go:embed runs.js
var runs string

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

// pageView is a page as its skeleton has it.
type pageView struct {
	Name, Title, Revision string
	Kept                  bool
	Verdict               string
	Foot                  template.HTML
	First                 template.HTML
	Settings              []settingView
	Made                  []string // digital realisations to choose from
	MadeAs                string   // before their list
	Chapters              []chapterView
	Look                  template.CSS
	Act, Data             template.JS
}

// settings offers the choices that a paper's drawings depend on.
func (v *pageView) settings(p *Paper) {
	v.MadeAs = "digital at"
	for i, s := range p.Settings {
		v.Settings = append(v.Settings, settingView{i, s.Name, s.Choices})
	}
	for _, m := range p.curves.made {
		if !m.board {
			v.Made = append(v.Made, m.short)
		}
	}
}

// render is the whole page; p is nil of one without drawings.
func (v *pageView) render(p *Paper) ([]byte, error) {
	v.Look, v.Act = template.CSS(look), template.JS(runs+act)
	if p != nil && p.sides[0] != "" { // what is read out are the two sides of a comparison
		v.Act = template.JS(strings.NewReplacer(`"wanted"`, strconv.Quote(p.sides[0]), `"digital"`, strconv.Quote(p.sides[1])).Replace(runs + act))
	}
	if p == nil {
		p = &Paper{Build: &compiler.Build{}, curves: &curves{}}
	}
	data, err := json.Marshal(p.data())
	if err != nil {
		return nil, err
	}
	v.Data = template.JS(data)
	var out bytes.Buffer
	err = whole.Execute(&out, v)
	return out.Bytes(), err
}

// Emit is report.html.
func Emit(b *compiler.Build) ([]compiler.File, error) {
	p := &Paper{Build: b, verdict: verify.VerdictOn(b.Findings), sheets: sync.OnceValues(func() ([]picture.Sheet, error) { return picture.Sheets(b) })}
	if b.Board != nil {
		go p.sheets() // drawn beside the rest
	}
	if err := p.compared(); err != nil {
		return nil, err
	}
	v := pageView{Name: b.Spec.Name, Title: b.Spec.Title, Revision: b.Spec.Revision, Kept: verify.Kept(b.Findings), Verdict: sentence(p.verdict.String()), First: first(p),
		Foot: template.HTML(fmt.Sprintf("Spec <code>%s</code>. Every figure here%s stands in %s.json too, and every curve follows from the words and parts in it.", b.SHA256, p.except(), b.Spec.Name))}
	if v.Title == "" {
		v.Title = v.Name
	}
	v.settings(p)
	for _, c := range Chapters {
		if says := c.Says(p); says != "" {
			v.Chapters = append(v.Chapters, chapterView{c.Name, c.Title, says, c.Body(p)})
		}
	}
	data, err := v.render(p)
	return []compiler.File{{Name: "report.html", Data: data}}, err
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
