package stage

import (
	"math"
	"math/cmplx"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
	"bandwright/compiler/netlist"
	"bandwright/compiler/nodal"
)

// Change is another value (ohm, farad) for a part of a candidate, by its index in
// Candidate.Values.
type Change struct {
	Part  int
	Value float64
}

// Variation is what a candidate with the real op-amp does when fitted parts take other
// values, at the frequencies of a Realised: exact, and without solving the circuit again,
// as a response is a ratio of two linear functions of each admittance.
type Variation struct {
	Candidate
	elements []circuit.Element
	stock    *Stock
	hz       []float64
	port     []int         // of each part, -1 where it is not fitted
	ports    []nodal.Ports // by frequency, with responses over what is wanted
}

// Vary prepares a candidate.
func (r *Realised) Vary(c Candidate) (*Variation, error) {
	v := &Variation{Candidate: c, elements: c.Topology.Parts(), stock: &r.Bench.Stock, hz: r.Hz, ports: make([]nodal.Ports, len(r.Hz))}
	on := newRig(c.Topology, r.Bench.Means.OpAmp, slices.Min(r.Hz))
	if err := on.set(c.Values); err != nil {
		return nil, err
	}
	var parts []int
	for i, fitted := range on.fitted {
		v.port = append(v.port, -1)
		if fitted {
			v.port[i] = len(parts)
			parts = append(parts, on.index[i])
		}
	}
	for k, f := range r.Hz {
		if _, _, err := on.at(f); err != nil {
			return nil, err
		}
		p := &v.ports[k]
		if err := on.solver.Ports(p, on.out, parts); err != nil {
			return nil, err
		}
		scale := complex128(0)
		if want := c.wanted(f); want != 0 {
			scale = 1 / want
		}
		p.Out *= scale
		for i := range p.Reach {
			p.Reach[i] *= scale
		}
	}
	return v, nil
}

// Fitted lists the parts that are fitted, and Values what the stock has for one of them
// beside the value that it has.
func (v *Variation) Fitted() []int {
	var out []int
	for i, p := range v.port {
		if p >= 0 {
			out = append(out, i)
		}
	}
	return out
}

// Others lists the values in stock for a part, but for the one that it has.
func (v *Variation) Others(part int) []float64 {
	return slices.DeleteFunc(slices.Clone(v.stock.Of(v.elements[part])), func(x float64) bool { return x == v.Values[part] })
}

// Changed is the candidate with changes, not measured.
func (v *Variation) Changed(changes ...Change) Candidate {
	c := v.Candidate
	c.Values, c.Measured, c.Measures, c.Score = slices.Clone(c.Values), false, Measures{}, 0
	for _, x := range changes {
		c.Values[x.Part] = x.Value
	}
	return c
}

// added is by how much a part's admittance per x grows at frequency k for another value,
// and unit what x is worth: conductance in S, or capacitance in F.
func (v *Variation) added(part int, value float64) (x float64) {
	if v.elements[part].Kind == netlist.Capacitor {
		return value - v.Values[part]
	}
	return 1/value - 1/v.Values[part]
}

func (v *Variation) unit(part, k int) complex128 {
	if v.elements[part].Kind == netlist.Capacitor {
		return complex(0, 2*math.Pi*v.hz[k])
	}
	return 1
}

// Room is what the errors of a stage may be at each frequency: from low to high, in dB
// and in radians; infinite where anything may be.
type Room struct{ LowDB, HighDB, LowRad, HighRad []float64 }

// bounds are ratios of power at one frequency.
type bound struct{ low, high float64 }

// Sweep tries the values of one part of a stage of which some others were changed before.
type Sweep struct {
	v     *Variation
	fixed []Change
	part  int
	// ends are the room's, in the order of the frequencies that have any.
	room   *Room
	counts []int
	powers []bound

	curves []curve // by frequency, as far as known
	known  []bool
	subset nodal.Ports
	bind   int // of counts: where the last value failed
	list   []float64
	x      []float64 // of list
	alive  []int
	others [][]float64 // of each part
	added  [][]float64 // of each part: x of others
}

// curve is the response over the wanted one as a function of x: (a + b·x)/(1 + z·x).
type curve struct{ a, b, z complex128 }

func (c *curve) at(x float64) complex128 {
	return (c.a + c.b*complex(x, 0)) / (1 + c.z*complex(x, 0))
}

// quadratic is q0 + q1·x + q2·x².
type quadratic [3]float64

func (q *quadratic) at(x float64) float64 { return q[0] + x*(q[1]+x*q[2]) }

// squared is |a + b·x|².
func squared(a, b complex128) quadratic {
	return quadratic{float64(real(a)*real(a)) + float64(imag(a)*imag(a)),
		2 * (float64(real(a)*real(b)) + float64(imag(a)*imag(b))),
		float64(real(b)*real(b)) + float64(imag(b)*imag(b))}
}

// minus is q - k·p.
func (q quadratic) minus(k float64, p quadratic) quadratic {
	for i := range q {
		q[i] -= float64(k * p[i])
	}
	return q
}

// Sweep prepares tries within a room. It is not safe for concurrent use.
func (v *Variation) Sweep(room *Room) *Sweep {
	s := &Sweep{v: v, room: room, curves: make([]curve, len(v.hz)), known: make([]bool, len(v.hz)), others: make([][]float64, len(v.Values)), added: make([][]float64, len(v.Values))}
	for k := range v.hz {
		low, high := room.LowDB[k], room.HighDB[k]
		if math.IsInf(low, -1) && math.IsInf(high, 1) && math.IsInf(room.LowRad[k], -1) && math.IsInf(room.HighRad[k], 1) {
			continue
		}
		s.counts, s.powers = append(s.counts, k), append(s.powers, bound{power10(low), power10(high)})
	}
	for i, p := range v.port {
		if p >= 0 {
			s.others[i] = v.Others(i)
			for _, value := range s.others[i] {
				s.added[i] = append(s.added[i], v.added(i, value))
			}
		}
	}
	return s
}

// power10 is a ratio of power from dB.
func power10(db float64) float64 {
	switch {
	case db < -600:
		return 0
	case db > 600:
		return math.MaxFloat64
	}
	g := biquad.FromDB(db)
	return g * g
}

// On moves the sweep to the values in stock of one part behind fixed changes of others.
func (s *Sweep) On(fixed []Change, part int) {
	s.fixed, s.part, s.list, s.x = fixed, part, s.others[part], s.added[part]
	clear(s.known)
}

// curve is the response at frequency k.
func (s *Sweep) curve(k int) *curve {
	c := &s.curves[k]
	if s.known[k] {
		return c
	}
	s.known[k] = true
	v, all := s.v, &s.v.ports[k]
	n, m := len(all.Across), len(s.fixed)+1
	p := &s.subset
	if len(p.Across) != m {
		*p = nodal.Ports{Across: make([]complex128, m), Reach: make([]complex128, m), Z: make([]complex128, m*m)}
	}
	at := func(i int) int {
		if i < len(s.fixed) {
			return v.port[s.fixed[i].Part]
		}
		return v.port[s.part]
	}
	p.Out = all.Out
	for i := range m {
		a := at(i)
		p.Across[i], p.Reach[i] = all.Across[a], all.Reach[a]
		for j := range m {
			p.Z[i*m+j] = all.Z[a*n+at(j)]
		}
	}
	for i, f := range s.fixed {
		p.Change(i, v.unit(f.Part, k)*complex(v.added(f.Part, f.Value), 0))
	}
	u := v.unit(s.part, k)
	c.z = p.Z[m*m-1] * u
	c.a, c.b = p.Out, p.Out*c.z-p.Reach[m-1]*p.Across[m-1]*u
	return c
}

// all begins with every value.
func (s *Sweep) all() {
	s.alive = s.alive[:0]
	for i := range s.x {
		s.alive = append(s.alive, i)
	}
}

// keep drops the values for which one of some quadratics is above 0, and reports whether
// any is left.
func (s *Sweep) keep(all ...quadratic) bool {
	kept := s.alive[:0]
	for _, i := range s.alive {
		x, good := s.x[i], true
		for n := range all {
			good = good && all[n].at(x) <= 0
		}
		if good {
			kept = append(kept, i)
		}
	}
	s.alive = kept
	return len(kept) > 0
}

// look narrows the values down at the frequencies that count, first where the last sweep
// ended, and reports whether any is left.
func (s *Sweep) look(test func(n int, c *curve) bool) bool {
	s.all()
	if len(s.counts) == 0 {
		return len(s.alive) > 0
	}
	if s.bind < len(s.counts) && !test(s.bind, s.curve(s.counts[s.bind])) {
		return false
	}
	for n, k := range s.counts {
		if !test(n, s.curve(k)) {
			s.bind = n
			return false
		}
	}
	return true
}

// Within puts the values whose errors lie within the room, with the errors.
func (s *Sweep) Within(put func(value float64, db, rad []float64)) {
	if !s.look(func(n int, c *curve) bool {
		num, den := squared(c.a, c.b), squared(1, c.z)
		high, low := num.minus(s.powers[n].high, den), den
		for i := range low {
			low[i] = float64(s.powers[n].low*den[i]) - num[i]
		}
		return s.keep(high, low)
	}) {
		return
	}
	for _, i := range s.alive {
		db, rad := s.errors(i)
		if s.turned(rad) {
			put(s.list[i], db, rad)
		}
	}
}

// turned reports whether phases lie within the room.
func (s *Sweep) turned(rad []float64) bool {
	for _, k := range s.counts {
		if rad[k] < s.room.LowRad[k] || rad[k] > s.room.HighRad[k] {
			return false
		}
	}
	return true
}

// errors are those of the i-th value.
func (s *Sweep) errors(i int) (db, rad []float64) {
	db, rad = make([]float64, len(s.curves)), make([]float64, len(s.curves))
	for k := range s.curves {
		db[k], rad[k] = relative(s.curve(k).at(s.x[i]), 1)
	}
	return db, rad
}

// Errors are those with some changes, at least one.
func (s *Sweep) Errors(changes []Change) (db, rad []float64) {
	last := changes[len(changes)-1]
	s.fixed, s.part, s.x = changes[:len(changes)-1], last.Part, []float64{s.v.added(last.Part, last.Value)}
	clear(s.known)
	return s.errors(0)
}

// Every puts every value with its errors.
func (s *Sweep) Every(put func(value float64, db, rad []float64)) {
	for i, value := range s.list {
		db, rad := s.errors(i)
		put(value, db, rad)
	}
}

// Near puts the values whose response over the wanted one is nowhere that counts further
// than limit from target, with the greatest distance.
func (s *Sweep) Near(target []complex128, limit float64, put func(value, distance float64)) {
	if !s.look(func(n int, c *curve) bool {
		t := target[s.counts[n]]
		return s.keep(squared(c.a-t, c.b-t*c.z).minus(limit*limit, squared(1, c.z)))
	}) {
		return
	}
	for _, i := range s.alive {
		worst := 0.0
		for _, k := range s.counts {
			worst = math.Max(worst, cmplx.Abs(s.curve(k).at(s.x[i])-target[k]))
		}
		put(s.list[i], worst)
	}
}
