package language

import (
	"fmt"
	"io/fs"
	"path"
	"slices"
	"strings"
	"unicode"
)

// Input is a file that the spec names. The parser opens nothing: whoever may read
// files fills in Text.
type Input struct {
	Name string // slash-separated, below the spec's own folder; "" where the spec names none
	Pos  Pos    // of the name
	Text []byte // what the file holds; nil until it was read
}

// input is the file that a value names.
func input(v *Value) Input {
	if v == nil {
		return Input{}
	}
	return Input{Name: v.Word, Pos: v.Pos}
}

// Inputs are the files that the spec names, in the order of the language.
func (s *Spec) Inputs() []*Input {
	var out []*Input
	if s.Board != nil {
		out = []*Input{&s.Board.Held, &s.Board.Resistors.File, &s.Board.Capacitors.File}
	}
	for i := range s.Ways {
		if d := s.Ways[i].Driver; d != nil {
			out = append(out, &d.Response)
		}
	}
	return slices.DeleteFunc(out, func(in *Input) bool { return in.Name == "" })
}

// Beside is how the file of a name in the spec is called where the spec's own is
// called by its File: in the same folder, or below it.
func (s *Spec) Beside(name string) string {
	return s.File[:strings.LastIndexAny(s.File, `/\:`)+1] + name
}

// maxPath is the longest name of a file, in characters.
const maxPath = 200

// fileName checks the name of a file that the spec names.
func (w *walker) fileName(v *Value, t *Type, h holder) *Value {
	s := v.Text
	example := "write the file's name as it is seen from the spec's own folder"
	if h.key != "" && h.example != "" {
		example += ", such as " + code(h.key+": "+h.example)
	}
	odd := strings.IndexFunc(s, func(c rune) bool { return !unicode.IsGraphic(c) || c == unicode.ReplacementChar })
	slashed := strings.ReplaceAll(s, `\`, "/")
	clean := path.Clean(slashed)
	switch {
	case odd >= 0 || len([]rune(s)) > maxPath || strings.TrimSpace(s) != s || s == "":
		w.fault(v.Pos, fmt.Sprintf("%s is not the name of a file", quoted(s)), example)
	case strings.HasPrefix(slashed, "/") || clean == ".." || strings.HasPrefix(clean, "../") || len(s) > 1 && s[1] == ':':
		w.fault(v.Pos, fmt.Sprintf("the file %s is not in the spec's own folder or below it", quoted(s)),
			"put the file there, so that spec and file stay together, and write "+code(h.key+": "+path.Base(slashed)))
	case !slices.Contains(t.Files, path.Ext(s)):
		w.fault(v.Pos, fmt.Sprintf("%s is not the name of a file that ends in %s", quoted(s), list(ticked(t.Files), "or")), "save it as such a file, and write "+code(h.key+": "+strings.TrimSuffix(clean, path.Ext(clean))+t.Files[0]))
	case !fs.ValidPath(s) || slashed != s:
		w.fault(v.Pos, fmt.Sprintf("%s is not how a spec writes the name of a file", quoted(s)), "write "+code(clean))
	default:
		v.Word = s
		return v
	}
	return nil
}
