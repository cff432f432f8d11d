package compare

import (
	"math"
	"math/cmplx"
	"testing"
)

// model is the loudspeaker of plover.yaml written down once more, straight
// from the textbook's H(s), to judge the decibels of the sentences.
type model struct {
	highPass, wallDB         float64
	boxTo                    float64
	peakAt, peakQ, peakDB    float64
	extraDB                  float64 // of a further peak at 150 Hz, q 1
	bassDB, trebleDB, trimDB float64
	lower, lowerLow, upper   float64 // lowerLow is 0 where both sides are alike
	lateS, treble            float64 // treble's delay, its polarity
	wall, trim               bool
}

func base() model {
	return model{highPass: 25, wallDB: -3, boxTo: 40, peakAt: 92, peakQ: 2.2, peakDB: -2.5,
		bassDB: -4, trebleDB: -1.5, trimDB: -1, lower: 260, upper: 2500, lateS: 0.1e-3, treble: 1}
}

func gain(db float64) complex128 { return complex(math.Pow(10, db/20), 0) }

// second is (b2·p² + b1·p + b0)/(a2·p² + a1·p + a0) at p = jf/at.
func second(f, at float64, b, a [3]float64) complex128 {
	p := complex(0, f/at)
	poly := func(c [3]float64) complex128 { return complex(c[0], 0)*p*p + complex(c[1], 0)*p + complex(c[2], 0) }
	return poly(b) / poly(a)
}

// bell is the peak of the W3C Audio EQ Cookbook's analog prototypes.
func bell(f, at, q, db float64) complex128 {
	a := math.Pow(10, db/40)
	return second(f, at, [3]float64{1, a / q, 1}, [3]float64{1, 1 / (a * q), 1})
}

var butterworth = [3]float64{1, math.Sqrt2, 1}

// ways are bass, mid, treble and their sum at f (Hz).
func (m model) ways(f float64) map[string]complex128 {
	common := second(f, m.highPass, [3]float64{1, 0, 0}, butterworth)
	if m.wall { // low-shelf at 200 Hz, q 0.7, of the same cookbook
		a := math.Pow(10, m.wallDB/40)
		r := math.Sqrt(a) / 0.7
		common *= complex(a, 0) * second(f, 200, [3]float64{1, r, a}, [3]float64{a, r, 1})
	}
	low := func(at float64) complex128 {
		h := second(f, at, [3]float64{0, 0, 1}, butterworth)
		return h * h
	}
	high := func(at float64) complex128 {
		h := second(f, at, [3]float64{1, 0, 0}, butterworth)
		return h * h
	}
	lowerLow := m.lower
	if m.lowerLow > 0 {
		lowerLow = m.lowerLow
	}
	p := complex(0, f)
	box := (p*p + p*58/0.8 + 58*58) / (p*p + p*complex(m.boxTo/0.7, 0) + complex(m.boxTo*m.boxTo, 0))
	bass := common * box * bell(f, m.peakAt, m.peakQ, m.peakDB) * bell(f, 150, 1, m.extraDB) * gain(m.bassDB) * low(lowerLow)
	mid := common * bell(f, 1100, 1.5, -2) * high(m.lower) * low(m.upper)
	treble := common * gain(m.trebleDB) * high(m.upper) * complex(m.treble, 0) * cmplx.Exp(complex(0, -2*math.Pi*f*m.lateS))
	if m.trim {
		treble *= gain(m.trimDB)
	}
	return map[string]complex128{"bass": bass, "mid": mid, "treble": treble, "sum": bass + mid + treble}
}

func level(h complex128) float64 { return 20 * math.Log10(cmplx.Abs(h)) }

// TestDecibelsOfEdits holds every sentence of a simple retune to the model: the
// decibels at the frequency and in the settings named, and that nowhere where
// the way is heard they are more.
func TestDecibelsOfEdits(t *testing.T) {
	src := plover(t)
	was := accepted(t, src)
	judged, interactions := 0, 0
	for _, e := range specEdits {
		if e.parts == nil {
			continue
		}
		c := Results(was, accepted(t, replaced(t, src, e.replace...)))
		for _, x := range c.Changes {
			if x.Kind == OfInteraction {
				if d := interaction(e.parts, x); math.Abs(d-x.DB) > sameDB {
					t.Errorf("%s: %s\n\tis %+.6f dB by the model, not %+.6f", e.what, x.Sentence, d, x.DB)
				}
				interactions++
			}
			if x.Kind != OfResponse {
				continue
			}
			part := e.parts[x.Causes[0]]
			if part == nil {
				t.Errorf("%s: no part of the edit is called %s", e.what, x.Causes[0])
				continue
			}
			before, after := base(), base()
			for _, m := range []*model{&before, &after} {
				m.wall, m.trim = x.Setting["placement"] == "wall", x.Setting["trim"] == "-1 dB"
			}
			part(&after)
			way := x.Way
			if way == "every way" {
				way = "bass"
			}
			most, mostHz := before.most(after, way)
			if most == 0 { // delay and polarity are told by the sum
				way = "sum"
				most, mostHz = before.most(after, way)
			}
			if d := level(after.ways(x.AtHz)[way]) - level(before.ways(x.AtHz)[way]); math.Abs(d-x.DB) > sameDB {
				t.Errorf("%s: %s\n\tis %+.6f dB by the model, not %+.6f", e.what, x.Sentence, d, x.DB)
			}
			if most > math.Abs(x.DB)*nearlyMost+sameDB {
				t.Errorf("%s: %s\n\tis %.4f dB at %.4g Hz by the model", e.what, x.Sentence, most, mostHz)
			}
			judged++
		}
	}
	if judged < 40 || interactions < 2 {
		t.Errorf("only %d sentences and %d interactions judged", judged, interactions)
	}
}

// interaction is what all parts of an edit do to a way together beyond what
// each does alone, dB.
func interaction(parts map[string]func(*model), x Change) float64 {
	at := func(m model) float64 {
		m.wall, m.trim = x.Setting["placement"] == "wall", x.Setting["trim"] == "-1 dB"
		return level(m.ways(x.AtHz)[x.Way])
	}
	was, all := at(base()), base()
	rest := 0.0
	for _, part := range parts {
		alone := base()
		part(&alone)
		part(&all)
		rest -= at(alone) - was
	}
	return rest + at(all) - was
}

const (
	sameDB = 1e-9 // both are float64 all the way
	// nearlyMost allows for a maximum between two frequencies of the grid, and
	// for a sentence in the default settings where others are hardly worse.
	nearlyMost = 1.03
)

// most is the greatest change of a way's level where either is within 20 dB of
// its peak, on a grid of its own.
func (m model) most(after model, way string) (db, hz float64) {
	const steps = 3000
	at := func(i int) float64 { return 20 * math.Pow(1000, float64(i)/steps) }
	px, py := math.Inf(-1), math.Inf(-1)
	for i := range steps + 1 {
		px, py = math.Max(px, level(m.ways(at(i))[way])), math.Max(py, level(after.ways(at(i))[way]))
	}
	for i := range steps + 1 {
		x, y := level(m.ways(at(i))[way]), level(after.ways(at(i))[way])
		if math.Max(x-px, y-py) >= -20 && math.Abs(y-x) > db+1e-12 {
			db, hz = math.Abs(y-x), at(i)
		}
	}
	return db, hz
}
