package drawing

import (
	"fmt"

	"bandwright/compiler/board"
	"bandwright/compiler/words"
)

// input is the board's input: what drives it, its terminals, what stands at them and
// its stage.
func (d *drawer) input(c *board.Chain) (block, error) {
	first := c.Positions[0].Alt[0].Stages[0]
	s, err := d.stage(first, nil)
	if err != nil {
		return block{}, err
	}
	nodes, volts := d.board.Sources()
	names := []string{"in"}
	if len(nodes) > 1 {
		names = []string{"in +", "in -"}
	}
	b := block{node: first.Out, caption: caption(first)}
	width, high := 0, 0
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
		up, down := leg.extent()
		y := at.Y
		if i > 0 {
			y = min(y, -high-down-1) // the second leg stands above the first
		}
		high = up
		b.add(&leg.picture, Point{0, y})
		width = leg.x + 3
		b.path(Point{leg.x, y}, Point{leg.x + 2, y}, Point{leg.x + 2, at.Y}, Point{width, at.Y})
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
	clamped bool   // one of a pair of diodes is drawn
	gate    *Point // the last end of the line to the transistors' gates, nil before the first
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
				if e.A != l.node && e.B != l.node || e.Use == board.Bleed || e.Outside != outside {
					continue
				}
				switch {
				case !e.Passive():
					l.device(e)
				case e.A != l.node: // where it came from
				case e.B != "0":
					next = e
				default:
					if err := l.down(e); err != nil {
						return err
					}
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

// terminal places one of the board's terminals on the line, with room for its name.
func (l *ladder) terminal() {
	half := max(4, (letters[Normal].width*len(l.name)/2+19)/10)
	at := Point{l.x + half, 0}
	l.symbol(l.drawer.terminal(l.block, l.name, at), l.node)
	l.path(Point{l.x, 0}, at, Point{at.X + half - 1, 0})
	l.at = &at
	l.x = at.X + half - 1
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
