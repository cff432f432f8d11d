package drawing

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"bandwright/compiler/board"
	"bandwright/compiler/netlist"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// drawer draws one board.
type drawer struct {
	board    *board.Board
	settings []verify.Setting
	units    map[string]unit // of op-amps, by reference
	// terminals counts those of each block.
	terminals map[int]int
}

// Draw makes the sheets of a board: the input and the common stages, every way, and
// the supply. settings are the spec's. An error is a fault of a layout, not of the spec.
func Draw(b *board.Board, settings []verify.Setting) ([]Sheet, error) {
	d := &drawer{board: b, settings: settings, units: map[string]unit{}, terminals: map[int]int{}}
	for _, p := range b.Packages {
		for i, ref := range p.All() {
			d.units[ref] = unit{p.Ref, i, len(p.Units) + len(p.Spare)}
		}
	}
	common, err := d.common()
	if err != nil {
		return nil, err
	}
	out := []Sheet{{Name: d.page("common"), Title: "Input and common stages"}}
	blocks := [][]block{common}
	for i := range b.Ways {
		w := &b.Ways[i]
		own, err := d.way(w)
		if err != nil {
			return nil, err
		}
		out = append(out, Sheet{Name: w.Name, Way: w.Name, Title: "Way " + w.Name})
		blocks = append(blocks, own)
	}
	out = append(out, Sheet{Name: d.page("supply"), Title: "Supply, decoupling and spare op-amps"})
	blocks = append(blocks, d.supply())
	names := map[string]bool{}
	for i := range out {
		for names[out[i].Name] { // a way may be called as another sheet is
			out[i].Name += "_way"
		}
		names[out[i].Name] = true
		out[i].fill(blocks[i])
		if err := out[i].connect(); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// page is the name of a sheet that shows no way. Ways may be called the same; no name of
// one has a _.
func (d *drawer) page(name string) string {
	for _, w := range d.board.Ways {
		if w.Name == name {
			return name + "_sheet"
		}
	}
	return name
}

// common is the input, with its stage, and the stages before the ways split.
func (d *drawer) common() ([]block, error) {
	c := &d.board.Common
	first, err := d.input(c)
	if err != nil {
		return nil, err
	}
	rest, err := d.positions(c, c.Positions[1:])
	if err != nil {
		return nil, err
	}
	var names []string
	for _, w := range d.board.Ways {
		names = append(names, w.Name)
	}
	end := port(c.Out, "to "+strings.Join(names, ", "), 0)
	end.tied = true
	return append(append([]block{first}, rest...), end), nil
}

// way is a way's chain between the common stages and its output.
func (d *drawer) way(w *board.Way) ([]block, error) {
	out := []block{port(w.In, "from common", 2)}
	own, err := d.positions(&w.Chain, w.Positions)
	if err != nil {
		return nil, err
	}
	end, err := d.output(w)
	out = append(append(out, own...), end)
	out[1].tied = true
	return out, err
}

// port is a label from sheet to sheet; turn is where its text stands.
func port(node, remark string, turn int) block {
	b := block{node: node, width: 4}
	reach := letters[Normal].width*len(node)/10 + 4
	at, x := Point{2, 0}, 5
	if turn == 2 {
		b.width, at = max(reach+2, letters[Small].width*len(remark)/10+2), Point{reach, 0}
		x = 0
		b.path(at, Point{b.width, 0})
	} else {
		b.path(Point{}, at)
		b.width = reach + 2
	}
	b.labels = append(b.labels, Label{Kind: Port, At: at, Node: node, Turn: turn})
	b.texts = append(b.texts, Text{At: Fine{x, -20}, S: remark, Anchor: Begin, Size: Small})
	return b
}

// positions are the blocks of positions of a chain, one behind the other.
func (d *drawer) positions(c *board.Chain, list []board.Position) ([]block, error) {
	var out []block
	for i := range list {
		p := &list[i]
		if p.Selector != "" && p.Switched() != nil {
			blocks, err := d.switched(p)
			if err != nil {
				return nil, err
			}
			out = append(out, blocks...)
			continue
		}
		if p.Selector != "" {
			b, err := d.choice(c, p)
			if err != nil {
				return nil, err
			}
			out = append(out, b)
			continue
		}
		for _, a := range p.Alt {
			blocks, err := d.series(a.Stages)
			if err != nil {
				return nil, err
			}
			out = append(out, blocks...)
		}
	}
	return out, nil
}

// series are the blocks of stages, one behind the other.
func (d *drawer) series(stages []*board.Stage) ([]block, error) {
	var out []block
	for _, s := range stages {
		b, _, err := d.block(s, nil)
		if err != nil {
			return nil, err
		}
		out = append(out, b)
	}
	return out, nil
}

// block is that of one stage; p is the position whose selector switches it, nil for none.
func (d *drawer) block(s *board.Stage, p *board.Position) (block, *stage, error) {
	x, err := d.stage(s, p)
	if err != nil {
		return block{}, nil, err
	}
	end := x.places["out"]
	b := block{picture: x.picture, width: end.X, node: s.Out, caption: caption(s)}
	b.widen(end)
	return b, x, nil
}

// caption says which stage it is, for which line of the spec, and at what frequency.
func caption(s *board.Stage) []string {
	out := []string{fmt.Sprintf("%d.%02d %s", s.Block, s.Number, s.Topology.Name), s.From}
	switch w, q := s.Section.Natural(); {
	case w > 0 && q > 0 && s.Section.Order() == 2:
		out = append(out, words.Hz(w/(2*math.Pi))+", Q "+words.Short(words.Round(q, 3)))
	case w > 0:
		out = append(out, words.Hz(w/(2*math.Pi)))
	}
	return out
}

// choice is a switched position: its alternatives one below the other, in the order of the
// selector's positions, and the selector behind them.
func (d *drawer) choice(c *board.Chain, p *board.Position) (block, error) {
	list, _ := p.Throws()
	n := len(list)
	var rows []picture
	var ends []Point // of each alternative
	y, widest := 0, 0
	for k, t := range list {
		blocks, err := d.series(p.Alt[t.Alt].Stages)
		if err != nil {
			return block{}, err
		}
		pic, end := line(blocks)
		head := Text{At: Fine{0, pic.box().Min.Y - 12}, S: d.position(p, t.Alt), Size: Small}
		pic.texts = append(pic.texts, head)
		width := max(end, (head.Box().Max.X+9)/10)
		up, down := pic.extent()
		if k > 0 {
			y += max(up+2, 6)
		}
		pic.path(Point{end, 0}, Point{width, 0})
		rows, ends = append(rows, pic), append(ends, Point{4 + width, y})
		y += down
		widest = max(widest, 4+width)
	}
	b := block{node: p.Out}
	throws := widest + 2*n + widestMark(list)
	for k := range rows {
		at := ends[k]
		b.add(&rows[k], Point{4, at.Y})
		b.path(Point{2, 0}, Point{2, at.Y}, Point{4, at.Y})
		lane := widest + 2*k
		b.path(at, Point{lane, at.Y}, Point{lane, pitch * k}, Point{throws, pitch * k})
	}
	b.path(Point{}, Point{2, 0})
	d.selector(&b.picture, p, Point{throws + 3, 0}, 0)
	x := throws + 6
	for _, e := range c.Ends {
		if e.Use == board.Bleed && e.Of == p.Selector {
			x += 2
			if err := d.shunt(&b.picture, &e, x); err != nil {
				return block{}, err
			}
			b.path(Point{throws + 6, 0}, Point{x, 0})
			x += 6
		}
	}
	b.width = max(x+2, throws+2+letters[Small].width*len(d.names(p))/10)
	b.path(Point{throws + 6, 0}, Point{b.width, 0})
	return b, nil
}

// selector draws the pole that works a position, with the selector's positions at its throws.
func (d *drawer) selector(to *picture, p *board.Position, at Point, turn int) *Symbol {
	throws, pole := p.Throws()
	var nodes []string
	for k, t := range throws {
		nodes = append(nodes, t.Node)
		if turn == 0 {
			to.texts = append(to.texts, Text{At: Fine{10*at.X - 21, 10*(at.Y+pitch*k) - 8}, S: marks(t.At), Anchor: End, Size: Small})
		}
	}
	x := Symbol{Kind: Selector, N: len(throws), At: at, Turn: turn, Ref: p.Selector, Value: d.names(p)}
	return to.symbol(x, append(nodes, pole)...)
}

// widestMark is the room that the positions at throws take, beside the wires, at least 1.
func widestMark(throws []board.Throw) int {
	most := 1
	for _, t := range throws {
		most = max(most, letters[Small].width*len(marks(t.At))/10)
	}
	return most
}

// marks are a selector's positions as they stand beside a throw.
func marks(at []int) string { return strings.Trim(fmt.Sprint(at), "[]") }

// position says in which positions of its selector an alternative is picked, and with which
// choices.
func (d *drawer) position(p *board.Position, alt int) string {
	return fmt.Sprintf("%s position %s: %s", p.Selector, words.Numbers(p.At(alt)), d.when(p, alt))
}

// switched is a position whose selector switches an element of a stage: the stage with the
// selector in it, which choice is which position below, and what is behind it.
func (d *drawer) switched(p *board.Position) ([]block, error) {
	b, s, err := d.block(p.Built()[0], p)
	if err != nil {
		return nil, err
	}
	if pole, ok := s.places["pole"]; ok {
		d.tapped(&b.picture, s, pole)
	}
	foot := b.box().Max.Y + 12
	order := make([]int, len(p.Alt))
	for k := range order {
		order[k] = k
	}
	slices.SortStableFunc(order, func(i, j int) int { return slices.Compare(p.At(i), p.At(j)) })
	for k, alt := range order {
		t := Text{At: Fine{10, foot + captionPitch*k}, S: d.position(p, alt), Size: Small}
		b.texts = append(b.texts, t)
		if room := (t.Box().Max.X + 19) / 10; room > b.width {
			b.path(Point{b.width, 0}, Point{room, 0})
			b.width = room
		}
	}
	rest, err := d.series(p.Built()[1:])
	return append([]block{b}, rest...), err
}

// tapped draws the selector of a stage that has taps, its pole at the signal's height, and a
// lane for each throw, the highest tap's the first: where throws are in the order of the
// taps no wires cross.
func (d *drawer) tapped(b *picture, s *stage, pole Point) {
	throws, _ := s.position.Throws()
	n := len(throws)
	at := Point{pole.X - 3, pole.Y}
	x := d.selector(b, s.position, at, 0)
	x.ValueAt.Anchor, x.ValueAt.At.X = End, 10*at.X+20 // the op-amp is on the right
	byTap := make([]int, n)
	for k := range byTap {
		byTap[k] = k
	}
	slices.SortStableFunc(byTap, func(i, j int) int { return s.taps[throws[i].Node].Y - s.taps[throws[j].Node].Y })
	for lane, k := range byTap {
		tap, end := s.taps[throws[k].Node], Point{at.X - 3, pitch * k}
		x := end.X - widestMark(throws) + 1 - n + lane
		b.path(tap, Point{x, tap.Y}, Point{x, end.Y}, end)
	}
}

// mostNames is how many letters the names of a selector's settings take on the sheet.
const mostNames = 24

// names are the settings that work a position's selector.
func (d *drawer) names(p *board.Position) string {
	var out []string
	for _, ax := range p.By {
		out = append(out, d.settings[ax.Setting].Name)
	}
	return words.Cut(strings.Join(out, ", "), mostNames)
}

// when says which choices of the settings pick an alternative.
func (d *drawer) when(p *board.Position, alt int) string {
	var any []string
	for _, choices := range p.Choices(alt) {
		var all []string
		for a, choice := range choices {
			s := d.settings[p.By[a].Setting]
			all = append(all, s.Name+" "+s.Choices[choice])
		}
		any = append(any, strings.Join(all, " and "))
	}
	return strings.Join(any, ", or ")
}

// shunt hangs a part between the line at x and the ground.
func (d *drawer) shunt(p *picture, e *board.Part, x int) error {
	s, err := part(e)
	if err != nil {
		return err
	}
	s.At, s.Turn = Point{x, 4}, 1
	pins := p.symbol(s, e.A, e.B).Pins
	p.path(Point{x, 0}, pins[0].At)
	p.ground(pins[1].At)
	return nil
}

// part is the symbol of a part of an end.
func part(e *board.Part) (Symbol, error) {
	s, err := valued(e.Kind, e.Ref, e.Value)
	if e.Use == board.Wire && e.Kind == netlist.Resistor {
		s.Kind, s.Value = Link, "wire"
	}
	if e.Use == board.Trim {
		s.Kind, s.Value = Trimmer, code(e.TrackOhm, "ohm")
	}
	s.Outside = e.Outside
	return s, err
}
