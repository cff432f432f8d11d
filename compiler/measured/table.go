package measured

import (
	"bytes"
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"

	"bandwright/compiler/language"
	"bandwright/compiler/words"
)

// Limits of a table: what no measurement exceeds.
const (
	leastPoints = 10
	widestGap   = 1.0 // octaves between neighbours
	leastHz     = 0.1
	mostHz      = 1e6
	leastSpan   = 1.0 // octaves
	mostDB      = 400
	mostDegrees = 1e7
	mostFaults  = 5
)

// reader collects the faults of a file.
type reader struct {
	file   string
	lines  []string
	faults []language.Fault
}

// fault notes an error at a place; line 0 is the file as a whole.
func (r *reader) fault(at language.Pos, message, right string) {
	line := ""
	if at.Line > 0 {
		line = r.lines[at.Line-1]
	}
	r.faults = append(r.faults, language.Fault{File: r.file, Pos: at, Line: line, Message: message, Right: right})
}

// field is a number's text and where it stands.
type field struct {
	text string
	at   language.Pos
}

// row is a line of a table that was understood.
type row struct {
	at           []language.Pos // of each number
	f, db, phase float64
}

// table reads a table. What it returns means something only where there is no fault.
func (r *reader) table(data []byte) *Response {
	out := &Response{file: r.file}
	if !r.split(data) {
		return out
	}
	rows, columns := r.rows()
	if len(rows) > 0 && rows[0].f == 0 {
		rows = rows[1:]
		out.note("%s begins at 0 Hz, which has no place on a logarithmic scale: that line is left out", r.file)
	}
	if len(r.faults) > 0 || !r.enough(rows) {
		return out
	}
	out.phased = columns == 3
	var rad []float64
	if out.phased {
		rad = r.unwrapped(rows)
	}
	for i, w := range rows {
		p := point{ln: math.Log(w.f), db: w.db}
		if rad != nil {
			p.rad = rad[i]
		}
		out.points = append(out.points, p)
	}
	return out
}

// split takes the text apart into lines.
func (r *reader) split(data []byte) bool {
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	text := strings.ReplaceAll(string(data), "\r\n", "\n")
	text = strings.ReplaceAll(text, "\r", "\n")
	raw := strings.Split(text, "\n")
	for _, l := range raw {
		r.lines = append(r.lines, strings.ToValidUTF8(l, "\ufffd"))
	}
	for i, l := range r.lines {
		if col := strings.IndexRune(l, 0); col >= 0 {
			r.fault(language.Pos{Line: i + 1, Col: utf8.RuneCountInString(l[:col]) + 1}, "a NUL character: this is no text file",
				"a measured response is a table in UTF-8 text (Hz, dB and, where known, degrees), or a WAV file with an impulse response")
			return false
		}
	}
	return true
}

// fields takes a line apart: between numbers stand a comma, spaces or tabs.
func fields(text string, line int) []field {
	text, _, _ = strings.Cut(text, "#")
	var out []field
	col, start, from := 0, 0, -1
	open := false // a comma stands before, and no number yet behind it
	end := func(to int) {
		if from >= 0 {
			out = append(out, field{text[from:to], language.Pos{Line: line, Col: start}})
			from, open = -1, false
		}
	}
	for i, c := range text {
		col++
		switch {
		case c == ',':
			if from < 0 && (open || len(out) == 0) {
				out = append(out, field{"", language.Pos{Line: line, Col: col}})
			}
			end(i)
			open = true
		case c == ' ' || c == '\t' || c == '\u00a0':
			end(i)
		case from < 0:
			from, start = i, col
		}
	}
	end(len(text))
	return out
}

// rows reads all lines.
func (r *reader) rows() (rows []row, columns int) {
	for i, text := range r.lines {
		if len(r.faults) >= mostFaults {
			break
		}
		f := fields(text, i+1)
		if len(f) == 0 {
			continue
		}
		w, ok := r.row(f)
		if !ok {
			continue
		}
		switch {
		case columns == 0:
			columns = len(f)
		case len(f) != columns:
			r.fault(f[0].at, fmt.Sprintf("this line has %s, the ones before it %d", words.Count(len(f), "number", "numbers"), columns),
				"write on every line Hz and dB, or Hz, dB and degrees")
			continue
		}
		if w.f < leastHz && (w.f != 0 || len(rows) > 0) || w.f > mostHz {
			r.fault(f[0].at, fmt.Sprintf("%s Hz is no frequency", words.Short(w.f)), "the first number of a line is the frequency in Hz, 0.1 Hz to 1 MHz")
			continue
		}
		if n := len(rows); n > 0 && w.f <= rows[n-1].f {
			r.order(f[0].at, w.f, rows[n-1])
			continue
		}
		rows = append(rows, w)
	}
	return rows, columns
}

// order says what is wrong with a frequency that is not above the one before it.
func (r *reader) order(at language.Pos, f float64, before row) {
	if f == before.f {
		r.fault(at, fmt.Sprintf("%s is there twice", words.Hz(f)), fmt.Sprintf("the first is on line %d: keep one of them", before.at[0].Line))
		return
	}
	r.fault(at, fmt.Sprintf("%s stands behind %s: frequencies have to ascend", words.Hz(f), words.Hz(before.f)), "sort the lines by their first number")
}

// row reads the numbers of a line.
func (r *reader) row(f []field) (row, bool) {
	var v [3]float64
	before := len(r.faults)
	var w row
	for i, part := range f {
		if i == 3 {
			r.fault(part.at, fmt.Sprintf("this line has %d numbers; Hz, dB and degrees are read", len(f)), "remove the further columns; write a decimal point, no decimal comma")
			return w, false
		}
		x, err := strconv.ParseFloat(part.text, 64)
		if err != nil || math.IsNaN(x) || math.IsInf(x, 0) || strings.ContainsAny(part.text, "xXpP_") {
			r.notANumber(part)
			return w, false
		}
		v[i], w.at = x, append(w.at, part.at)
	}
	switch {
	case len(f) == 1:
		r.fault(f[0].at, "this line has a frequency and no level", "write Hz, dB and, where known, degrees on every line, between them a comma, a tab or spaces")
	case math.Abs(v[1]) > mostDB:
		r.fault(f[1].at, fmt.Sprintf("a level of %s dB", words.Short(v[1])), fmt.Sprintf("the second number of a line is the level in dB, within ±%d", mostDB))
	case math.Abs(v[2]) > mostDegrees:
		r.fault(f[2].at, fmt.Sprintf("a phase of %s degrees", words.Short(v[2])), "the third number of a line is the phase in degrees")
	}
	w.f, w.db, w.phase = v[0], v[1], v[2]
	return w, len(r.faults) == before
}

// notANumber says what may have been meant.
func (r *reader) notANumber(f field) {
	right := "put # in front of lines that are no data"
	switch {
	case f.text == "":
		r.fault(f.at, "no number in front of the comma", "write Hz, dB and, where known, degrees on every line")
		return
	case strings.Contains(f.text, ";"):
		right = "separate numbers by commas, tabs or spaces, not by semicolons, and write decimal points"
	case strings.EqualFold(f.text, "nan") || strings.HasSuffix(strings.ToLower(f.text), "inf"):
		right = "leave lines out where nothing was measured"
	}
	text := f.text
	if runes := []rune(text); len(runes) > 40 {
		text = string(runes[:40]) + "…"
	}
	text = strings.Map(func(c rune) rune {
		if !strconv.IsGraphic(c) || c == '`' {
			return '·'
		}
		return c
	}, text)
	r.fault(f.at, fmt.Sprintf("`%s` is not a number", text), right)
}

// enough refuses a table that is too short or has holes.
func (r *reader) enough(rows []row) bool {
	if len(rows) < leastPoints {
		at := language.Pos{}
		if len(rows) > 0 {
			at = rows[len(rows)-1].at[0]
		}
		r.fault(at, fmt.Sprintf("the table has %s, fewer than %d", words.Count(len(rows), "frequency", "frequencies"), leastPoints),
			"measure at more: 24 an octave show what a loudspeaker does")
		return false
	}
	first, last := rows[0], rows[len(rows)-1]
	if math.Log2(last.f/first.f) < leastSpan {
		r.fault(last.at[0], fmt.Sprintf("the table reaches from %s to %s, less than an octave", words.Hz(first.f), words.Hz(last.f)), "measure over the whole range in which a way is heard")
		return false
	}
	for i, w := range rows[1:] {
		if math.Log2(w.f/rows[i].f) > widestGap {
			r.fault(w.at[0], fmt.Sprintf("nothing was measured between %s and %s", words.Hz(rows[i].f), words.Hz(w.f)),
				"no gap may be wider than an octave: 24 frequencies an octave show what a loudspeaker does")
			return false
		}
	}
	return true
}

// unwrapped is the phase of each row in radians, without jumps. Phases that stay within
// 360 degrees are wrapped: the shorter way around is taken; others run on by themselves.
// Steps of nearly half a turn, one after the other in one direction, may as well be steps in the
// other: such a table is refused.
func (r *reader) unwrapped(rows []row) []float64 {
	least, most := rows[0].phase, rows[0].phase
	for _, w := range rows {
		least, most = min(least, w.phase), max(most, w.phase)
	}
	const turn = 360.0
	wrapped := most-least <= turn+0.01
	if r.radians(rows, least, most) {
		return nil
	}
	out := []float64{rows[0].phase}
	const doubt = 150.0 // degrees
	due := 0.0          // degrees a Hz, of the step before
	doubtful := 0       // how many steps there were so far, one after the other, that were to be that large
	for i, w := range rows[1:] {
		step := w.phase - rows[i].phase
		if !wrapped && math.Abs(step) > turn/2+1e-6 {
			r.fault(w.at[2], fmt.Sprintf("the phase jumps by %s degrees from %s to %s", words.Three(step), words.Hz(rows[i].f), words.Hz(w.f)),
				"phases are either wrapped, all within ±180 or 0 to 360 degrees, or run on without jumps")
			return nil
		}
		step = math.Remainder(step, turn)
		if math.Abs(due*(w.f-rows[i].f)) > doubt || math.Abs(step) > doubt {
			doubtful++
		} else {
			doubtful = 0
		}
		due = step / (w.f - rows[i].f)
		if doubtful == 3 {
			r.fault(w.at[2], fmt.Sprintf("the phase turns by %s degrees from %s to %s, and as far before: nobody can tell in which direction", words.Three(math.Abs(step)), words.Hz(rows[i].f), words.Hz(w.f)),
				"write the table with more frequencies, or take the time that the sound travels out of it")
			return nil
		}
		out = append(out, out[i]+step)
	}
	for i := range out {
		out[i] *= math.Pi / 180
	}
	return out
}

// radians refuses phases that are wrapped at ±π: they are no degrees.
func (r *reader) radians(rows []row, least, most float64) bool {
	if least < -math.Pi-0.001 || most > math.Pi+0.001 {
		return false
	}
	for i, w := range rows[1:] {
		if math.Abs(w.phase-rows[i].phase) > 1.6*math.Pi {
			r.fault(w.at[2], fmt.Sprintf("the phase jumps by %s, all of it stays within ±π: it seems to be in radians", words.Three(w.phase-rows[i].phase)), "write the phase in degrees")
			return true
		}
	}
	return false
}
