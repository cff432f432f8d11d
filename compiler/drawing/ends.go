package drawing

import (
	"fmt"

	"bandwright/compiler/board"
	"bandwright/compiler/netlist"
	"bandwright/compiler/words"
)

// input is the board's input: what drives it, its terminals, what stands at them and
// its stage.
func (d *drawer) input(c *board.Chain) (block, error) {
	first := c.Positions[0].Alt[0].Stages[0]
	s, err := d.stage(first)
	if err != nil {
		return block{}, err
	}
	nodes, volts := d.board.Sources()
	names := []string{"in"}
	if len(nodes) > 1 {
		names = []string{"in +", "in -"}
	}
	b := block{node: first.Out, caption: caption(first)}
	width := 0
	for i, node := range nodes {
		leg := ladder{drawer: d, block: c.Block, parts: c.Ends, node: node, outside: true, name: names[i]}
		leg.source(node, volts[i])
		if err := leg.draw(); err != nil {
			return block{}, err
		}
		at := Point{}
		if i > 0 {
			at = s.places["in_n"]
		} else {
			leg.common()
		}
		b.add(&leg.picture, Point{0, at.Y})
		width = max(width, leg.x+1)
		b.path(Point{leg.x, at.Y}, Point{leg.x + 1, at.Y})
	}
	b.add(&s.picture, Point{width, 0})
	end := plus(s.places["out"], Point{width, 0})
	b.width = end.X
	b.widen(end)
	return b, nil
}

// output is what stands between a way's last stage and what follows.
func (d *drawer) output(w *board.Way) (block, error) {
	at := w.In
	if n := len(w.Positions); n > 0 {
		at = w.Positions[n-1].Out
	}
	l := ladder{drawer: d, block: w.Block, parts: w.Ends, node: at, name: "out " + w.Name}
	if err := l.draw(); err != nil {
		return block{}, err
	}
	l.common()
	return block{picture: l.picture, width: l.x + 1, node: w.Out, caption: []string{"output of " + w.Name}}, nil
}

// ladder draws parts in series from left to right and those to the ground at the node
// where they are, with a terminal where the board begins or ends.
type ladder struct {
	picture
	drawer  *drawer
	block   int
	parts   []board.Part
	node    string
	outside bool // whether what comes next is still, or already, not on the board
	name    string
	x       int
	at      *Point // of the terminal, nil before it is placed
}

// source draws what drives the board.
func (l *ladder) source(node string, volts float64) {
	s := Symbol{Kind: Source, Ref: "V" + node, Value: "AC " + words.Short(volts) + " V", Amount: volts, Outside: true, At: Point{2, 4}, Turn: 1}
	pins := l.symbol(s, node, "0").Pins
	l.path(Point{2, 0}, pins[0].At)
	l.ground(pins[1].At)
	l.path(Point{2, 0}, Point{4, 0})
	l.x = 4
}

// draw follows the parts from the ladder's node.
func (l *ladder) draw() error {
	for {
		var next *board.Part
		for _, outside := range []bool{false, true} {
			for i := range l.parts {
				e := &l.parts[i]
				if e.A != l.node || e.Use == board.Bleed || e.Outside != outside || !e.Passive() {
					continue
				}
				if e.B != "0" {
					next = e
					continue
				}
				if err := l.down(e); err != nil {
					return err
				}
			}
		}
		if next == nil {
			break
		}
		if err := l.along(next); err != nil {
			return err
		}
	}
	if l.outside && l.at == nil {
		l.terminal()
	}
	return nil
}

// border places the terminal where the board begins or ends before a part.
func (l *ladder) border(e *board.Part) {
	if e.Outside != l.outside && l.at == nil {
		l.terminal()
	}
	l.outside = e.Outside
}

// along draws a part in series.
func (l *ladder) along(e *board.Part) error {
	l.border(e)
	s, err := part(e)
	if err != nil {
		return err
	}
	s.At = Point{l.x + 4, 0}
	l.symbol(s, e.A, e.B)
	l.path(Point{l.x, 0}, Point{l.x + 1, 0})
	l.path(Point{l.x + 7, 0}, Point{l.x + 8, 0})
	l.x, l.node = l.x+8, e.B
	return nil
}

// down draws a part to the ground.
func (l *ladder) down(e *board.Part) error {
	l.border(e)
	l.path(Point{l.x, 0}, Point{l.x + 2, 0})
	if err := l.drawer.shunt(&l.picture, e, l.x+2); err != nil {
		return err
	}
	last := true
	for i := range l.parts {
		last = last && (&l.parts[i] == e || l.parts[i].A != e.A || !l.parts[i].Outside)
	}
	if !e.Outside || !last {
		l.path(Point{l.x + 2, 0}, Point{l.x + 9, 0})
	}
	l.x += 9
	return nil
}

// terminal places one of the board's terminals on the line.
func (l *ladder) terminal() {
	at := Point{l.x + 4, 0}
	l.symbol(l.drawer.terminal(l.block, l.name, at), l.node)
	l.path(Point{l.x, 0}, at, Point{l.x + 7, 0})
	l.at = &at
	l.x += 7
}

// terminal is a new terminal of a block.
func (d *drawer) terminal(block int, name string, at Point) Symbol {
	d.terminals[block]++
	return Symbol{Kind: Terminal, Ref: fmt.Sprintf("J%d%02d", block, d.terminals[block]), Value: name, At: at}
}

// common places the terminal of the ground below that of the signal.
func (l *ladder) common() {
	at := plus(*l.at, Point{0, 11})
	l.symbol(l.drawer.terminal(l.block, "0 V", at), "0")
	l.ground(at)
}

// Nodes of the rails on the sheet of the supply.
const (
	plusRail  = board.PlusRail
	minusRail = board.MinusRail
)

// supply is every package with its decoupling, the supply's terminals and the op-amps
// that are not used.
func (d *drawer) supply() []block {
	volts := words.Part(d.board.Spec.SupplyV, "V")
	rail := func(p *picture, kind SymbolKind, at Point) {
		node, sign := plusRail, "+"
		if kind == RailMinus {
			node, sign = minusRail, "-"
		}
		s := p.symbol(Symbol{Kind: kind, At: at, Value: sign + volts}, node)
		y := -22
		if kind == RailMinus {
			y = 22
		}
		s.ValueAt = Text{At: moved(Fine{0, y}, at), S: s.Value, Anchor: Middle}
	}
	entry := block{apart: true, width: 26}
	for i, name := range []string{"+" + volts, "0 V", "-" + volts} {
		at, end := Point{6, 11 * (i - 1)}, Point{13, 11 * (i - 1)}
		entry.symbol(d.terminal(1, name, at), []string{plusRail, "0", minusRail}[i])
		entry.path(at, end)
		switch i {
		case 0:
			rail(&entry.picture, RailPlus, end)
		case 1:
			entry.ground(end)
		default:
			rail(&entry.picture, RailMinus, end)
		}
	}
	out := []block{entry}
	for _, p := range d.board.Packages {
		b := block{apart: true, width: 26}
		n := p.Ref[1:]
		x := 9
		b.symbol(Symbol{Kind: SupplyUnit, Ref: p.Ref, Package: p.Ref, Unit: -1, Units: len(p.Units) + len(p.Spare), At: Point{x, 0}}, plusRail, minusRail)
		b.path(Point{x, -4}, Point{x, -11})
		rail(&b.picture, RailPlus, Point{x, -11})
		b.path(Point{x, 4}, Point{x, 11})
		rail(&b.picture, RailMinus, Point{x, 11})
		for i, at := range []Point{{x + 7, -6}, {x + 7, 6}} {
			s, _ := valued(netlist.Capacitor, []string{"CP", "CN"}[i]+n, d.board.Spec.DecouplingF)
			s.At, s.Turn = at, 1
			b.symbol(s, []string{plusRail, "0"}[i], []string{"0", minusRail}[i])
			y := []int{-9, 9}[i]
			b.path(Point{x, y}, Point{x + 7, y})
		}
		b.path(Point{x + 7, -3}, Point{x + 7, 3})
		b.path(Point{x + 7, 0}, Point{x + 10, 0})
		b.ground(Point{x + 10, 0})
		out = append(out, b)
	}
	for _, p := range d.board.Packages {
		for _, ref := range p.Spare {
			u := d.units[ref]
			b := block{apart: true, width: 22}
			x := b.symbol(Symbol{Kind: OpAmp, Ref: ref, Package: u.of, Unit: u.at, Units: u.count, At: Point{8, 0}}, "0", ref, ref)
			in, minus, end := x.Pins[0].At, x.Pins[1].At, x.Pins[2].At
			b.path(minus, plus(minus, Point{-1, 0}), Point{minus.X - 1, -6}, Point{end.X + 1, -6}, plus(end, Point{1, 0}), end)
			b.path(in, plus(in, Point{-1, 0}), plus(in, Point{-1, 2}))
			b.ground(plus(in, Point{-1, 2}))
			b.texts = append(b.texts, Text{At: Fine{100, -75}, S: "spare", Anchor: Middle, Size: Small})
			out = append(out, b)
		}
	}
	return out
}
