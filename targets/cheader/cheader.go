// Package cheader prints the C headers for firmware: one a number format, with
// the coefficient tables, the filters, the settings and the state in one file
// that C99 and C++17 compile without a warning. A finished Build comes in,
// files go out; the arithmetic of the printed kernel is number.Machine's, bit
// for bit, and that is the one invariant.
//
// Read first: header.h.tmpl, then Emit. What is computed and in which types is
// the number format's: kernel.go prints it.
package cheader

import (
	"bytes"
	_ "embed"
	"fmt"
	"text/template"

	"bandwright/biquad/number"
	"bandwright/compiler"
)

var (
	//go:embed header.h.tmpl
	headerSource string
	//go:embed code.c.tmpl
	codeSource string
	//go:embed lanes.c.tmpl
	lanesSource string
	//go:embed singly.c.tmpl
	singlySource string
	//go:embed single.c.tmpl
	sampleSource string
	//go:embed whole.c.tmpl
	wholeSource string
	//go:embed moves.c.tmpl
	movesSource string
)

func page(name, source string) *template.Template {
	return template.Must(template.New(name).Funcs(template.FuncMap{
		"inc":  func(i int) int { return i + 1 },
		"fold": fold,
	}).Parse(source))
}

var (
	headerPage = page("header.h", headerSource)
	codePage   = assembled(page("code.c", codeSource), map[string]string{"lanes": lanesSource, "singly": singlySource, "sample": sampleSource, "whole": wholeSource, "moves": movesSource})
)

// assembled adds templates by name.
func assembled(page *template.Template, sources map[string]string) *template.Template {
	for name, s := range sources {
		template.Must(page.New(name).Parse(s))
	}
	return page
}

// Emit makes a header, NAME_FORMAT.h, and the tables and code, NAME_FORMAT.c,
// for every number format that the spec asked for, in the order of
// number.Formats. An error says which C names collide: those that Names finds.
func Emit(b *compiler.Build) ([]compiler.File, error) {
	var files []compiler.File
	for _, f := range number.Formats {
		made := inFormat(b, f)
		if len(made) == 0 {
			continue
		}
		for i := range made {
			made[i].System = number.Arranged(made[i].System)
		}
		h, err := newHeader(b, made)
		if err != nil {
			return nil, err
		}
		var texts [2]bytes.Buffer
		for i, page := range []*template.Template{headerPage, codePage} {
			if err := page.Execute(&texts[i], h); err != nil {
				return nil, fmt.Errorf("%s: %w", h.File, err)
			}
		}
		settled := h.names.Settle(texts[0].Bytes(), texts[1].Bytes())
		files = append(files, compiler.File{Name: h.File + ".h", Data: settled[0]}, compiler.File{Name: h.File + ".c", Data: settled[1]})
	}
	return files, nil
}

// inFormat are the realisations in the words of a format that the spec asks for.
func inFormat(b *compiler.Build, f number.Format) []compiler.Digital {
	var made []compiler.Digital
	for _, d := range b.Digital {
		if d.Asked && d.Format.Name == f.Name {
			made = append(made, d)
		}
	}
	return made
}
