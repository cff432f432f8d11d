package discretize

import (
	"context"
	"fmt"
	"math"
	"slices"

	"bandwright/biquad"
)

// nameFit is the default method's name.
const nameFit = "fit"

func fit() Method {
	return Method{
		Name: nameFit,
		Doc: "minimax error: the fixed filters of ways that sum are fitted jointly in magnitude, relative phase and " +
			"sum, with one delay for all; single ways, common and switched filters in magnitude",
		Realise: realiseFit,
		Section: fitAlone,
	}
}

// How the error that a promise allows is shared out. The common filters' error
// is in every way, so they get less than half; what they and the switched
// filters leave is the joint fit's, but never less than a tenth, and a margin
// for rounding to words stays free.
const (
	commonShare = 0.3
	usedShare   = 0.9
	leastShare  = 0.1
)

// floorMargin (dB) widens the range of levels that a fit answers for beyond
// the promise's own, since settings move a way's peak.
const floorMargin = 3

// realiseFit fits every cascade as a whole.
func realiseFit(ctx context.Context, j Job) (Made, error) {
	if j.SectionBySection {
		return sectionWise(ctx, j, fit())
	}
	ways := len(j.Prototype.Ways)
	m := Made{WayNotes: make([]string, ways)}

	// A fraction of a sample that all ways share becomes part of every way.
	samples := j.Prototype.Common.DelayS * j.RateHz
	whole := math.Floor(samples + sameSample)
	rest := max(0, samples-whole) / j.RateHz
	if ways == 1 || rest*j.RateHz < sameSample {
		whole, rest = math.Round(samples), 0
	}
	common := newFitting(j.Prototype.Common, j)
	fs := make([]*fitting, ways)
	for i, w := range j.Prototype.Ways {
		fs[i] = newFitting(w.Cascade, j)
		fs[i].reach(common, fs[i])
		common.reach(common, fs[i])
	}
	if err := common.alone(); err != nil {
		return Made{}, err
	}
	common.magnitude("common", j.Goals.MagnitudeDB*commonShare)
	common.cascade.DelayS = whole / j.RateHz
	m.System.Common = common.finish(j.RateHz)
	m.CommonNote = common.note

	spent := common.errorDB
	worst := 0.0
	for i := range j.Prototype.Ways {
		if err := fs[i].alone(); err != nil {
			return Made{}, err
		}
		if err := ctx.Err(); err != nil {
			return Made{}, err
		}
		worst = max(worst, fs[i].errorDB)
	}
	left := func(goal float64) float64 {
		return max(leastShare*goal, usedShare*goal-spent-worst)
	}
	if ways == 1 {
		fs[0].magnitude("ways."+j.Prototype.Ways[0].Name, left(j.Goals.MagnitudeDB))
		fs[0].cascade.DelayS = math.Round(j.Prototype.Ways[0].DelayS*j.RateHz) / j.RateHz
	} else {
		m.CommonDelayS = jointly(ctx, fs, j, rest, Aims{
			WayDB: left(j.Goals.MagnitudeDB), SumDB: left(j.Goals.SumDB),
			PhaseDeg: j.Goals.PhaseDeg * phaseShare, OverlapDeg: j.Goals.PhaseDeg * usedShare, Extra: j.Goals.ExtraBiquads,
		})
	}
	for i, w := range j.Prototype.Ways {
		m.System.Ways = append(m.System.Ways, biquad.Way[biquad.Digital]{Name: w.Name, Polarity: w.Polarity, Cascade: fs[i].finish(j.RateHz)})
		m.WayNotes[i] = fs[i].note
	}
	return m, ctx.Err()
}

// phaseShare is the part of the phase promise that neighbours may differ by at
// their crossover, where what they differ by shows in every direction but one.
const phaseShare = 0.5

// fitting is a cascade being fitted: its switched positions and those with a
// method of their own are realised alone, the others as a whole.
type fitting struct {
	made
	job    Job
	proto  biquad.Cascade[biquad.Analog]
	fixed  []biquad.Analog // of the positions fitted as a whole
	labels [][]string      // their spec lines
	band   Band
	// errorDB is the greatest magnitude error so far (dB): of what is realised
	// alone, and after magnitude of the whole cascade.
	errorDB float64
	note    string
}

func newFitting(c biquad.Cascade[biquad.Analog], j Job) *fitting {
	f := &fitting{job: j, proto: c}
	f.cascade.Gain = c.Gain
	for k, s := range c.Slots {
		if f.isFixed(k) {
			f.fixed = append(f.fixed, s.Alt[0])
			f.labels = append(f.labels, s.From)
		}
	}
	f.band = j.band(f.fixed)
	return f
}

// reach lowers the floor of what f answers for to its level wherever the path
// of a way, common and own filters together, still counts: a common filter may
// lie far down in a range that only one way is left in.
func (f *fitting) reach(common, way *fitting) {
	var level, own []float64
	for _, hz := range f.job.grid() {
		level = append(level, common.levelDB(hz)+way.levelDB(hz))
		own = append(own, ahead(f.fixed, hz))
	}
	peak := slices.Max(level)
	for i, l := range level {
		if l >= peak+f.job.DownToDB {
			f.band.FloorDB = min(f.band.FloorDB, max(own[i]-floorMargin, lowestFloorDB))
		}
	}
}

// lowestFloorDB is where floors end: what lies lower is lost in any format.
const lowestFloorDB = -240

// levelDB is the prototype's level, every setting at its first choice.
func (f *fitting) levelDB(hz float64) float64 {
	db := 0.0
	for _, s := range f.proto.Slots {
		k := 0
		if len(s.Pick) > 0 {
			k = int(s.Pick[0])
		}
		db += biquad.DB(s.Alt[k].At(2 * math.Pi * hz))
	}
	return db
}

// isFixed reports whether position k is fitted together with others.
func (f *fitting) isFixed(k int) bool {
	s := &f.proto.Slots[k]
	return len(s.By) == 0 && (s.Method == "" || s.Method == nameFit) && s.Alt[0].Order() > 0
}

// grid lists frequencies (Hz) of the band at which levels are looked at. It is
// biquad.OctavesBelow but for rounding: the last digits of every fit hang on its
// floor, and so on these very points.
func (j Job) grid() []float64 {
	var hz []float64
	for f := j.LowHz; f <= j.HighHz; f *= math.Exp2(1.0 / auditPerOctave) {
		hz = append(hz, f)
	}
	return hz
}

// band is what a fit of sections answers for.
func (j Job) band(as []biquad.Analog) Band {
	peak := math.Inf(-1)
	for _, f := range j.grid() {
		peak = max(peak, ahead(as, f))
	}
	return Band{LowHz: j.LowHz, HighHz: j.HighHz, FloorDB: j.DownToDB + min(0, peak) - floorMargin}
}

// alone realises the positions that are not fitted together and adds up their
// greatest errors.
func (f *fitting) alone() error {
	var slots []biquad.Slot[biquad.Analog]
	for k, s := range f.proto.Slots {
		if f.isFixed(k) {
			continue
		}
		if err := f.addAlone(s, fit(), f.job); err != nil {
			return err
		}
		slots = append(slots, s)
	}
	for _, hz := range f.job.grid() {
		p, sum := biquad.PointAt(hz, f.job.RateHz), 0.0
		for k, s := range slots {
			e := 0.0
			for i, a := range s.Alt {
				e = max(e, math.Abs(biquad.DB(f.cascade.Slots[k].Alt[i].At(p))-biquad.DB(a.At(2*math.Pi*hz))))
			}
			sum += e
		}
		f.errorDB = max(f.errorDB, sum)
	}
	return nil
}

// magnitude fits the fixed positions to within goalDB if it can.
func (f *fitting) magnitude(name string, goalDB float64) {
	if len(f.fixed) == 0 {
		return
	}
	r := Enough(f.fixed, f.job.RateHz, f.band, goalDB, f.job.Goals.ExtraBiquads)
	f.errorDB += r.Audit.WorstDB
	f.whole(r.Sections, name, "fitted in magnitude", len(r.Sections)-len(f.fixed))
	if !r.Fitted {
		f.note = "no fit met the safety limits: magnitude-matched instead"
	}
}

// whole adds the sections of a fit, which belong to no single spec line unless
// there is only one.
func (f *fitting) whole(ds []biquad.Digital, name, how string, extra int) {
	switch {
	case extra == 1:
		how += ", with one extra biquad"
	case extra > 1:
		how += fmt.Sprintf(", with %d extra biquads", extra)
	}
	from := []string{name}
	if len(ds) == 1 && len(f.labels) == 1 {
		from = f.labels[0]
	}
	for _, d := range ds {
		s := biquad.Fixed(d, from...)
		s.How = how
		f.cascade.Slots = append(f.cascade.Slots, s)
	}
}

// jointly fits the fixed positions of all ways jointly and returns the delay
// that they share (s). rest (s) is delayed in every way.
func jointly(ctx context.Context, fs []*fitting, j Job, rest float64, aims Aims) float64 {
	band := Band{LowHz: j.LowHz, HighHz: j.HighHz}
	var ways []Way
	for i, f := range fs {
		w := j.Prototype.Ways[i]
		ways = append(ways, Way{Sections: f.fixed, Gain: w.Gain * w.Polarity, DelayS: w.DelayS + rest})
		band.FloorDB = min(band.FloorDB, f.band.FloorDB)
	}
	s := FitSystem(ctx, ways, j.RateHz, band, aims)
	for i, f := range fs {
		r := s.Ways[i]
		f.cascade.DelayS = float64(r.DelaySamples) / j.RateHz
		f.whole(r.Sections, "ways."+j.Prototype.Ways[i].Name, "fitted jointly with the other ways", r.Extra)
		switch {
		case !r.Audit.Keeps(Guarded):
			f.note = "no joint fit met the safety limits: safest one found"
		case s.Spent && (s.WayDB() > j.Goals.MagnitudeDB || s.SumDB > j.Goals.SumDB || s.OverlapDeg() > j.Goals.PhaseDeg):
			f.note = "joint fit stopped at its work limit: best one found"
		}
	}
	return s.TauS
}

// fitAlone is the method for one section by itself: a fit in magnitude.
func fitAlone(a biquad.Analog, j Job) (biquad.Digital, string, error) {
	f := Magnitude([]biquad.Analog{a}, j.RateHz, j.band([]biquad.Analog{a}), 0)
	if !f.Fitted || len(f.Sections) != 1 {
		return Matched(a, j.RateHz, j.HighHz), "magnitude-matched, as no fit met the limits", nil
	}
	return f.Sections[0], "fitted separately in magnitude", nil
}
