package batch

import "bandwright/compiler/circuit"

// Unit is one simulated board at a time. It is not safe for concurrent use.
type Unit struct {
	simulator *Simulator
	values    []float64
	blocks    [][]complex128 // of each block over its nominal response
	way       []complex128   // what the variants of a way share
	ways      [][][]complex128
}

// Unit is a board to be simulated, with nominal parts at first.
func (s *Simulator) Unit() *Unit {
	u := &Unit{simulator: s, way: make([]complex128, len(s.Hz))}
	for range s.blocks {
		u.blocks = append(u.blocks, make([]complex128, len(s.Hz)))
	}
	for _, p := range s.ways {
		var all [][]complex128
		for _, v := range p.variants {
			all = append(all, append([]complex128{}, v.nominal...))
		}
		u.ways = append(u.ways, all)
	}
	return u
}

// Set gives the unit's parts their relative deviations.
func (u *Unit) Set(deviations []float64) {
	s := u.simulator
	for i := range s.blocks {
		u.block(i, deviations)
	}
	for k := range s.ways {
		p := &s.ways[k]
		shared := u.way[p.from:p.to]
		for i := range shared {
			shared[i] = 1
		}
		for _, e := range p.around {
			d := complex(deviations[e.part], 0)
			for i, v := range e.s[p.from:p.to] {
				shared[i] += v * d
			}
		}
		for _, b := range p.fixed {
			times(shared, u.blocks[b][p.from:p.to])
		}
		for n := range p.variants {
			v := &p.variants[n]
			h := u.ways[k][n][p.from:p.to]
			for i, x := range v.nominal[p.from:p.to] {
				h[i] = x * shared[i]
			}
			for _, b := range v.own {
				times(h, u.blocks[b][p.from:p.to])
			}
		}
	}
}

// Way is the response of a way in one of its variants, at every frequency of the
// simulator; those outside of what is looked at are nominal. The caller must not
// change it.
func (u *Unit) Way(way, variant int) []complex128 { return u.ways[way][variant] }

func times(dst, by []complex128) {
	by = by[:len(dst)]
	for i, v := range by {
		dst[i] *= v
	}
}

// block works out a stage's response over its nominal one.
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
	over(u.blocks[i][b.from:b.to], b.closed(u.values), u.simulator.omega[b.from:b.to], b.inverse[b.from:b.to])
}

// over puts a transfer function times a factor at angular frequencies.
func over(dst []complex128, h circuit.Ratio, omega []float64, factor []complex128) {
	if len(h.N) > 3 || len(h.D) > 3 {
		for i, w := range omega {
			dst[i] = h.At(w) * factor[i]
		}
		return
	}
	var n, d [3]float64
	copy(n[:], h.N)
	copy(d[:], h.D)
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
