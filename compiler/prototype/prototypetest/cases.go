package prototypetest

import (
	"math"
	"math/rand"

	"bandwright/biquad"
	"bandwright/compiler/prototype"
)

// cases has one entry for every kind.
var cases = map[string]Case{
	"low-pass": {
		Random: randomAlignment,
		Levels: func(g Given) []Level {
			edge, pass, far := alignmentLevels(g)
			return []Level{{0, pass}, {g["at"].(float64), edge}, {math.Inf(1), far}}
		},
		KeepHz: at,
		Order:  alignmentOrder,
	},
	"high-pass": {
		Random: randomAlignment,
		Levels: func(g Given) []Level {
			edge, pass, far := alignmentLevels(g)
			return []Level{{math.Inf(1), pass}, {g["at"].(float64), edge}, {0, far}}
		},
		KeepHz: at,
		Order:  alignmentOrder,
	},
	"band-pass": {
		Random: func(r *rand.Rand) Given { return Given{"at": anyHz(r), "q": anyQ(r)} },
		Levels: func(g Given) []Level {
			f, q := g["at"].(float64), g["q"].(float64)
			// At the two frequencies f·(√(1+1/4q²) ± 1/2q) it is 3.01 dB down.
			d := 1 / (2 * q)
			up := math.Sqrt(1+d*d) + d
			return []Level{{0, 0}, {f, 1}, {f * up, math.Sqrt(0.5)}, {f / up, math.Sqrt(0.5)}, {math.Inf(1), 0}}
		},
		KeepHz: at,
		Order:  two,
	},
	"notch": {
		Random: func(r *rand.Rand) Given {
			g := Given{"at": anyHz(r), "q": anyQ(r)}
			switch r.Intn(3) {
			case 0:
				g["depth"] = between(r, 0.01, 120)
			case 1:
				g["depth"] = "complete"
			}
			return g
		},
		Levels: func(g Given) []Level {
			d := 0.0
			if db, ok := g["depth"].(float64); ok {
				d = biquad.FromDB(-db)
			}
			return []Level{{0, 1}, {g["at"].(float64), d}, {math.Inf(1), 1}}
		},
		KeepHz: at,
		Order:  two,
	},
	"all-pass": {
		Random: func(r *rand.Rand) Given {
			if r.Intn(2) == 0 {
				return Given{"at": anyHz(r), "order": 1}
			}
			return Given{"at": anyHz(r), "q": anyQ(r)}
		},
		Levels: func(g Given) []Level {
			f := g["at"].(float64)
			return []Level{{0, 1}, {f / 3, 1}, {f, 1}, {1.1 * f, 1}, {7 * f, 1}, {math.Inf(1), 1}}
		},
		KeepHz: at,
		Order:  orderOrTwo,
	},
	"peak": {
		Random: func(r *rand.Rand) Given {
			g := Given{"at": anyHz(r), "gain": between(r, -60, 60)}
			if r.Intn(2) == 0 {
				g["q"] = anyQ(r)
			} else {
				g["bandwidth"] = between(r, 0.01, 10)
			}
			return g
		},
		Levels: func(g Given) []Level {
			f, half := g["at"].(float64), biquad.FromDB(g["gain"].(float64)/2)
			ls := []Level{{0, 1}, {f, half * half}, {math.Inf(1), 1}}
			if bw, ok := g["bandwidth"].(float64); ok {
				up := math.Exp2(bw / 2)
				ls = append(ls, Level{f * up, half}, Level{f / up, half})
			}
			return ls
		},
		Undo:   opposite,
		KeepHz: at,
		Order:  two,
	},
	"low-shelf": {
		Random: randomShelf,
		Levels: func(g Given) []Level {
			half := biquad.FromDB(g["gain"].(float64) / 2)
			return []Level{{0, half * half}, {g["at"].(float64), half}, {math.Inf(1), 1}}
		},
		Undo:   opposite,
		KeepHz: at,
		Order:  orderOrTwo,
	},
	"high-shelf": {
		Random: randomShelf,
		Levels: func(g Given) []Level {
			half := biquad.FromDB(g["gain"].(float64) / 2)
			return []Level{{0, 1}, {g["at"].(float64), half}, {math.Inf(1), half * half}}
		},
		Undo:   opposite,
		KeepHz: at,
		Order:  orderOrTwo,
	},
	"pole-shift": {
		Random: func(r *rand.Rand) Given {
			return Given{"from": Given{"at": anyHz(r), "q": anyQ(r)}, "to": Given{"at": anyHz(r), "q": anyQ(r)}}
		},
		Levels: func(g Given) []Level {
			ratio := g["from"].(Given)["at"].(float64) / g["to"].(Given)["at"].(float64)
			return []Level{{0, ratio * ratio}, {math.Inf(1), 1}}
		},
		Undo:   func(g Given) Given { return Given{"from": g["to"], "to": g["from"]} },
		KeepHz: func(g Given) float64 { return g["to"].(Given)["at"].(float64) },
		Order:  two,
	},
	"dipole-lift": {
		Random: func(r *rand.Rand) Given {
			a, b := anyHz(r), anyHz(r)
			return Given{"from": math.Max(a, b) * 1.01, "to": math.Min(a, b)}
		},
		Levels: func(g Given) []Level {
			return []Level{{0, g["from"].(float64) / g["to"].(float64)}, {math.Inf(1), 1}}
		},
		KeepHz: func(g Given) float64 { return g["to"].(float64) },
		Order:  func(Given) int { return 1 },
	},
	"rational": {
		Random: randomRational,
		Levels: func(g Given) []Level {
			num, den := g["numerator"].([]any), g["denominator"].([]any)
			end := math.Abs(num[len(num)-1].(float64) / den[len(den)-1].(float64))
			far := 0.0
			if len(num) == len(den) {
				far = math.Abs(num[0].(float64) / den[0].(float64))
			}
			return []Level{{0, end}, {math.Inf(1), far}}
		},
		KeepHz: at,
		Order:  func(g Given) int { return len(g["denominator"].([]any)) - 1 },
	},
	"roots": {
		Random: randomRoots,
		Levels: func(g Given) []Level {
			if f, ok := g["unity-at"].(float64); ok {
				return []Level{{f, 1}}
			}
			return []Level{{math.Inf(1), 1}}
		},
		Order: func(g Given) int { return count(g["poles"].([]any)) },
	},
	"gain": {
		Random: func(r *rand.Rand) Given { return Given{"by": between(r, -60, 60)} },
		Levels: func(g Given) []Level {
			l := biquad.FromDB(g["by"].(float64))
			return []Level{{0, l}, {1000, l}, {math.Inf(1), l}}
		},
		Undo:  func(g Given) Given { return Given{"by": -g["by"].(float64)} },
		Order: func(Given) int { return 0 },
	},
	"delay": {
		Random: func(r *rand.Rand) Given {
			if r.Intn(2) == 0 {
				return Given{"by": Metres(between(r, 0, 343))}
			}
			return Given{"by": between(r, 0, 1)}
		},
		Levels: func(Given) []Level { return []Level{{0, 1}, {12345, 1}} },
		Order:  func(Given) int { return 0 },
	},
}

func at(g Given) float64 { return g["at"].(float64) }

func two(Given) int { return 2 }

func orderOrTwo(g Given) int {
	if n, ok := g["order"].(int); ok {
		return n
	}
	return 2
}

func between(r *rand.Rand, lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }

// anyHz and anyQ are spread evenly over the logarithm of the whole range.
func anyHz(r *rand.Rand) float64 { return spread(r, 0.001, 1e6) }

func anyQ(r *rand.Rand) float64 { return spread(r, 0.05, 1000) }

func spread(r *rand.Rand, lo, hi float64) float64 {
	return math.Min(hi, math.Max(lo, math.Exp2(between(r, math.Log2(lo), math.Log2(hi)))))
}

// opposite is the same filter with the gain's sign turned. Slope stays the
// slope: A+1/A is the same for both signs.
func opposite(g Given) Given {
	o := Given{}
	for k, v := range g {
		o[k] = v
	}
	o["gain"] = -g["gain"].(float64)
	return o
}

func randomShelf(r *rand.Rand) Given {
	g := Given{"at": anyHz(r), "gain": between(r, -60, 60)}
	switch r.Intn(4) {
	case 0:
		g["order"] = 1
	case 1:
		g["q"] = anyQ(r)
	case 2:
		g["slope"] = between(r, 0.01, 1) // 1 and less suit every gain
	}
	return g
}

func randomAlignment(r *rand.Rand) Given {
	g := Given{"at": anyHz(r)}
	if r.Intn(8) == 0 {
		g["q"] = anyQ(r)
		if r.Intn(2) == 0 {
			g["order"] = 2
		}
		return g
	}
	f := prototype.Families[r.Intn(len(prototype.Families))]
	g["family"] = f.Name
	n := 1 + r.Intn(prototype.MaxOrder)
	if f.EvenOnly {
		n += n % 2
	}
	g["order"] = n
	if f.UsesRipple {
		g["ripple"] = spread(r, 0.001, 3)
	}
	if f.UsesStop {
		g["stop"] = between(r, 40, 200) // 20 dB would ask for a Q above 10 000 at order 12
	}
	if f.UsesScale && r.Intn(2) == 0 {
		g["scaled-by"] = []string{"level", "delay", "phase"}[r.Intn(3)]
	}
	return g
}

func alignmentOrder(g Given) int {
	if n, ok := g["order"].(int); ok {
		return n
	}
	return 2
}

// alignmentLevels is what the key table says of a low-pass: the gain at `at`,
// at 0 Hz and at infinity; NaN where it states none is left to the families'
// own tests.
func alignmentLevels(g Given) (edge, pass, far float64) {
	family, _ := g["family"].(string)
	ripple, _ := g["ripple"].(float64)
	stop, _ := g["stop"].(float64)
	even := alignmentOrder(g)%2 == 0
	pass = 1
	switch family {
	case "":
		return g["q"].(float64), 1, 0
	case "LR":
		return 0.5, 1, 0
	case "chebyshev", "elliptic":
		if even {
			pass = biquad.FromDB(-ripple)
			if family == "elliptic" {
				far = biquad.FromDB(-stop)
			}
		}
		return biquad.FromDB(-ripple), pass, far
	case "inverse-chebyshev":
		if even {
			far = biquad.FromDB(-stop)
		}
		return biquad.FromDB(-stop), 1, far
	case "bessel":
		if scale, ok := g["scaled-by"].(string); ok && scale != "level" {
			return besselEdge(alignmentOrder(g), scale), 1, 0
		}
	}
	return math.Sqrt(0.5), 1, 0
}

// besselEdge is |θn(0)/θn(jω)| where the scale puts `at`: ω = 1 for delay, the
// n-th root of θn(0) for phase. θn by its recurrence θn = (2n-1)θn-1 + s²θn-2
// (H. L. Krall, O. Frink, Trans. Amer. Math. Soc. 65, 1949).
func besselEdge(n int, scale string) float64 {
	w := 1.0
	if scale == "phase" {
		lg := 0.0
		for k := 1; k < 2*n; k += 2 {
			lg += math.Log2(float64(k))
		}
		w = math.Exp2(lg / float64(n))
	}
	a, b := complex(1, 0), complex(1, w)
	zero := 1.0
	for k := 2; k <= n; k++ {
		a, b = b, complex(float64(2*k-1), 0)*b-complex(w*w, 0)*a
		zero *= float64(2*k - 1)
	}
	return zero / math.Hypot(real(b), imag(b))
}

// randomRational multiplies out stable pairs and any zeros.
func randomRational(r *rand.Rand) Given {
	n := r.Intn(prototype.MaxOrder + 1)
	m := r.Intn(n + 1)
	den := product(r, n, func() float64 { return 1 / spread(r, 0.3, 30) })
	num := product(r, m, func() float64 { return between(r, -2, 3) })
	return Given{"at": spread(r, 10, 30e3), "numerator": num, "denominator": den}
}

// product is the coefficients, highest power first, of random factors with
// frequencies within a decade of p = 1.
func product(r *rand.Rand, n int, damping func() float64) []any {
	c := []float64{between(r, 0.1, 10)}
	for n > 0 {
		w := spread(r, 0.3, 3)
		f := []float64{1, damping() * w, w * w}
		if n == 1 {
			f = []float64{1, w}
		}
		next := make([]float64, len(c)+len(f)-1)
		for i, a := range c {
			for j, b := range f {
				next[i+j] += a * b
			}
		}
		c, n = next, n-len(f)+1
	}
	out := make([]any, len(c))
	for i, v := range c {
		out[i] = v
	}
	return out
}

// randomRoots keeps the poles within a decade around `unity-at`, so that the
// response there stays within the 200 dB that the kind allows.
func randomRoots(r *rand.Rand) Given {
	var poles, zeros []any
	for len(poles) == 0 || r.Intn(3) > 0 && len(poles) < 6 {
		f := spread(r, 300, 3000)
		if r.Intn(2) == 0 {
			poles = append(poles, f)
		} else {
			poles = append(poles, Given{"at": f, "q": anyQ(r)})
		}
	}
	for n := count(poles) - r.Intn(count(poles)+1); n > 0 && len(zeros) < 12; n-- {
		f := spread(r, 10, 20e3)
		switch r.Intn(5) {
		case 0:
			zeros = append(zeros, f)
		case 1:
			zeros = append(zeros, 0.0)
		case 2:
			zeros = append(zeros, Given{"at": f, "side": "right"})
		default:
			if n < 2 {
				continue
			}
			n--
			switch r.Intn(3) {
			case 0:
				zeros = append(zeros, Given{"at": f, "q": "inf"})
			case 1:
				zeros = append(zeros, Given{"at": f, "q": anyQ(r)})
			default:
				zeros = append(zeros, Given{"at": f, "q": anyQ(r), "side": "right"})
			}
		}
	}
	g := Given{"poles": poles, "unity-at": spread(r, 600, 1500)}
	if len(zeros) > 0 {
		g["zeros"] = zeros
	}
	if count(zeros) == count(poles) && r.Intn(2) == 0 {
		g["unity-at"] = "inf"
	}
	return g
}

// count is the number of roots of a list.
func count(list []any) int {
	n := 0
	for _, e := range list {
		n++
		if g, ok := e.(Given); ok && g["q"] != nil {
			n++
		}
	}
	return n
}
