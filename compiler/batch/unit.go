package batch

import (
	"slices"

	"bandwright/compiler/circuit"
)

// Unit is one simulated board at a time. It is not safe for concurrent use.
type Unit struct {
	simulator *Simulator
	values    []float64
	pulls     []float64       // of the parts around the stages, what they deviate
	ratios    []circuit.Ratio // of each block
	parted    []factor
	turns     []turned
	product   product
	way       []complex128 // what the cores of a way share
	cores     [][][]complex128
	ways      [][][]complex128 // of each variant that is not its core, made when it is asked for
	made      [][]bool
}

// Unit is a board to be simulated, with nominal parts at first.
func (s *Simulator) Unit() *Unit {
	n := len(s.Hz)
	u := &Unit{simulator: s, ratios: make([]circuit.Ratio, len(s.blocks)), parted: make([]factor, len(s.parted)),
		turns: make([]turned, len(s.turns)), way: make([]complex128, n)}
	for i := range u.parted {
		u.parted[i].at = make([]complex128, n)
	}
	for i := range u.turns {
		u.turns[i] = turned{at: slices.Repeat([]complex128{1}, n), power: slices.Repeat([]float64{1}, n)}
	}
	for i := range s.ways {
		p := &s.ways[i]
		var cores, all [][]complex128
		for _, x := range p.cores {
			cores = append(cores, slices.Clone(p.variants[x.variant].nominal))
		}
		for _, v := range p.variants {
			if s.turns[v.turn].plain {
				all = append(all, cores[v.core])
			} else {
				all = append(all, slices.Clone(v.nominal))
			}
		}
		u.cores, u.ways = append(u.cores, cores), append(u.ways, all)
		u.made = append(u.made, slices.Repeat([]bool{true}, len(all)))
	}
	return u
}

// Set gives the unit's parts their relative deviations.
func (u *Unit) Set(deviations []float64) { u.SetWays(deviations, nil) }

// SetWays is Set for those ways that are looked at next, all where ways is nil; the others
// are of no use until they are set.
func (u *Unit) SetWays(deviations []float64, ways []bool) {
	s := u.simulator
	for i := range s.blocks {
		u.block(i, deviations)
	}
	for i := range s.parted {
		u.factor(i)
	}
	for t := range u.turns {
		u.turns[t].known = false
	}
	for k := range s.ways {
		if ways == nil || ways[k] {
			u.set(k, deviations)
		}
	}
}

// set works out the cores of a way.
func (u *Unit) set(way int, deviations []float64) {
	s := u.simulator
	p := &s.ways[way]
	for n := range p.variants {
		u.made[way][n] = s.turns[p.variants[n].turn].plain
	}
	u.multiply(p.fixed)
	shared := u.way[p.from:p.to]
	u.product.over(shared, s.omega[p.from:p.to])
	u.pull(shared, p, deviations)
	for n := range p.cores {
		x := &p.cores[n]
		h := u.cores[way][n][p.from:p.to]
		gain := 1.0
		for _, i := range x.own {
			if f := &u.parted[i]; f.flat {
				gain *= f.gain
			}
		}
		for i, v := range x.base[p.from:p.to] {
			v *= shared[i]
			h[i] = complex(real(v)*gain, imag(v)*gain)
		}
		for _, i := range x.own {
			if f := &u.parted[i]; !f.flat {
				times(h, f.at[p.from:p.to])
			}
		}
	}
}

// pull takes in what the parts around the stages do to a way.
func (u *Unit) pull(dst []complex128, p *path, deviations []float64) {
	u.pulls = u.pulls[:0]
	for _, e := range p.around {
		u.pulls = append(u.pulls, deviations[e.part])
	}
	row := p.pulls[p.from*len(u.pulls):]
	for i := range dst {
		re, im := 1.0, 0.0
		for n, d := range u.pulls {
			v := row[n]
			re += real(v) * d
			im += imag(v) * d
		}
		dst[i] *= complex(re, im)
		row = row[len(u.pulls):]
	}
}

// factor is what some blocks do together: at every frequency the same, or not.
type factor struct {
	flat bool
	gain float64
	at   []complex128
}

// factor works out one of the parted positions.
func (u *Unit) factor(i int) {
	x, f := &u.simulator.parted[i], &u.parted[i]
	u.multiply(x.blocks)
	if f.flat, f.gain = u.product.flat(), u.product.gain; !f.flat && x.from < x.to {
		u.product.over(f.at[x.from:x.to], u.simulator.omega[x.from:x.to])
	}
}

// multiply makes the product of some blocks.
func (u *Unit) multiply(blocks []int) {
	u.product.clear()
	for _, b := range blocks {
		u.product.times(&u.simulator.blocks[b].form, &u.ratios[b])
	}
}

// Way is the response of a way in one of its variants, at every frequency of the
// simulator; those outside of what is looked at are nominal. The caller must not
// change it.
func (u *Unit) Way(way, variant int) []complex128 {
	h := u.ways[way][variant]
	if !u.made[way][variant] {
		u.made[way][variant] = true
		p := &u.simulator.ways[way]
		v := &p.variants[variant]
		by, core := u.turned(v.turn).at[p.from:p.to], u.cores[way][v.core][p.from:p.to]
		for i := range h[p.from:p.to] {
			h[p.from+i] = core[i] * by[i]
		}
	}
	return h
}

// At is Way at one of the frequencies, by index.
func (u *Unit) At(way, variant, at int) complex128 {
	p := &u.simulator.ways[way]
	v := &p.variants[variant]
	h := u.cores[way][v.core][at]
	if at < p.from || at >= p.to {
		return v.nominal[at]
	}
	if u.simulator.turns[v.turn].plain {
		return h
	}
	return h * u.turned(v.turn).at[at]
}

func times(dst, by []complex128) {
	by = by[:len(dst)]
	for i, v := range by {
		dst[i] *= v
	}
}

// block works out a stage's transfer function.
func (u *Unit) block(i int, deviations []float64) {
	b := &u.simulator.blocks[i]
	u.values = u.values[:0]
	for k, p := range b.parts {
		v := b.nominal[k]
		if p >= 0 {
			v *= 1 + deviations[p]
		}
		u.values = append(u.values, v)
	}
	u.ratios[i] = b.closed(u.values)
}

// over puts a transfer function times a factor at angular frequencies.
func over(dst []complex128, h circuit.Ratio, omega []float64, factor []complex128) {
	if h.N.Degree() > 2 || h.D.Degree() > 2 {
		for i, w := range omega {
			dst[i] = h.At(w) * factor[i]
		}
		return
	}
	n, d := h.N, h.D
	factor, omega = factor[:len(dst)], omega[:len(dst)]
	for i := range dst {
		w := omega[i]
		ww := w * w
		nr, ni := n[0]-n[2]*ww, n[1]*w
		dr, di := d[0]-d[2]*ww, d[1]*w
		inv := 1 / (dr*dr + di*di)
		re, im := (nr*dr+ni*di)*inv, (ni*dr-nr*di)*inv
		fr, fi := real(factor[i]), imag(factor[i])
		dst[i] = complex(re*fr-im*fi, re*fi+im*fr)
	}
}
