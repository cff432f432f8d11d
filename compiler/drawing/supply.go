package drawing

import (
	"strings"

	"bandwright/compiler/board"
	"bandwright/compiler/words"
)

// supply is where the supply comes in, every package with its decoupling, and the op-amps
// that are not used.
func (d *drawer) supply() []block {
	out := []block{d.entry()}
	if b, any := d.bulk(); any {
		out = append(out, b)
	}
	for _, p := range d.board.Packages {
		out = append(out, d.pins(p))
	}
	for _, p := range d.board.Packages {
		for _, ref := range p.Spare {
			out = append(out, d.spare(ref))
		}
	}
	return out
}

// rail puts a rail's symbol on a wire's end or a pin.
func (d *drawer) rail(p *picture, kind SymbolKind, at Point) {
	volts := words.Part(d.board.Spec.SupplyV, "V")
	node, sign, y := board.PlusRail, "+", -22
	if kind == RailMinus {
		node, sign, y = board.MinusRail, "-", 22
	}
	s := p.symbol(Symbol{Kind: kind, At: at, Value: sign + volts}, node)
	s.ValueAt = Text{At: moved(Fine{0, y}, at), S: s.Value, Anchor: Middle}
}

// entry is the terminals of the supply, and of what opens the mutes.
func (d *drawer) entry() block {
	volts := words.Part(d.board.Spec.SupplyV, "V")
	b := block{apart: true, width: 26}
	for i, name := range []string{"+" + volts, "0 V", "-" + volts} {
		at, end := Point{6, 11 * (i - 1)}, Point{13, 11 * (i - 1)}
		b.symbol(d.terminal(1, name, at), []string{board.PlusRail, "0", board.MinusRail}[i])
		b.path(at, end)
		switch i {
		case 0:
			d.rail(&b.picture, RailPlus, end)
		case 1:
			b.ground(end)
		default:
			d.rail(&b.picture, RailMinus, end)
		}
	}
	if v := d.board.MuteV(); v != 0 {
		at, end := Point{6, 22}, Point{13, 22}
		b.symbol(d.terminal(1, "mute", at), board.MuteControl)
		b.path(at, end)
		b.labels = append(b.labels, Label{Kind: Port, At: end, Node: board.MuteControl})
		b.texts = append(b.texts, Text{At: Fine{20, 243}, S: words.Part(v, "V") + " opens the outputs", Size: Small})
	}
	return b
}

// pair draws two capacitors, from the positive rail to ground and from there to the
// negative one, beside upright wires at x that end at the rails.
func (d *drawer) pair(b *block, parts []board.Part, x int) {
	d.rail(&b.picture, RailPlus, Point{x, -11})
	d.rail(&b.picture, RailMinus, Point{x, 11})
	if len(parts) != 2 {
		return
	}
	for i, y := range []int{-6, 6} {
		s, _ := part(&parts[i])
		if parts[i].Use == board.Bulk {
			s.Kind = Electrolytic
		}
		s.At, s.Turn = Point{x + 7, y}, 1
		b.symbol(s, parts[i].A, parts[i].B)
		b.path(Point{x, y + y/2}, Point{x + 7, y + y/2})
	}
	b.path(Point{x + 7, -3}, Point{x + 7, 3})
	b.path(Point{x + 7, 0}, Point{x + 10, 0})
	b.ground(Point{x + 10, 0})
}

// held are the supply's capacitors of a use, at a package where one is named.
func (d *drawer) held(use board.Use, at string) []board.Part {
	var out []board.Part
	for _, e := range d.board.Supply {
		if e.Use == use && strings.HasSuffix(e.Ref, at) {
			out = append(out, e)
		}
	}
	return out
}

// bulk is the capacitors where the supply comes in; false where there are none.
func (d *drawer) bulk() (block, bool) {
	b := block{apart: true, width: 26}
	parts := d.held(board.Bulk, "")
	if len(parts) != 2 {
		return b, false
	}
	const x = 6
	d.pair(&b, parts, x)
	b.path(Point{x, -11}, Point{x, -9})
	b.path(Point{x, 11}, Point{x, 9})
	return b, true
}

// pins is a package's supply pins with the capacitors at them.
func (d *drawer) pins(p board.Package) block {
	b := block{apart: true, width: 26}
	const x = 9
	s := Symbol{Kind: SupplyUnit, Ref: p.Ref, Package: p.Ref, Unit: -1, Units: len(p.Units) + len(p.Spare), At: Point{x, 0}}
	b.symbol(s, board.PlusRail, board.MinusRail)
	d.pair(&b, d.held(board.Decoupling, strings.TrimPrefix(p.Ref, "U")), x)
	b.path(Point{x, -4}, Point{x, -11})
	b.path(Point{x, 4}, Point{x, 11})
	return b
}

// spare is an op-amp that is not used: a follower of the ground.
func (d *drawer) spare(ref string) block {
	u := d.units[ref]
	b := block{apart: true, width: 26}
	x := b.symbol(Symbol{Kind: OpAmp, Ref: ref, Package: u.of, Unit: u.at, Units: u.count, At: Point{8, 0}}, "0", ref, ref)
	in, minus, end := x.Pins[0].At, x.Pins[1].At, x.Pins[2].At
	b.path(minus, plus(minus, Point{-1, 0}), Point{minus.X - 1, -6}, Point{end.X + 1, -6}, plus(end, Point{1, 0}), end)
	b.path(in, plus(in, Point{-1, 0}), plus(in, Point{-1, 2}))
	b.ground(plus(in, Point{-1, 2}))
	b.texts = append(b.texts, Text{At: Fine{100, -75}, S: "spare", Anchor: Middle, Size: Small})
	return b
}
