package language

import (
	"bytes"
	"slices"
	"strings"
	"unicode/utf8"
)

// Insert is the spec's text with further filters behind those of a way: each as a spec
// has it, without the dash, such as `peak: {at: 1 kHz, q: 2, gain: -3 dB}`. Everything else stays
// byte for byte. It is nil where the place cannot be found, or where what results does not
// read as the same spec with these filters.
func (s *Spec) Insert(way int, filters []string, lang Tables) []byte {
	e := editor{lines: strings.SplitAfter(string(s.Source), "\n"), filters: filters, end: "\n"}
	if bytes.Contains(s.Source, []byte("\r\n")) {
		e.end = "\r\n"
	}
	w := s.Ways[way]
	if !e.insert(s, w) {
		return nil
	}
	out := []byte(strings.Join(e.lines, ""))
	again, _ := Parse(s.File, out, lang)
	if again == nil || len(again.Ways) != len(s.Ways) {
		return nil
	}
	for i, x := range again.Ways {
		more := 0
		if i == way {
			more = len(filters)
		}
		old := s.Ways[i].Filters
		if len(x.Filters) != len(old)+more {
			return nil
		}
		for k, f := range old {
			if again.Says(x.Filters[k]) != s.Says(f) {
				return nil
			}
		}
	}
	for k, f := range again.Ways[way].Filters[len(w.Filters):] {
		if again.Says(f) != strings.Replace(filters[k], ":", "", 1) {
			return nil
		}
	}
	return out
}

// editor changes lines, each with its end.
type editor struct {
	lines   []string
	filters []string
	end     string
}

// insert finds the place by how the way is written.
func (e *editor) insert(s *Spec, w Way) bool {
	if n := len(w.Filters); n > 0 {
		last := w.Filters[n-1].Pos
		if strings.HasPrefix(strings.TrimLeft(e.lines[last.Line-1], " "), "-") {
			return e.behind(last.Line-1, indent(e.lines[last.Line-1]))
		}
		return e.before(last)
	}
	if s.Tree.Get("ways").Get(w.Name).Get("filters") != nil {
		return false // an empty list
	}
	line := w.Pos.Line - 1
	at := byteOf(e.lines[line], w.Pos.Col) + len(w.Name)
	if at > len(e.lines[line]) {
		return false
	}
	before, after := e.lines[line][:at], e.lines[line][at:]
	rest := strings.TrimLeft(after, ": ")
	if strings.HasPrefix(rest, "{") {
		comma := ", "
		if strings.HasPrefix(strings.TrimLeft(rest[1:], " "), "}") {
			comma = ""
		}
		e.lines[line] = before + after[:len(after)-len(rest)] + "{filters: [" + e.flow() + "]" + comma + rest[1:]
		return true
	}
	if text := strings.TrimSpace(rest); text != "" && !strings.HasPrefix(text, "#") {
		return false
	}
	own := indent(e.lines[line])
	inner := own + 2
	for _, l := range e.lines[line+1:] {
		if says(l) {
			if n := indent(l); n > own {
				inner = n
			}
			break
		}
	}
	e.whole(line)
	e.lines = slices.Insert(e.lines, line+1, strings.Repeat(" ", inner)+"filters:"+e.end)
	e.put(line+2, inner+2)
	return true
}

// behind puts the filters behind the one that begins on a line, in a list of lines with
// dashes that are so far in.
func (e *editor) behind(line, dash int) bool {
	last := line
	for i := line + 1; i < len(e.lines); i++ {
		if !says(e.lines[i]) {
			continue
		}
		if indent(e.lines[i]) <= dash {
			break
		}
		last = i
	}
	e.whole(last)
	e.put(last+1, dash)
	return true
}

// before puts the filters before the end of a list in brackets.
func (e *editor) before(last Pos) bool {
	line, at, depth := last.Line-1, 0, 0
	at = byteOf(e.lines[line], last.Col)
	for ; line < len(e.lines); line, at = line+1, 0 {
		for i := at; i < len(e.lines[line]); i++ {
			switch e.lines[line][i] {
			case '{', '[':
				depth++
			case '}':
				depth--
			case ']':
				if depth <= 0 {
					e.lines[line] = e.lines[line][:i] + ", " + e.flow() + e.lines[line][i:]
					return true
				}
				depth--
			case '#', '"', '\'':
				return false // what stands in comments and quotes is not looked at
			}
		}
	}
	return false
}

func (e *editor) flow() string { return "{" + strings.Join(e.filters, "}, {") + "}" }

// put adds the filters as lines before one.
func (e *editor) put(line, dash int) {
	var out []string
	for _, f := range e.filters {
		out = append(out, strings.Repeat(" ", dash)+"- "+f+e.end)
	}
	e.lines = slices.Insert(e.lines, line, out...)
}

// whole ends a line that is the file's last and has no end.
func (e *editor) whole(line int) {
	if !strings.HasSuffix(e.lines[line], "\n") {
		e.lines[line] += e.end
	}
}

// says is whether a line has more than spaces and a comment.
func says(line string) bool {
	t := strings.TrimSpace(line)
	return t != "" && !strings.HasPrefix(t, "#")
}

func indent(line string) int { return len(line) - len(strings.TrimLeft(line, " ")) }

// byteOf is the byte at which a column counted in runes from 1 begins.
func byteOf(line string, col int) int {
	line = strings.TrimPrefix(line, string(bom))
	at := 0
	for i := 1; i < col && at < len(line); i++ {
		_, n := utf8.DecodeRuneInString(line[at:])
		at += n
	}
	return at
}
