package drawing

import (
	"strings"

	"bandwright/compiler/words"
)

// block is a picture that the signal crosses from 0,0 to width,0.
type block struct {
	picture
	width int
	// node is that of its end.
	node    string
	caption []string
	// apart is true of what is not joined with its neighbours, tied of what stays in the row
	// of the block before it.
	apart, tied bool
}

// letterOf is how many small letters stand in so many units.
func letterOf(width int) int { return 10 * width / letters[Small].width }

// widen makes room for the longest word of the caption and leads the signal to there.
func (b *block) widen(end Point) {
	for _, c := range b.caption {
		for _, w := range strings.Fields(c) {
			b.width = max(b.width, (letters[Small].width*len(w)+29)/10)
		}
	}
	b.path(end, Point{b.width, 0})
}

// lines are the caption in lines that the block has room for.
func (b *block) lines() []string {
	var out []string
	for _, c := range b.caption {
		out = append(out, words.Wrap(c, "", "", letterOf(b.width-1))...)
	}
	return out
}

// extent is how far a picture reaches above and below its line, in whole units.
func (p *picture) extent() (up, down int) {
	b := p.box()
	return (9 - b.Min.Y) / 10, (9 + b.Max.Y) / 10
}

// captionPitch is from one line of a caption to the next, in tenths.
const captionPitch = 15

// line puts blocks side by side with their captions above, all at one height, and wire of
// so many units between two of them.
func line(blocks []block, between ...int) (picture, int) {
	var p picture
	x, high, most := 0, 0, 0
	for i := range blocks {
		b := &blocks[i]
		high = min(high, b.box().Min.Y)
		most = max(most, len(b.lines()))
	}
	for i := range blocks {
		b := &blocks[i]
		p.add(&b.picture, Point{x, 0})
		for k, s := range b.lines() {
			p.texts = append(p.texts, Text{At: Fine{10*x + 5, high - captionPitch*(most-k)}, S: s, Size: Small})
		}
		x += b.width
		if i < len(between) {
			if !b.apart {
				p.path(Point{x, 0}, Point{x + between[i], 0})
			}
			x += between[i]
		}
	}
	return p, x
}

// papers are the frames, landscape, in whole units.
var papers = []struct {
	name string
	size Point
}{
	{"A4", Point{233, 165}}, {"A3", Point{330, 233}}, {"A2", Point{467, 330}}, {"A1", Point{662, 467}}, {"A0", Point{936, 662}},
}

const (
	// Margin is from the paper's edge to the frame, in units.
	Margin = 8
	// TitleHeight is the strip at the foot of the frame that the title block takes.
	TitleHeight = 26
	// TitleWidth is that of the block, on the right of the strip.
	TitleWidth = 88

	gap    = 3 // between rows, and inside the frame, at least
	rowEnd = 9 // what a label at the end of a row takes

	cautionHeight = 4 // of the lines at the foot of the frame
)

// fill places blocks in rows on the smallest paper that holds them; beyond the largest
// the paper grows.
func (s *Sheet) fill(blocks []block) {
	const around = 2 * (Margin + gap)
	rows := measured(blocks)
	var best arranged
	for i, p := range papers {
		s.Paper, s.Size = p.name, p.size
		var holds bool
		if best, holds = rows.on(Point{p.size.X - around, p.size.Y - around}); holds {
			break
		}
		if i == len(papers)-1 {
			var need Point
			best, need = rows.beyond(p.size.X - around)
			s.Paper = "User"
			s.Size = Point{max(p.size.X, need.X+around), max(p.size.Y, need.Y+around+TitleHeight)}
		}
	}
	var page picture
	for k, r := range best.rows {
		row := rowOf(blocks, r, best.between[k])
		page.add(&row, Point{Margin + gap + best.left, Margin + gap + best.tops[k] + r.up})
	}
	s.Symbols, s.Wires, s.Labels, s.Texts = page.symbols, page.wires, page.labels, page.texts
}

// rowOf is the picture of a row, begun and ended by a label of the signal's node.
func rowOf(blocks []block, r row, between []int) picture {
	var p picture
	start := r.start()
	plain, x := line(blocks[r.first:r.end], between...)
	p.add(&plain, Point{start, 0})
	if start > 0 {
		p.labels = append(p.labels, Label{Kind: Local, At: Point{start - 2, 0}, Node: blocks[r.first-1].node, Turn: 2})
		p.path(Point{start - 2, 0}, Point{start, 0})
	}
	if x += start; r.goesOn(blocks) {
		p.labels = append(p.labels, Label{Kind: Local, At: Point{x + 2, 0}, Node: blocks[r.end-1].node})
		p.path(Point{x, 0}, Point{x + 2, 0})
	}
	return p
}
