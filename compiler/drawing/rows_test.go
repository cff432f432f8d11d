package drawing

import (
	"math/rand"
	"testing"
)

// boxes are blocks of random sizes; those of a signal's chain begin and end with a port.
func boxes(rng *rand.Rand, apart bool) []block {
	var out []block
	for range 1 + rng.Intn(7) {
		b := block{width: 20 + rng.Intn(60), apart: apart}
		up, down := 5+rng.Intn(30), 20+rng.Intn(20)
		b.wires = []Wire{{From: Point{0, -up}, To: Point{b.width - 2, down}}}
		out = append(out, b)
	}
	if !apart {
		out = append(append([]block{{width: 10}}, out...), block{width: 9, tied: true})
		out[1].tied = true
	}
	return out
}

// held reports whether blocks, divided into rows before those of the bits of cut, lie on a
// frame, stacked as close as rows may be; it goes by the blocks alone.
func held(blocks []block, cut int, size Point) bool {
	foot, lower, x, up, down := -gap, 0, 0, 0, 0
	for i, b := range blocks {
		if i == 0 || cut>>i&1 == 1 {
			x, up, down = 0, 0, 0
			if i > 0 && !b.apart {
				x = rowEnd
			}
			lower = foot + gap
		}
		w := b.wires[:len(b.wires):len(b.wires)]
		right := x + b.width
		if b.apart {
			right = x
		}
		if len(w) > 0 {
			up, down = max(up, -w[0].From.Y), max(down, w[0].To.Y)
			right = max(right, x+w[0].To.X)
		}
		x += b.width
		if last := i+1 == len(blocks) || cut>>(i+1)&1 == 1; last {
			if i+1 < len(blocks) && !b.apart {
				right = x + rowEnd
			}
			foot = lower + up + down
			if right > size.X || foot > size.Y-cautionHeight || foot > size.Y-TitleHeight && right > size.X-TitleWidth {
				return false
			}
		}
		if b.tied && cut>>i&1 == 1 {
			return false
		}
	}
	return true
}

// Rows are found on a frame wherever brute force over all divisions finds some; they stand
// inside of the frame, one below the other, and clear of the title block.
func TestRowsAreFound(t *testing.T) {
	rng := rand.New(rand.NewSource(16))
	size := Point{211, 143} // of A4
	found, full := 0, 0
	for trial := range 1500 {
		blocks := boxes(rng, trial%3 == 0)
		any := false
		for cut := 0; cut < 1<<len(blocks); cut += 2 {
			any = any || held(blocks, cut, size)
		}
		a, holds := measured(blocks).on(size)
		if holds != any {
			t.Fatalf("trial %d: rows are found: %v, by brute force: %v", trial, holds, any)
		}
		if !holds {
			full++
			continue
		}
		found++
		next, under := 0, 0
		for k, r := range a.rows {
			p := rowOf(blocks, r, a.between[k])
			box := p.box()
			top, low := a.tops[k]+r.up+box.Min.Y/10, a.tops[k]+r.up+box.Max.Y/10
			right := a.left + box.Max.X/10
			if r.first != next || top < under || low > size.Y-cautionHeight || right > size.X || low > size.Y-TitleHeight && right > size.X-TitleWidth {
				t.Fatalf("trial %d: row %d from %d to %d, to the right as far as %d, %d blocks from %d", trial, k, top, low, right, r.end-r.first, r.first)
			}
			next, under = r.end, low+gap
		}
		if next != len(blocks) {
			t.Fatalf("trial %d: %d of %d blocks", trial, next, len(blocks))
		}
	}
	if found < 300 || full < 300 {
		t.Errorf("%d found, %d that no rows hold", found, full)
	}
}
