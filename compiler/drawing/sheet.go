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
const captionPitch = 11

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
)

// fill places blocks in rows on the smallest paper that holds them; beyond the largest
// the paper becomes higher.
func (s *Sheet) fill(blocks []block) {
	for i, p := range papers {
		pic, height, width := rows(blocks, p.size.X-2*Margin-2*gap)
		last := i == len(papers)-1
		fits := height <= p.size.Y-2*Margin-TitleHeight-2*gap && width <= p.size.X-2*Margin-2*gap
		if !fits && !last {
			continue
		}
		s.Paper, s.Size = p.name, p.size
		if !fits {
			s.Paper = "User"
			s.Size = Point{max(p.size.X, width+2*Margin+2*gap), max(p.size.Y, height+2*Margin+TitleHeight+2*gap)}
		}
		var page picture
		page.add(&pic, Point{Margin + gap, Margin + gap})
		s.Symbols, s.Wires, s.Labels, s.Texts = page.symbols, page.wires, page.labels, page.texts
		return
	}
}

// rows puts blocks into rows no wider than width, each begun and ended by a label of
// the signal's node, and says how high and wide all are.
func rows(blocks []block, width int) (picture, int, int) {
	var p picture
	y, widest := 0, 0
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
		row, _ := line(blocks[first : first+n])
		if start > 0 {
			var with picture
			with.add(&row, Point{start, 0})
			with.labels = append(with.labels, Label{Kind: Local, At: Point{start - 2, 0}, Node: blocks[first-1].node, Turn: 2})
			with.path(Point{start - 2, 0}, Point{start, 0})
			row = with
		}
		first += n
		if first < len(blocks) && !blocks[first].apart {
			row.labels = append(row.labels, Label{Kind: Local, At: Point{x + 2, 0}, Node: blocks[first-1].node})
			row.path(Point{x, 0}, Point{x + 2, 0})
			x += rowEnd
		}
		up, down := row.extent()
		p.add(&row, Point{0, y + up})
		y += up + down + gap
		widest = max(widest, x)
	}
	return p, y, widest
}
