package result

import (
	"fmt"
	"math"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler"
)

// BoardTable is the response of every way of the board, its op-amps included,
// in the default and with each choice alone of the settings that the way
// depends on.
type BoardTable struct {
	Hz   []float64  `json:"hz"` // a third of an octave apart about 1 kHz, and both ends of the band
	Rows []TableRow `json:"rows"`
}

// boardTable analyses a build's board, which must have one. Only its first and
// last frequency, the ends of the band, hang on the spec: another band leaves all
// others comparable.
func boardTable(b *compiler.Build) *BoardTable {
	const middleHz = 1000
	t := &BoardTable{Rows: []TableRow{}}
	lo, hi := digits(b.Promises.LowHz, 5), digits(b.Promises.HighHz, 5)
	t.Hz = append(t.Hz, lo)
	for i := int(math.Floor(tablePerOctave * math.Log2(lo/middleHz))); ; i++ {
		f := digits(middleHz*math.Exp2(float64(i)/tablePerOctave), 5)
		if f >= hi {
			break
		}
		if f > lo {
			t.Hz = append(t.Hz, f)
		}
	}
	t.Hz = append(t.Hz, hi)
	solved := map[string][][]complex128{}
	on := b.Board.On(t.Hz)
	for k, w := range b.Board.Ways {
		used := map[int]bool{}
		for _, c := range [][]int{b.Board.Common.Settings(), w.Settings()} {
			for _, s := range c {
				used[s] = true
			}
		}
		var axes []Setting
		for i, s := range b.Settings {
			if used[i] {
				axes = append(axes, Setting(s))
			}
		}
		for _, m := range singly(axes) {
			combo := make(biquad.Combination, len(b.Settings))
			for i, s := range b.Settings {
				if choice, ok := m[s.Name]; ok {
					combo[i] = uint8(slices.Index(s.Choices, choice))
				}
			}
			h, known := solved[string(combo)]
			if !known {
				for j := range b.Board.Ways {
					h = append(h, make([]complex128, len(t.Hz)))
					on.Response(h[j], j, combo)
				}
				solved[string(combo)] = h
			}
			t.Rows = append(t.Rows, tableRow(w.Name, m, t.Hz, h[k], b.Board.CommonDelayS()))
		}
	}
	return t
}

// tableRow writes a response as a row, lateS (s) taken out.
func tableRow(way string, setting map[string]string, hz []float64, h []complex128, lateS float64) TableRow {
	row := TableRow{Way: way, Setting: setting}
	for i, v := range h {
		late := biquad.Delay(hz[i], lateS)
		v *= complex(real(late), -imag(late))
		db, deg := math.Max(tableFloorDB, biquad.DB(v)), math.Atan2(imag(v), real(v))*180/math.Pi
		if db == tableFloorDB {
			deg = 0
		}
		row.DB, row.Deg = append(row.DB, step(db, 1000)), append(row.Deg, step(deg, 100))
	}
	return row
}

// check says what of a table cannot be evaluated.
func (t *BoardTable) check() error {
	const most = 1000 // dB or deg, beyond any circuit: powers of it stay numbers
	last := 0.0
	for _, f := range t.Hz {
		if !(f > last) || f > 1e9 {
			return fmt.Errorf("the table of the board needs frequencies that rise")
		}
		last = f
	}
	for _, r := range t.Rows {
		if len(r.DB) != len(t.Hz) || len(r.Deg) != len(t.Hz) {
			return fmt.Errorf("the table of the board has a row of %s that does not fit its frequencies", r.Way)
		}
		for _, x := range slices.Concat(r.DB, r.Deg) {
			if !(math.Abs(x) <= most) {
				return fmt.Errorf("the table of the board has %g for %s, which no circuit gives", x, r.Way)
			}
		}
	}
	return nil
}

// ways are the ways of a table in its order.
func (t *BoardTable) ways() (out []string) {
	for _, r := range t.Rows {
		if !slices.Contains(out, r.Way) {
			out = append(out, r.Way)
		}
	}
	return out
}

// row is a way's in a combination by name, nil where the table has none.
func (t *BoardTable) row(way string, names map[string]string) *TableRow {
	for i, r := range t.Rows {
		fits := r.Way == way
		for s, choice := range r.Setting {
			fits = fits && names[s] == choice
		}
		if fits {
			return &t.Rows[i]
		}
	}
	return nil
}

// sheet is the table at hz, which it has, in combinations that it has.
func (t *BoardTable) sheet(ways []string, hz []float64, combos []map[string]string) *sheet {
	s := &sheet{ways: ways, late: make([]float64, len(ways)), sign: make([]float64, len(ways))}
	for i := range s.sign {
		s.sign[i] = 1
	}
	for _, names := range combos {
		var rows [][]complex128
		for _, way := range ways {
			r := t.row(way, names)
			h := make([]complex128, len(hz))
			for i, f := range hz {
				at := slices.Index(t.Hz, f)
				sin, cos := math.Sincos(r.Deg[at] * math.Pi / 180)
				size := biquad.FromDB(r.DB[at])
				h[i] = complex(size*cos, size*sin)
			}
			rows = append(rows, h)
		}
		s.h = append(s.h, rows)
	}
	return s
}

// boardLeastDB is the least change of a board's response that is told (dB):
// parts of 1 % move it further.
const boardLeastDB = 0.01

// board adds what the board's response changed beside the prototype: beyond
// the tolerances as a regression, within them as it is.
func (c *comparison) board() {
	if c.old.Board == nil || c.new.Board == nil {
		return
	}
	o, n := c.old.Board.Response, c.new.Board.Response
	if o == nil && n == nil {
		return
	}
	sub := *c
	var ways []string
	if o != nil && n != nil {
		for _, w := range n.ways() {
			if slices.Contains(o.ways(), w) {
				ways = append(ways, w)
			}
		}
		sub.shared(o, n, ways)
	}
	if len(ways) == 0 || len(sub.hz) == 0 || len(sub.combos) == 0 {
		c.add(Change{Kind: OfPart, Sentence: "the board's responses cannot be compared: the two results have no table of it with a way, frequency and setting in common"})
		return
	}
	if c.a != nil {
		sub.a, sub.b = ideal(c.from, sub.hz, sub.combos), ideal(c.to, sub.hz, sub.combos)
	}
	paths, why := c.fits()
	for _, x := range sub.realised(&sub.scope, o.sheet(ways, sub.hz, sub.oldNames), n.sheet(ways, sub.hz, sub.newNames)) {
		beyond := c.tol.beyond(x)
		if !beyond && math.Abs(x.db) < boardLeastDB {
			continue
		}
		text := sub.level(x)
		if beyond && math.Max(x.most, math.Abs(x.db)) <= c.tol.MagnitudeDB {
			text = fmt.Sprintf("%+.1f deg at %s", x.deg, hertz(x.degHz))
		}
		beside := ""
		if c.a != nil && slices.ContainsFunc(c.edits, func(e edit) bool { return !e.dull }) {
			beside = ", beside what the spec changes"
		}
		c.add(Change{Kind: OfRealisation, Way: x.way, DB: x.db, AtHz: x.hz, Setting: sub.choices(x.combo), Causes: paths, Beyond: beyond,
			Sentence: fmt.Sprintf("%s: %s on the board%s, %s", x.way, text, beside, why)})
	}
}

// shared leaves the frequencies and combinations that both tables have.
func (c *comparison) shared(o, n *BoardTable, ways []string) {
	c.hz = nil
	for _, f := range n.Hz {
		if slices.Contains(o.Hz, f) {
			c.hz = append(c.hz, f)
		}
	}
	all := *c
	c.combos, c.oldNames, c.newNames = nil, nil, nil
	for k := range all.combos {
		there := true
		for _, w := range ways {
			there = there && o.row(w, all.oldNames[k]) != nil && n.row(w, all.newNames[k]) != nil
		}
		if !there && k == 0 {
			return // the rest is told as what it has beside the default
		}
		if there {
			c.combos = append(c.combos, all.combos[k])
			c.oldNames, c.newNames = append(c.oldNames, all.oldNames[k]), append(c.newNames, all.newNames[k])
		}
	}
}

// fits names what can have changed a board: the lines of the spec that it is
// chosen by, the filters, or Bandwright itself.
func (c *comparison) fits() (paths []string, text string) {
	if c.a == nil {
		return nil, "the cause cannot be traced without both specs"
	}
	var said []string
	filters := false
	for _, e := range c.edits {
		filters = filters || !e.dull
		if e.fits() {
			paths, said = append(paths, e.path), append(said, e.said)
		}
	}
	if filters {
		said = append(said, "the changed filters are built anew")
	}
	return paths, becauseOf(said)
}
