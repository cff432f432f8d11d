package assign

import "math"

// glance is what the choices of stage j that are left cost at least, with a choice of stage
// i: more and more of it. Columns of one frequency are read in a row, which is far quicker
// than choice by choice, and most are soon too dear.
type glance struct {
	groups  []int   // those that are hit
	members [][]int // by group: the watched paths or sums in it that either stage is in
	cost    []float64
	top     []float64 // dB, at least, of the group that is looked at
	passes  []part    // of the sum that is looked at: paths that pass stage j
}

// part is a path's share of a sum, and the errors that it has without stage j.
type part struct {
	re, im  float64
	db, rad float64
}

// group finds what promising looks at.
func (a *arrangement) group() {
	x := &a.x
	y := &x.glance
	if y.members == nil {
		y.members = make([][]int, len(x.hit))
	}
	y.groups = y.groups[:0]
	for g, hit := range x.hit {
		if y.members[g] = y.members[g][:0]; hit {
			y.groups = append(y.groups, g)
		}
	}
	for _, n := range x.paths {
		if g := a.p.paths[n].Way; a.watched[n] {
			y.members[g] = append(y.members[g], n)
		}
	}
	for _, n := range x.sums {
		g := a.p.ways + a.p.sums[n].Pair
		y.members[g] = append(y.members[g], n)
	}
}

// promising are those of a list of choices of stage j that may be better than the best so
// far, by a glance at where paths and sums were the worst last. cost is that of all but
// their points and the groups that are hit. What is left is looked at by trySecond.
func (a *arrangement) promising(list []int, cost float64) []int {
	x := &a.x
	y := &x.glance
	y.cost, y.top = y.cost[:0], y.top[:0]
	for _, c := range list {
		y.cost, y.top = append(y.cost, cost+a.pointDB*a.p.tables[x.j].Points[c]), append(y.top, 0)
	}
	for i, g := range y.groups {
		for n := range list {
			y.top[n] = x.stays[g]
		}
		limit := a.limitOf(g)
		for m, n := range y.members[g] {
			if g < a.p.ways {
				a.glancePath(list, n)
			} else {
				a.glanceSum(list, n)
			}
			if list = a.cheap(list, limit); len(list) == 0 {
				toFront(y.members[g], m)
				toFront(y.groups, i)
				return list
			}
		}
		for n := range list {
			y.cost[n] += a.price(y.top[n], limit)
		}
	}
	return list
}

// cheap are those of a list that cost less than the best with the group that is looked at.
func (a *arrangement) cheap(list []int, limit float64) []int {
	y, most, kept := &a.x.glance, a.x.best+scoreStep/2, 0
	for n, c := range list {
		if cost, top := y.cost[n], y.top[n]; cost+a.price(top, limit) < most {
			list[kept], y.cost[kept], y.top[kept] = c, cost, top
			kept++
		}
	}
	return list[:kept]
}

// glancePath looks at a path where it was the worst last.
func (a *arrangement) glancePath(list []int, path int) {
	x, t := &a.x, &a.p.paths[path]
	if len(t.at) == 0 {
		return
	}
	if !t.passes(x.j) {
		raise(x.glance.top[:len(list)], x.alone[path])
		return
	}
	for _, k := range a.binding[path] {
		r, column, top := x.row[path].DB[k]+t.extraDB[k], a.p.tables[x.j].column[k], x.glance.top
		for n, c := range list {
			if e := math.Abs(r + column[c]); e > top[n] {
				top[n] = e
			}
		}
	}
}

// glanceSum looks at a sum where it was the worst last.
func (a *arrangement) glanceSum(list []int, sum int) {
	x, m := &a.x, &a.p.sums[sum]
	near, top := a.near[sum], x.glance.top[:len(list)]
	for _, k := range near[:min(glanced, len(near))] {
		var re, im float64 // of the paths that do not pass stage j
		passes := x.glance.passes[:0]
		for s, p := range m.Paths {
			h := part{real(m.share[s][k]), imag(m.share[s][k]), x.first[p].DB[k], x.first[p].Rad[k]}
			if a.p.paths[p].passes(x.j) {
				passes = append(passes, h)
				continue
			}
			u, v := h.with(0, 0)
			re, im = re+u, im+v
		}
		if x.glance.passes = passes; len(passes) == 0 {
			raise(top, offBy(re, im))
			continue
		}
		table := &a.p.tables[x.j]
		column, turns := table.column[k], table.turnsAt(k)
		for n, c := range list {
			re, im := re, im
			for i := range passes {
				u, v := passes[i].with(column[c], turns[c])
				re, im = re+u, im+v
			}
			if e := offBy(re, im); e > top[n] {
				top[n] = e
			}
		}
	}
}

// with is what a path adds to a sum with more errors; see power.
func (h *part) with(db, rad float64) (re, im float64) {
	u, v := exponential((h.db+db)/perNeper, h.rad+rad)
	return float64(h.re*u) - float64(h.im*v), float64(h.re*v) + float64(h.im*u)
}

// offBy is what a sum over what is wanted is off by at least (dB), up or down, without a
// logarithm: ln r ≥ 2(r-1)/(r+1) for r ≥ 1.
func offBy(re, im float64) float64 {
	p := float64(re*re) + float64(im*im)
	return perNeper * math.Abs(p-1) / (p + 1)
}

// raise makes no number of a list smaller than one.
func raise(list []float64, least float64) {
	for n, e := range list {
		if least > e {
			list[n] = least
		}
	}
}
