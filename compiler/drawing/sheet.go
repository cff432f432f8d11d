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
	// apart is true of what is not joined with its neighbours.
	apart bool
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

// line puts blocks side by side with their captions above, all at one height.
func line(blocks []block) (picture, int) {
	var p picture
	x, high, most := 0, 0, 0
	for i := range blocks {
		b := &blocks[i]
		high = min(high, b.box().Min.Y)
		if len(b.lines()) > most {
			most = len(b.lines())
		}
	}
	for i := range blocks {
		b := &blocks[i]
		p.add(&b.picture, Point{x, 0})
		for k, s := range b.lines() {
			p.texts = append(p.texts, Text{At: Fine{10*x + 5, high - captionPitch*(most-k)}, S: s, Size: Small})
		}
		x += b.width
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

	gap    = 5 // between rows, and inside the frame
	rowEnd = 9 // what a label at the end of a row takes

	cautionHeight = 4 // of the lines at the foot of the frame
)

// fill places blocks in rows on the smallest paper that holds them; beyond the largest
// the paper grows.
func (s *Sheet) fill(blocks []block) {
	const around = 2 * (Margin + gap)
	var l laid
	for i, p := range papers {
		l = balanced(blocks, p.size.X-around)
		s.Paper, s.Size = p.name, p.size
		if l.fits(Point{p.size.X - around, p.size.Y - around}) {
			break
		}
		if i == len(papers)-1 {
			s.Paper = "User"
			s.Size = Point{max(p.size.X, l.size.X+around), max(p.size.Y, l.size.Y+around+TitleHeight)}
		}
	}
	var page picture
	page.add(&l.picture, Point{Margin + gap, Margin + gap})
	s.Symbols, s.Wires, s.Labels, s.Texts = page.symbols, page.wires, page.labels, page.texts
}

// laid is blocks in rows.
type laid struct {
	picture
	size Point
	ends []Point // of each row: its right and its lower end
}

// fits reports whether all rows lie inside of a frame of a size, and clear of its title
// block and cautions.
func (l *laid) fits(size Point) bool {
	for _, e := range l.ends {
		foot := size.Y - cautionHeight
		if e.X > size.X-TitleWidth {
			foot = size.Y - TitleHeight
		}
		if e.X > size.X || e.Y > foot {
			return false
		}
	}
	return true
}

// balanced lays blocks into as few rows as a width allows, and those about equally long.
func balanced(blocks []block, width int) laid {
	best := rows(blocks, width)
	for {
		width = best.size.X - 1
		next := rows(blocks, width)
		if len(next.ends) > len(best.ends) || next.size.X > width {
			return best
		}
		best = next
	}
}

// rows puts blocks into rows no wider than width where that can be, each begun and ended
// by a label of the signal's node.
func rows(blocks []block, width int) laid {
	var l laid
	y := 0
	for first := 0; first < len(blocks); {
		start := 0
		if first > 0 && !blocks[first].apart {
			start = rowEnd
		}
		n, x := 0, start
		for first+n < len(blocks) {
			b := &blocks[first+n]
			end := x + b.width
			if first+n < len(blocks)-1 && !b.apart {
				end += rowEnd
			}
			if n > 0 && end > width {
				break
			}
			x += b.width
			n++
		}
		var row picture
		plain, _ := line(blocks[first : first+n])
		row.add(&plain, Point{start, 0})
		if start > 0 {
			row.labels = append(row.labels, Label{Kind: Local, At: Point{start - 2, 0}, Node: blocks[first-1].node, Turn: 2})
			row.path(Point{start - 2, 0}, Point{start, 0})
		}
		first += n
		if first < len(blocks) && !blocks[first].apart {
			row.labels = append(row.labels, Label{Kind: Local, At: Point{x + 2, 0}, Node: blocks[first-1].node})
			row.path(Point{x, 0}, Point{x + 2, 0})
			x += rowEnd
		}
		up, down := row.extent()
		l.add(&row, Point{0, y + up})
		l.ends = append(l.ends, Point{x, y + up + down})
		y += up + down + gap
		l.size = Point{max(l.size.X, x), y - gap}
	}
	return l
}
