package drawing

import "slices"

// row is blocks side by side, from first up to and without end, and the room that they
// take where nothing is spread.
type row struct {
	first, end      int
	width, up, down int
	// apart is true where the blocks are not joined with each other.
	apart bool
	// torn is true of what can be no row: it begins or ends between a port and its stage.
	torn bool
}

// start is where the first block stands: behind a label where the signal comes from the
// row above.
func (r row) start() int {
	if r.first > 0 && !r.apart {
		return rowEnd
	}
	return 0
}

// goesOn reports whether the signal goes on in the row below.
func (r row) goesOn(blocks []block) bool { return r.end < len(blocks) && !r.apart }

// joints are the places between its blocks.
func (r row) joints() int { return r.end - r.first - 1 }

// measures are the rows that blocks can be put into: at [i][n-1] n blocks from block i.
type measures [][]row

// measured works the rows out.
func measured(blocks []block) measures {
	out := make(measures, len(blocks))
	boxes, lines := make([]Box, len(blocks)), make([]int, len(blocks))
	for i := range blocks {
		boxes[i], lines[i] = blocks[i].box(), len(blocks[i].lines())
	}
	for i := range blocks {
		r := row{first: i, apart: blocks[i].apart}
		x, low, high, most := r.start(), 0, 0, 0
		for j := i; j < len(blocks); j++ {
			low, high, most = max(low, boxes[j].Max.Y), min(high, boxes[j].Min.Y), max(most, lines[j])
			top := high
			if most > 0 {
				top -= captionPitch*most + letters[Small].height/2
			}
			r.end, r.up, r.down = j+1, (9-top)/10, (low+9)/10
			r.width = x + (boxes[j].Max.X+9)/10
			x += blocks[j].width
			switch {
			case r.goesOn(blocks):
				r.width = max(r.width, x+rowEnd)
			case !r.apart: // labels are in a block's width, and in no box
				r.width = max(r.width, x)
			}
			r.torn = blocks[i].tied || j+1 < len(blocks) && blocks[j+1].tied
			out[i] = append(out[i], r)
		}
	}
	return out
}

// last is the row of all blocks from block i.
func (m measures) last(i int) row { return m[i][len(m)-i-1] }

// stack is the best rows for the first blocks: what they cost, how high they are together
// with a gap below each, and where the last of them begins.
type stack struct {
	cost, high, from int
	any              bool
}

// stacks are the best rows of a width for every number of rows and of blocks: at [k][i] the
// first i blocks in k rows. A unit of a row's height costs weight, what it leaves of
// the width its square. What is wider and can not be divided has a row of its own.
func (m measures) stacks(width, weight int) [][]stack {
	n := len(m)
	out := make([][]stack, n+1)
	out[0] = make([]stack, n+1)
	out[0][0].any = true
	for k := 1; k <= n; k++ {
		out[k] = make([]stack, n+1)
		for i := k - 1; i < n; i++ {
			above := out[k-1][i]
			if !above.any {
				continue
			}
			one := false
			for _, r := range m[i] {
				if r.torn || one && r.width > width {
					continue
				}
				one = true
				left := width - r.width
				w := stack{above.cost + weight*(r.up+r.down) + left*left, above.high + r.up + r.down + gap, i, true}
				if old := out[k][r.end]; !old.any || w.cost <= old.cost { // of equals the last row is the shorter one
					out[k][r.end] = w
				}
			}
		}
	}
	return out
}

// rows are those of one stack: the first blocks in k rows.
func (m measures) rows(stacks [][]stack, k, blocks int) []row {
	out := make([]row, k)
	for ; k > 0; k-- {
		from := stacks[k][blocks].from
		out[k-1] = m[from][blocks-from-1]
		blocks = from
	}
	return out
}

// weights are about equally long rows, rows as low as can be, and between.
var weights = []int{0, 200, 1 << 30}

// arranged is rows on a frame.
type arranged struct {
	rows    []row
	tops    []int   // of each row
	between [][]int // of each row, the wire from block to block
	left    int     // where all rows begin
	// filled is the rectangle around all, and the room of the rows, each down to the next
	// one, less what rows cost: of rectangles of a size the one with rows of a length is best.
	filled int
	// stub is true where a block has a row of its own that is less than a third as long as
	// the longest one.
	stub bool
}

// on puts the blocks into rows inside of a frame so that they cover as much of it as they
// can; false where it does not hold them. For every number of rows and every last row, which
// may stand beside the title block, it tries the best rows above.
func (m measures) on(size Point) (best arranged, holds bool) {
	foot := size.Y - cautionHeight
	for _, weight := range weights {
		stacks := m.stacks(size.X, weight)
		for k := range len(m) {
			for i := range m {
				last := m.last(i)
				if w := stacks[k][i]; !w.any || last.torn || last.width > size.X || w.high+last.up+last.down > foot {
					continue
				}
				rows := append(m.rows(stacks, k, i), last)
				for _, foot := range []int{size.Y - TitleHeight, foot} {
					if a, ok := spread(rows, size, foot); ok && (!holds || a.better(&best)) {
						best, holds = a, true
					}
				}
			}
		}
	}
	return best, holds
}

// better reports whether rows look better than others.
func (a *arranged) better(than *arranged) bool {
	if a.stub != than.stub {
		return than.stub
	}
	return a.filled > than.filled
}

// beyond are as few rows as a width allows, and the room that they take.
func (m measures) beyond(width int) (arranged, Point) {
	stacks := m.stacks(width, 0)
	k := 0
	for !stacks[k][len(m)].any {
		k++
	}
	out := arranged{rows: m.rows(stacks, k, len(m)), between: make([][]int, k)}
	var size Point
	for _, r := range out.rows {
		out.tops = append(out.tops, size.Y)
		size = Point{max(size.X, r.width), size.Y + r.up + r.down + gap}
	}
	return out, Point{size.X, size.Y - gap}
}

const (
	mostAlong = 20 // wire between two blocks at the most
	mostDown  = 24 // between two rows, beyond the gap

	evenness = 3  // what the rows' own room counts against the rectangle around all
	rowCost  = 25 // a row more, which a reader has to find, must fill so much of the frame: a 25th
)

// spread puts rows evenly between the frame's head and a foot; false where they do not
// lie inside of it, clear of its title block.
func spread(rows []row, size Point, foot int) (arranged, bool) {
	joints := len(rows) - 1
	free := foot - gap*joints
	for _, r := range rows {
		free -= r.up + r.down
	}
	if free < 0 {
		return arranged{}, false
	}
	for more := min(mostDown, free/max(1, joints)); more >= 0; more-- {
		if a := at(rows, (free-more*joints)/2, gap+more); a.along(size) {
			return a, true
		}
	}
	// As high up as can be, so that only the last row stands beside the title block.
	a := at(rows, 0, gap)
	return a, a.along(size)
}

// at are rows from a top down, so far from each other.
func at(rows []row, top, apart int) arranged {
	a := arranged{rows: rows}
	for _, r := range rows {
		a.tops = append(a.tops, top)
		top += r.up + r.down + apart
	}
	return a
}

// along spreads the blocks of every row; false where a row leaves the frame or lies on the
// title block.
func (a *arranged) along(size Point) bool {
	room := make([]int, len(a.rows)) // to the right of a row
	most, each := 0, mostAlong       // the longest row, and what parts the columns of the supply's
	for k, r := range a.rows {
		room[k] = size.X - r.width
		if a.tops[k]+r.up+r.down > size.Y-TitleHeight {
			room[k] -= TitleWidth
		}
		if room[k] < 0 {
			return false
		}
		if r.joints() > 0 && r.apart {
			each = min(each, room[k]/r.joints())
		}
	}
	for k, r := range a.rows {
		most = max(most, r.width+min(room[k], each*r.joints()))
	}
	a.left = min((size.X-most)/2, slices.Min(room))
	for k, r := range a.rows {
		n := r.joints()
		more := min(room[k]-a.left, most-r.width, each*n)
		between := make([]int, n)
		for i := range between {
			between[i] = more*(i+1)/n - more*i/n
		}
		a.between = append(a.between, between)
		next := a.tops[k] + r.up + r.down
		if k+1 < len(a.rows) {
			next = a.tops[k+1]
		}
		a.filled += (most + evenness*(r.width+more)) * (next - a.tops[k])
		a.filled -= (1 + evenness) * size.X * size.Y / rowCost
		a.stub = a.stub || n == 0 && 3*r.width < most
	}
	return true
}
