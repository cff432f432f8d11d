package batch

import "bandwright/compiler/circuit"

// Unit is one simulated board at a time. It is not safe for concurrent use.
type Unit struct {
	simulator   *Simulator
	values      []float64
	ratios      []circuit.Ratio // of each block
	parted      []factor
	product     product
	way, around []complex128 // what the variants of a way share
	ways        [][][]complex128
}

// Unit is a board to be simulated, with nominal parts at first.
func (s *Simulator) Unit() *Unit {
	u := &Unit{simulator: s, ratios: make([]circuit.Ratio, len(s.blocks)), parted: make([]factor, len(s.parted)),
		way: make([]complex128, len(s.Hz)), around: make([]complex128, len(s.Hz))}
	for i := range u.parted {
		u.parted[i].at = make([]complex128, len(s.Hz))
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
	for k := range s.ways {
		if ways != nil && !ways[k] {
			continue
		}
		p := &s.ways[k]
		u.multiply(p.fixed)
		shared, around := u.way[p.from:p.to], u.around[p.from:p.to]
		u.product.over(shared, s.omega[p.from:p.to])
		for i := range around {
			around[i] = 1
		}
		for _, e := range p.around {
			d := deviations[e.part]
			for i, v := range e.s[p.from:p.to] {
				around[i] += complex(real(v)*d, imag(v)*d)
			}
		}
		times(shared, around)
		for n := range p.variants {
			v := &p.variants[n]
			h := u.ways[k][n][p.from:p.to]
			gain := 1.0
			for _, i := range v.own {
				if f := &u.parted[i]; f.flat {
					gain *= f.gain
				}
			}
			for i, x := range v.base[p.from:p.to] {
				x *= shared[i]
				h[i] = complex(real(x)*gain, imag(x)*gain)
			}
			for _, i := range v.own {
				if f := &u.parted[i]; !f.flat {
					times(h, f.at[p.from:p.to])
				}
			}
		}
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
func (u *Unit) Way(way, variant int) []complex128 { return u.ways[way][variant] }

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
