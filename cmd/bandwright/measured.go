package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/diagnosis"
	"bandwright/compiler/finished"
	"bandwright/compiler/language"
	"bandwright/compiler/measured"
	"bandwright/compiler/words"
	"bandwright/targets/page"
)

// Finished are the flags of check for finished units.
type Finished struct {
	Measured  []string `placeholder:"WAY=FILE" help:"Judge a finished unit by what was measured of its ways: tables of Hz, dB and degrees, WAV files of impulse responses or, with --reference, of sweeps; FILE.wav:2 is the second channel of a file of several. Or a folder of files UNIT_WAY.ENDING, for several units."`
	Reference string   `placeholder:"FILE.wav" help:"What was played, or rather what a cable in the place of the unit gave back of it: the files of --measured are recordings of the same."`
	With      []string `placeholder:"SETTING=CHOICE" help:"The settings of the measured units, where they are not the first choices; may be given again, or with commas."`
	As        string   `placeholder:"REALISATION" help:"What the units are: board, or digital filters such as \"48 kHz float32\". Without it the board, where the spec has one."`
	Level     string   `default:"fit" placeholder:"LEVEL" help:"What the level of a measurement means. fit: nothing, and it is one for all ways; 0 dB: it is output over input. The default is fit."`
	Delay     string   `default:"fit" placeholder:"DELAY" help:"What the delay of a measurement means. fit: nothing, and it is one for all ways; each: nor is it one for all, as of ways that were recorded one after the other, and nothing is said of their sum; 0: it begins at the input. The default is fit."`
}

// desk is a spec with its finished units.
type desk struct {
	Finished
	b     *compiler.Build
	with  biquad.Combination
	terms finished.Terms
	units []measuredUnit
	notes []string
	html  string // the page, "" for none
}

// measuredUnit is one unit's files.
type measuredUnit struct {
	finished.Unit
	files []string // by way, "" where none
}

// sampleLimit (bytes) is the longest file of a measurement that is read.
const sampleLimit = 1 << 28

// judge judges the units of one spec, and writes a page of them where html names its file.
func (v Finished) judge(ctx context.Context, con console, file, html string) (judged, error) {
	j := judged{file: file, lined: true, began: time.Now()}
	src, err := read(ctx, file)
	if err != nil {
		return j, err
	}
	line := startProgress(con.err, "checking "+file)
	defer line.stop()
	d := &desk{Finished: v, html: html}
	d.b, j.faults, j.err = awaited(line.in(ctx, ""), file, func(ctx context.Context) (*compiler.Build, []language.Fault, error) {
		return compiler.Findings(ctx, file, src, folderOf(file))
	})
	if j.compiling = time.Since(j.began); j.err != nil {
		return j, nil
	}
	j.compiled, j.name = true, d.b.Spec.Name
	began := time.Now()
	j.err = interruptible(ctx, func() error { return d.run(ctx, &j) })
	j.comparing = time.Since(began)
	return j, nil
}

// run reads the units and judges them.
func (d *desk) run(ctx context.Context, j *judged) error {
	var err error
	if d.with, err = chosen(d.b, j.file, d.With); err != nil {
		return err
	}
	if err := d.conditions(); err != nil {
		return err
	}
	if err := d.list(ctx); err != nil {
		return err
	}
	if err := d.pick(j.file); err != nil {
		return err
	}
	if err := d.read(ctx); err != nil {
		return err
	}
	bench, err := finished.New(d.b, d.terms)
	if err != nil {
		return refused("%s: %v", j.file, err)
	}
	for _, u := range d.units {
		r, err := bench.Judge(ctx, u.Unit)
		if err != nil {
			return err
		}
		j.units, j.findings = append(j.units, r), append(j.findings, r.Findings...)
	}
	j.summary, j.notes = d.text(bench, j.units), d.notes
	return d.page(ctx, bench, j.units)
}

// page writes the page of the units, whole or not at all.
func (d *desk) page(ctx context.Context, bench *finished.Desk, all []*finished.Result) error {
	if d.html == "" {
		return nil
	}
	of := page.Units{Desk: bench, Results: all, Notes: d.notes, At: "specs[0]"}
	for _, u := range d.units {
		of.Units = append(of.Units, u.Unit)
	}
	data, err := page.OfUnits(of)
	if err != nil {
		return failed("the page cannot be drawn: %v", err)
	}
	return replace(ctx, filepath.Dir(d.html), filepath.Base(d.html), data)
}

// conditions reads --level and --delay.
func (d *desk) conditions() error {
	switch strings.ReplaceAll(d.Level, " ", "") {
	case "fit":
		d.terms.FitLevel = true
	case "0dB":
	default:
		return refused("--level takes fit or 0 dB, not %s", code(d.Level))
	}
	switch strings.ReplaceAll(d.Delay, " ", "") {
	case "fit":
		d.terms.FitDelay = true
	case "each":
		d.terms.FitDelay, d.terms.DelayEach = true, true
	case "0", "0s", "0ms":
	default:
		return refused("--delay takes fit, each or 0, not %s", code(d.Delay))
	}
	return nil
}

// endings are those of files of a folder of units.
var endings = []string{".csv", ".frd", ".txt", ".wav"}

// list finds the units and their files.
func (d *desk) list(ctx context.Context) error {
	folder := ""
	one := measuredUnit{files: make([]string, len(d.b.Spec.Ways))}
	for _, m := range d.Measured {
		way, file, found := strings.Cut(m, "=")
		if !found {
			folder = m
			continue
		}
		k, err := d.way(strings.TrimSpace(way))
		if err != nil {
			return err
		}
		if file = strings.TrimSpace(file); file == "" {
			return refused("--measured takes WAY=FILE, and %s names no file", code(m))
		}
		if one.files[k] != "" {
			return refused("--measured names %s twice", code(d.b.Spec.Ways[k].Name))
		}
		one.files[k] = file
	}
	switch {
	case folder == "":
		d.units = []measuredUnit{one}
		return nil
	case len(d.Measured) > 1:
		return refused("--measured takes WAY=FILE for each way, or one folder of files UNIT_WAY.ENDING, not both")
	}
	entries, err := os.ReadDir(folder)
	if err != nil {
		return refused("--measured takes WAY=FILE or a folder, and %s is neither: %v", code(folder), reason(err))
	}
	at := map[string]int{}
	for _, e := range entries { // in the order of their names
		ending := filepath.Ext(e.Name())
		stem := strings.TrimSuffix(e.Name(), ending)
		k := strings.LastIndexByte(stem, '_')
		if e.IsDir() || k < 1 || !slices.Contains(endings, strings.ToLower(ending)) || filepath.Join(folder, e.Name()) == filepath.Clean(d.Reference) {
			continue
		}
		way, err := d.way(stem[k+1:])
		if err != nil {
			return fmt.Errorf("%s: %w", filepath.Join(folder, e.Name()), err)
		}
		i, seen := at[stem[:k]]
		if !seen {
			i = len(d.units)
			at[stem[:k]] = i
			d.units = append(d.units, measuredUnit{Unit: finished.Unit{Name: stem[:k]}, files: make([]string, len(d.b.Spec.Ways))})
		}
		if d.units[i].files[way] != "" {
			return refused("%s has two files of %s: %s and %s", stem[:k], stem[k+1:], d.units[i].files[way], filepath.Join(folder, e.Name()))
		}
		d.units[i].files[way] = filepath.Join(folder, e.Name())
	}
	if len(d.units) == 0 {
		return refused("%s holds no files UNIT_WAY%s", folder, words.OrList(endings))
	}
	return d.complete()
}

// complete refuses units of which other ways were measured than of the first.
func (d *desk) complete() error {
	for _, u := range d.units[1:] {
		for k, w := range d.b.Spec.Ways {
			if (u.files[k] == "") != (d.units[0].files[k] == "") {
				has, hasNot := u.Name, d.units[0].Name
				if u.files[k] == "" {
					has, hasNot = hasNot, has
				}
				return refused("%s was measured of %s and not of %s: all units have to have the same ways", w.Name, has, hasNot)
			}
		}
	}
	return nil
}

// way is the index of a way.
func (d *desk) way(name string) (int, error) {
	var names []string
	for i, w := range d.b.Spec.Ways {
		if w.Name == name {
			return i, nil
		}
		names = append(names, w.Name)
	}
	return 0, refused("--measured: %s has no way %s; %s", d.b.Spec.Name, code(name), meant(name, names))
}

// pick finds what the units are.
func (d *desk) pick(file string) error {
	d.terms.C = d.with
	for k, f := range d.units[0].files {
		if f != "" {
			d.terms.Ways = append(d.terms.Ways, k)
		}
	}
	var names []string
	if d.b.Spec.Board != nil {
		names = append(names, "board")
	}
	var of *compiler.Digital
	for i := range d.b.Digital {
		x := &d.b.Digital[i]
		name := strings.TrimPrefix(x.Name(), "digital ")
		if x.Asked {
			names = append(names, name)
		}
		if unspaced(strings.TrimPrefix(d.As, "digital ")) == unspaced(name) || d.As == "" && of == nil && x.Asked && d.b.Spec.Board == nil {
			of = x
		}
	}
	switch {
	case of == nil && (d.As == "" || d.As == "board") && d.b.Spec.Board != nil:
		if d.b.Board == nil {
			return refused("no board can be built of %s: `bandwright check %s` says why", file, file)
		}
		return nil
	case of == nil:
		return refused("--as: %s has no %s; %s", file, code(d.As), meant(d.As, names))
	}
	d.terms.Digital = of
	return nil
}

// band is where the units are looked at, at most.
func (d *desk) band() (low, high float64) {
	rate := 0.0
	if d.terms.Digital != nil {
		rate = d.terms.Digital.RateHz
	}
	low, high, _ = d.b.Promises.Band(rate)
	return low, high
}

// read reads every file, and finds what is common to all.
func (d *desk) read(ctx context.Context) error {
	low, high := d.band()
	reference, rate, err := d.reference(ctx)
	if err != nil {
		return err
	}
	d.terms.Phased = true
	for i := range d.units {
		u := &d.units[i]
		for k, name := range u.files {
			if name == "" {
				continue
			}
			r, phased, err := d.reading(ctx, k, name, reference, rate)
			if err != nil {
				return err
			}
			r.Way = k
			d.terms.Phased = d.terms.Phased && phased
			low, high = math.Max(low, r.LowHz), math.Min(high, r.HighHz)
			u.Readings = append(u.Readings, r)
		}
	}
	if d.moments() && d.terms.FitDelay && !d.terms.DelayEach {
		d.terms.DelayEach = true
		d.note("the ways were recorded at different moments: each has a delay of its own that is taken out, as with --delay each, and nothing is said of their sum; record all at once to have it judged")
	}
	for _, u := range d.units {
		if !slices.ContainsFunc(u.Readings, func(r diagnosis.Reading) bool { return r.LowHz > 0 }) {
			return refused("%s: nothing is heard of any way; is the unit on, not muted, and connected?", strings.Join(slices.DeleteFunc(slices.Clone(u.files), func(f string) bool { return f == "" }), ", "))
		}
	}
	if !(high > 2*low) {
		return refused("the files of --measured have hardly a frequency in common that the promises are about: %s to %s", words.Hz(low), words.Hz(high))
	}
	d.terms.LowHz, d.terms.HighHz = low, high
	return nil
}

// momentsS (s) is by how much ways are later than others at least that were recorded at different moments: impulse
// responses of ways are greatest some time after they begin, but not so long.
const momentsS = 0.03

// moments reports whether the ways of some unit were recorded at different moments.
func (d *desk) moments() bool {
	for _, u := range d.units {
		least, most := math.Inf(1), math.Inf(-1)
		for _, r := range u.Readings {
			if s := r.AboutS - d.b.Prototype.Path(r.Way).DelayS; !math.IsInf(s, 0) && !math.IsNaN(s) {
				least, most = math.Min(least, s), math.Max(most, s)
			}
		}
		if most-least > momentsS {
			return true
		}
	}
	return false
}

// reference reads --reference.
func (d *desk) reference(ctx context.Context) ([]float64, int, error) {
	if d.Reference == "" {
		return nil, 0, nil
	}
	x, rate, err := samples(ctx, d.Reference)
	if err == nil && d.terms.Digital != nil && float64(rate) != d.terms.Digital.RateHz {
		err = refused("%s has %s, and the units are judged as %s: choose others by --as", d.Reference, words.Rate(float64(rate)), d.terms.Digital.Name())
	}
	return x, rate, err
}

// reading reads one file, of a way.
func (d *desk) reading(ctx context.Context, way int, name string, reference []float64, rate int) (r diagnosis.Reading, phased bool, err error) {
	if reference == nil {
		data, err := contents(ctx, name)
		if err != nil {
			return r, false, err
		}
		m, faults := measured.Read(name, data)
		if m == nil {
			return r, false, refused("%s: %s; %s", spot(faults[0]), faults[0].Message, faults[0].Right)
		}
		if !m.HasPhase() {
			d.note("%s says no phase: polarity, the sum and parts that turn phase alone are not judged", name)
		}
		low, high := m.Span()
		return diagnosis.Reading{At: m.At, LowHz: low, HighHz: high, AboutS: math.NaN()}, m.HasPhase(), nil
	}
	x, its, err := samples(ctx, name)
	if err != nil {
		return r, false, err
	}
	if its != rate {
		return r, false, refused("%s has %s, and the reference %s: play and record at one rate", name, words.Rate(float64(its)), words.Rate(float64(rate)))
	}
	carries := d.carries(way)
	t, err := d.take(name, reference, x, float64(rate), carries)
	if errors.Is(err, errSilentWay) {
		d.note("%s: nothing is heard but noise", name)
		return diagnosis.Silence(0), true, nil
	}
	if err != nil {
		return r, false, err
	}
	at := func(hz float64) complex128 { return t.Response([]float64{hz})[0] }
	noise := func(hz float64) float64 { return t.Noise([]float64{hz})[0] }
	return diagnosis.Reading{At: at, Noise: noise, Carries: carries, LowHz: t.LowHz, HighHz: t.HighHz, AboutS: t.DelayS}, true, nil
}

func (d *desk) note(format string, args ...any) {
	if text := fmt.Sprintf(format, args...); !slices.Contains(d.notes, text) {
		d.notes = append(d.notes, text)
	}
}

// spot is where a fault is in a file.
func spot(f language.Fault) string {
	if f.Pos.Line == 0 {
		return f.File
	}
	return fmt.Sprintf("%s:%d:%d", f.File, f.Pos.Line, f.Pos.Col)
}
