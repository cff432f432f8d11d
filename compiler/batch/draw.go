package batch

import "math"

// seed is that of every batch.
const seed = 0x6a09e667f3bcc908

// random is a sequence of numbers that is the same on every run: splitmix64
// (Steele, Lea, Flood, OOPSLA 2014, figure 17).
type random uint64

func (r *random) next() uint64 {
	*r += 0x9e3779b97f4a7c15
	z := uint64(*r)
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return z ^ z>>31
}

// unit is the next number from 0 to 1, neither included.
func (r *random) unit() float64 { return (float64(r.next()>>11) + 0.5) / (1 << 53) }

// uniform is the next number from -1 to 1.
func (r *random) uniform() float64 { return 2*r.unit() - 1 }

// normal is the next number of the normal distribution with a third as standard
// deviation, without what lies beyond ±1: such parts are not delivered. By Box and
// Muller, Ann. Math. Statist. 29, 1958.
func (r *random) normal() float64 {
	for {
		if z := math.Sqrt(-2*math.Log(r.unit())) * math.Cos(2*math.Pi*r.unit()) / 3; math.Abs(z) <= 1 {
			return z
		}
	}
}

// What is drawn of each part, each from a sequence of its own, so that one does not
// move the others.
const (
	asMade   = iota // its deviation as delivered
	byHeat          // its temperature coefficient
	byAgeing        // its drift over the years
	draws
)

// sequence is the one for one thing that is drawn of one board.
func sequence(board, what int) *random {
	r := random(seed)
	r ^= random(uint64(board)*draws+uint64(what)) * 0xd1342543de82ef95
	r.next() // neighbours part
	s := random(r.next())
	return &s
}

// draw puts one thing that is drawn of a board, from -1 to 1 of each part.
func draw(dst []float64, board, what int, normal bool) {
	r := sequence(board, what)
	for i := range dst {
		if normal {
			dst[i] = r.normal()
		} else {
			dst[i] = r.uniform()
		}
	}
}
