// Package finished judges finished units, boards or recorded digital outputs, from what was
// measured of them: a Build, how units were measured, and their responses come in; for each
// unit figures, findings, a diagnosis and what would bring it right come out.
//
// A measured unit is a realisation like any other, held to the promise `as-built` and, beside that,
// to what was compiled: a board to the limits of its production test, a digital system to the response
// of its own words.
//
// The one invariant: what a unit is said to be hangs on its own measurement alone.
//
// Read first: Terms, New, Desk.Judge.
package finished

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/cmplx"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/batch"
	"bandwright/compiler/diagnosis"
	"bandwright/compiler/production"
	"bandwright/compiler/promise"
	"bandwright/compiler/sweep"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// Terms are how units were measured.
type Terms struct {
	diagnosis.Conditions
	C    verify.Combination
	Ways []int // that were measured, ascending
	// Digital is the realisation whose outputs were recorded; nil of boards.
	Digital *compiler.Digital
}

// Unit is one unit, with a reading of each way that was measured.
type Unit struct {
	Name     string
	Readings []diagnosis.Reading
}

// Result is what became of one unit.
type Result struct {
	Unit     string
	Figures  []verify.Figures
	Findings []verify.Finding
	*diagnosis.Diagnosis
	// Sentences say what the diagnosis is, the likeliest first.
	Sentences []string
	// Named are the hypotheses in words.
	Named []diagnosis.Named
	Trims []Trim

	apart []float64 // from the nominal unit (dB), by place of the bench
}

// Kept reports whether the unit keeps everything.
func (r *Result) Kept() bool { return verify.Kept(r.Findings) }

// Broken are the promises that the unit breaks, each once.
func (r *Result) Broken() []string {
	var out []string
	for _, f := range r.Findings {
		if !f.Kept && !slices.Contains(out, f.Promise) {
			out = append(out, f.Promise)
		}
	}
	return out
}

// Desk is where units of one spec are judged. It may be used by several goroutines.
type Desk struct {
	Terms
	b       *compiler.Build
	subject *verify.Subject
	of      verify.Realisation // what was compiled
	ideal   verify.Realisation
	bench   *diagnosis.Bench
	plan    *production.Plan // of a board
	gain    float64          // of the input, which stands outside of every comparison
}

// Errors of New.
var (
	ErrNothing = errors.New("there is neither a board nor digital filters of this spec")
)

// New prepares for units of a build.
func New(b *compiler.Build, t Terms) (*Desk, error) {
	d := &Desk{Terms: t, b: b, gain: 1}
	switch {
	case t.Digital != nil:
		d.subject, d.of, d.gain = b.Subject(), b.Realisation(*t.Digital), t.Digital.InputGain
		scaled := scaled{d.of, d.gain}
		d.bench = diagnosis.NewPlain(d.subject, scaled, t.Ways, t.C, t.Conditions, func(hz []float64) []diagnosis.Alternative {
			return alternatives(b, t, d.gain, hz)
		})
	case b.Board == nil:
		return nil, ErrNothing
	default:
		d.subject, d.of = b.BoardSubject(), batch.Built{Board: b.Board, Batch: b.Batch}
		var err error
		if d.bench, err = diagnosis.NewBench(d.subject, b.Board, b.Batch.Bought(), t.Ways, t.C, t.Conditions); err != nil {
			return nil, err
		}
		if d.plan, err = production.Of(d.subject, b.Board, b.Batch.Bought(), b.Promises.LowHz, b.Promises.HighHz); err != nil {
			return nil, err
		}
	}
	d.ideal = d.subject.Prototype
	return d, nil
}

// Name is how findings call units of this desk.
func (d *Desk) Name(u Unit) string {
	if u.Name == "" {
		return "measured"
	}
	return "measured " + u.Name
}

// DownToDB is how far below its peak a way's response is judged (dB): that of promises about
// boards of a batch.
const DownToDB = -20.0

// Judge judges a unit.
func (d *Desk) Judge(ctx context.Context, u Unit) (*Result, error) {
	var err error
	r := &Result{Unit: u.Name}
	if r.Diagnosis, err = d.bench.Diagnose(u.Readings); err != nil {
		return nil, err
	}
	m := d.measured(u, r.Diagnosis)
	r.Figures, r.Findings = d.holds(ctx, m)
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	r.apart, r.Sentences = d.bench.Apart(u.Readings, r.Diagnosis), d.bench.Sentences(r.Diagnosis)
	r.Named = d.bench.Named(r.Diagnosis)
	r.Trims = d.trims(ctx, u, r)
	r.Findings = append(r.Findings, d.said(m, r))
	if !r.Found() && !r.Kept() {
		r.Sentences[0] += ": what is broken may be " + d.unfound()
	}
	return r, nil
}

// unfound is what a good unit may be off by.
func (d *Desk) unfound() string {
	if d.plan == nil {
		return "noise, or the bench"
	}
	return "noise, the bench, or parts within their tolerances"
}

// holds holds a measured unit to the promise, and to what was compiled.
func (d *Desk) holds(ctx context.Context, m *measured) ([]verify.Figures, []verify.Finding) {
	terms := verify.Terms{Extent: verify.Extent{LowHz: d.LowHz, HighHz: d.HighHz, DownToDB: DownToDB}}
	all := len(d.Ways) == len(d.subject.Ways) && d.Phased && !d.DelayEach
	if l := d.b.Promises.Limit(&promise.AsBuilt); l.On {
		whole := promise.AsBuilt.Promise
		whole.Of = verify.Sum
		terms.Demands = []verify.Demand{{Promise: &promise.AsBuilt.Promise, Limit: l.Value}}
		if all {
			terms.Demands = append(terms.Demands, verify.Demand{Promise: &whole, Limit: l.Value})
		}
	}
	figures, findings := verify.Judge(ctx, d.some(), m, terms)
	if !all {
		figures = slices.DeleteFunc(figures, func(f verify.Figures) bool { return f.Way == verify.SumName })
	}
	if !d.Phased {
		for i := range figures {
			figures[i].Phase, figures[i].GroupDelay = verify.Extreme{}, verify.Extreme{}
		}
	}
	for i := range figures {
		if w := slices.Index(d.Names(), figures[i].Way); w >= 0 && m.silent(d.Ways[w]) {
			figures[i].Phase, figures[i].GroupDelay = verify.Extreme{}, verify.Extreme{}
		}
	}
	for i := range findings {
		findings[i].Remedy = "" // the spec is not what is to be changed
	}
	return figures, append(findings, d.beside(m)...)
}

// said is the finding on whether the unit is set and connected as was said.
func (d *Desk) said(m *measured, r *Result) verify.Finding {
	const most = 0.5
	f := verify.Finding{Promise: "as-said", About: "likelihood that it is set or connected otherwise than said", Realisation: m.name,
		With: []verify.Choice{}, Unit: words.Share, Limit: most, Worst: r.Otherwise(), Of: 1}
	if f.Kept = f.Worst <= most; !f.Kept {
		f.Broken, f.Note = 1, d.bench.Sentence(&r.Hypotheses[0])
	}
	return f
}

// some is the subject with the ways that were measured, in the combination that they were
// measured in.
func (d *Desk) some() *verify.Subject {
	s := &verify.Subject{Settings: d.subject.Settings, Prototype: picked{d.ideal, d.Ways}, AllAxes: d.subject.AllAxes, SplitAxes: d.subject.SplitAxes,
		Only: []verify.Combination{d.C}, SpreadS: d.subject.SpreadS}
	for _, w := range d.Ways {
		// All axes of each way, so that the one combination is looked at of each.
		s.Ways, s.WayAxes = append(s.Ways, d.subject.Ways[w]), append(s.WayAxes, d.subject.AllAxes)
	}
	return s
}

// picked are some ways of a realisation.
type picked struct {
	verify.Realisation
	ways []int
}

type pickedResponder struct {
	verify.Responder
	ways []int
}

func (r pickedResponder) Response(dst []complex128, way int, c verify.Combination) {
	r.Responder.Response(dst, r.ways[way], c)
}

func (p picked) On(hz []float64) verify.Responder {
	return pickedResponder{p.Realisation.On(hz), p.ways}
}
func (p picked) Near(hz []float64) verify.Responder {
	return pickedResponder{p.Realisation.Near(hz), p.ways}
}
func (p picked) Landmarks(way int) []verify.Landmark { return p.Realisation.Landmarks(p.ways[way]) }

// scaled is a realisation with a gain in front.
type scaled struct {
	verify.Realisation
	gain float64
}

func (s scaled) On(hz []float64) verify.Responder {
	of := s.Realisation.On(hz)
	return verify.Direct(func(dst []complex128, way int, c verify.Combination) {
		of.Response(dst, way, c)
		for i := range dst {
			dst[i] *= complex(s.gain, 0)
		}
	})
}

// measured is a unit as a realisation.
type measured struct {
	name      string
	of        verify.Realisation
	unit      Unit
	ways      []int
	gain      float64 // linear, taken out
	delays    []float64
	low, high float64
}

func (m *measured) Name() string                        { return m.name }
func (m *measured) CommonDelayS() float64               { return m.of.CommonDelayS() }
func (m *measured) Landmarks(way int) []verify.Landmark { return m.of.Landmarks(m.ways[way]) }
func (m *measured) On(hz []float64) verify.Responder    { return m.Near(hz) }
func (m *measured) SpanHz() (low, high float64)         { return m.low, m.high }
func (m *measured) Near(hz []float64) verify.Responder {
	return verify.Direct(func(dst []complex128, way int, _ verify.Combination) {
		for i, f := range hz {
			dst[i] = m.at(m.ways[way], f)
		}
	})
}

// at is the response of a way, level and delay taken out. Where the way is not meant to be heard hum is not taken for it,
// which would go into the sum of all ways.
func (m *measured) at(way int, hz float64) complex128 {
	for _, r := range m.unit.Readings {
		if r.Way == way {
			f := math.Max(r.LowHz, math.Min(r.HighHz, hz))
			if r.Carries != nil && r.Noise != nil && !r.Carries(f) && r.Noise(f) > sweep.Hummed {
				return 0
			}
			return r.At(f) / complex(m.gain, 0) * biquad.Delay(hz, -m.delays[slices.Index(m.ways, way)])
		}
	}
	return 0
}

// silent reports whether nothing is heard of a way: then it has no phase.
func (m *measured) silent(way int) bool {
	return !slices.ContainsFunc(biquad.Octaves(m.low, m.high, 3), func(hz float64) bool { return levelDB(m.at(way, hz)) > emptyDB })
}

const (
	// compiledDB is how near a digital output is to the response of its words: what is left of
	// a recording's own errors.
	compiledDB = 0.05
	// LimitsName is how findings call the limits of the test of finished boards.
	LimitsName = "limits"
	// turnedName is how findings call phase and polarity in that test.
	turnedName = "limits-phase"
	// BesideDB is what a bench is off from the limits of a test (dB), which leave nothing for
	// instruments.
	BesideDB = 0.02
)

// beside are the findings beside the promise: a board's on the limits of its test, a digital
// system's on the response of its words.
func (d *Desk) beside(m *measured) []verify.Finding {
	if d.plan == nil {
		return d.besideWords(m)
	}
	var out []verify.Finding
	for i := range d.plan.Tests {
		t := &d.plan.Tests[i]
		points := d.within(t)
		if !slices.Contains(d.Ways, t.Way) || !d.tested(t) || len(points) == 0 {
			continue
		}
		f := verify.Finding{Promise: LimitsName, About: "limits of the production test of " + d.subject.Ways[t.Way], Way: d.subject.Ways[t.Way],
			Realisation: m.name, With: []verify.Choice{}, Unit: words.DB, Kept: true, Of: len(points), Limit: BesideDB}
		turned := f
		turned.Promise, turned.About, turned.Unit, turned.Limit = turnedName, "phase of "+f.Way+" in the production test, off by", words.Deg, 0
		for _, p := range points {
			h := m.at(t.Way, p.Hz)
			beyond := math.Max(p.LowDB-levelDB(h), levelDB(h)-p.HighDB)
			if beyond > f.Worst || f.AtHz == 0 {
				f.Worst, f.AtHz = math.Max(0, beyond), p.Hz
			}
			if beyond > BesideDB+m.noiseDB(t.Way, p.Hz) {
				f.Broken, f.Kept = f.Broken+1, false
			}
			off := math.Abs(cmplx.Phase(h*cmplx.Rect(1, -p.Degrees*math.Pi/180))) * 180 / math.Pi
			if off-p.Within > turned.Worst-turned.Limit || turned.AtHz == 0 {
				turned.Worst, turned.Limit, turned.AtHz = off, p.Within, p.Hz
			}
			if off > p.Within && levelDB(h) > emptyDB {
				turned.Broken, turned.Kept = turned.Broken+1, false
			}
		}
		for _, x := range []*verify.Finding{&f, &turned} {
			x.Note = fmt.Sprintf("%d of %d frequencies fail", x.Broken, x.Of)
			x.Of = 1
		}
		if out = append(out, f); d.Phased {
			out = append(out, turned)
		}
	}
	return out
}

// emptyDB is what the level of a way of which nothing is heard counts as (dB): it has no phase either.
const emptyDB = -120.0

// levelDB is a level of at least emptyDB.
func levelDB(h complex128) float64 { return math.Max(emptyDB, biquad.DB(h)) }

// noiseDB is how far (dB) noise may move a level that was measured: three times its RMS value, of which a level takes one
// of two parts, so that it is beyond that at one of 40,000 frequencies.
func (m *measured) noiseDB(way int, hz float64) float64 {
	for _, r := range m.unit.Readings {
		if r.Way == way && r.Noise != nil && r.LowHz <= hz && hz <= r.HighHz {
			return biquad.GainDB(1 + 3*r.Noise(hz))
		}
	}
	return 0
}

// tested reports whether a test is of the combination that was measured.
func (d *Desk) tested(t *production.Test) bool {
	for _, ax := range d.subject.WayAxes[t.Way] {
		if t.C[ax.Setting] != d.C[ax.Setting] {
			return false
		}
	}
	return true
}

// besideWords holds a digital unit to the response of its words, as far as the noise of its recordings does not move it.
func (d *Desk) besideWords(m *measured) []verify.Finding {
	var out []verify.Finding
	hz := biquad.Octaves(d.LowHz, d.HighHz, 24)
	responder := d.of.On(hz)
	h := make([]complex128, len(hz))
	for _, w := range d.Ways {
		responder.Response(h, w, d.C)
		f := verify.Finding{Promise: "as-compiled", About: "response of the compiled filters of " + d.subject.Ways[w], Way: d.subject.Ways[w],
			Realisation: m.name, With: []verify.Choice{}, Unit: words.DB, Limit: compiledDB, Of: 1}
		peak := 0.0
		for _, v := range h {
			peak = math.Max(peak, biquad.Power(v))
		}
		for i, v := range h {
			if biquad.Power(v) < peak*1e-4 { // 40 dB below
				continue
			}
			off := levelDB(m.at(w, hz[i])) - biquad.DB(v)
			if beyond := math.Max(0, math.Abs(off)-m.noiseDB(w, hz[i])); beyond > math.Abs(f.Worst) || f.AtHz == 0 {
				f.Worst, f.AtHz = math.Copysign(beyond, off), hz[i]
			}
		}
		f.Kept = math.Abs(f.Worst) <= compiledDB
		if !f.Kept {
			f.Broken = 1
		}
		out = append(out, f)
	}
	return out
}
