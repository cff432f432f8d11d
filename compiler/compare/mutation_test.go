package compare

import (
	"bytes"
	"context"
	"math"
	"math/cmplx"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"bandwright/compiler"
	"bandwright/compiler/result"
)

// builds are those of shipped, compiled once.
var builds []*compiler.Build

// shipped are the builds of the specs that a user gets, and of plover.
func shipped(t *testing.T) []*compiler.Build {
	t.Helper()
	if builds == nil {
		paths, err := filepath.Glob("../../specs/*.yaml")
		if err != nil || len(paths) == 0 {
			t.Fatalf("no specs: %v", err)
		}
		builds = compiled(t, append(paths, "testdata/plover.yaml"))
	}
	return builds
}

func compiled(t *testing.T, paths []string) []*compiler.Build {
	t.Helper()
	var out []*compiler.Build
	for _, path := range paths {
		src, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		b, faults, err := compiler.Compile(context.Background(), path, src, os.DirFS(filepath.Dir(path)))
		if b == nil {
			t.Fatal(faults, err)
		}
		out = append(out, b)
	}
	return out
}

// numbers are the coefficients and gains of an accepted result.
func numbers(a *result.Accepted) (out []*float64) {
	for i := range a.Digital {
		d := &a.Digital[i]
		out = append(out, &d.InputGain)
		chains := []*result.AcceptedChain{&d.Common}
		for k := range d.Ways {
			chains = append(chains, &d.Ways[k])
		}
		for _, c := range chains {
			out = append(out, &c.Gain)
			for _, s := range c.Coefficients {
				for j := range 3 {
					if out = append(out, &s.B[j]); j > 0 { // the first of a is 1
						out = append(out, &s.A[j])
					}
				}
			}
		}
	}
	return out
}

// Any one coefficient that is off by a thousandth is told, whatever it does to
// the response; told as a regression wherever the response moves beyond the
// tolerance, by an evaluation of its own.
func TestEveryCoefficientCounts(t *testing.T) {
	const (
		part = 1e-3
		most = 40  // mutations of a spec, spread over its numbers
		edge = 1.1 // times the tolerance: the judge's grid is not the comparison's
	)
	mutations, regressions := 0, 0
	for _, b := range shipped(t) {
		was, now := result.Accept(b), result.Accept(b)
		all := numbers(now)
		for i := 0; i < len(all); i += 1 + len(all)/most {
			x := all[i]
			if *x == 0 {
				continue
			}
			old := *x
			*x *= 1 + part
			c := Results(was, now)
			moved := 0.0
			for k := range now.Digital {
				moved = math.Max(moved, moves(&was.Digital[k], &now.Digital[k], now.Settings))
			}
			*x = old
			mutations++
			if len(c.Changes) == 0 {
				t.Errorf("%s: number %d, %g, may change by a thousandth and nobody tells", b.Spec.Name, i, old)
			}
			if moved > edge*c.Tolerances.MagnitudeDB {
				regressions++
				if !c.Regression {
					t.Errorf("%s: number %d moves a response by %.3f dB, and that is no regression:\n%s", b.Spec.Name, i, moved, c.Text(200))
				}
			}
			if c.Regression && !strings.Contains(c.Text(200), "Bandwright itself changed") {
				t.Errorf("%s: the spec is the same, and yet\n%s", b.Spec.Name, c.Text(200))
			}
		}
	}
	t.Logf("%d mutations, %d regressions", mutations, regressions)
	if mutations < 200 || regressions < 40 {
		t.Errorf("%d mutations, %d regressions: too few to say anything", mutations, regressions)
	}
}

// moves is by how much the level of any way changes, in dB, where it is within
// 20 dB of its peak, at the default settings: H(z) written out.
func moves(a, b *result.AcceptedDigital, settings []result.Setting) float64 {
	choice := map[string]string{}
	for _, s := range settings {
		choice[s.Name] = s.Choices[0]
	}
	at := func(d *result.AcceptedDigital, k int, hz float64) float64 {
		z := cmplx.Exp(complex(0, 2*math.Pi*hz/d.RateHz))
		h := complex(1, 0)
		for _, c := range []result.AcceptedChain{d.Common, d.Ways[k]} {
			h *= complex(c.Gain, 0)
			for _, s := range c.Coefficients {
				if !s.Applies(choice) {
					continue
				}
				x := map[string]complex128{"direct": 1 / z, "delta": 1 / (z - 1), "mirrored": 1 / (z + 1), "error-feedback": 1 / z}[s.Form]
				poly := func(c []float64) complex128 {
					return complex(c[0], 0) + x*(complex(c[1], 0)+x*complex(c[2], 0))
				}
				h *= poly(s.B) / poly(s.A)
			}
		}
		return 20 * math.Log10(cmplx.Abs(h))
	}
	const points = 40
	most := 0.0
	for k := range a.Ways {
		var xs, ys []float64
		peak := math.Inf(-1)
		for i := range points {
			hz := 20 * math.Pow(900, float64(i)/(points-1))
			x, y := at(a, k, hz), at(b, k, hz)
			xs, ys, peak = append(xs, x), append(ys, y), math.Max(peak, math.Max(x, y))
		}
		for i := range xs {
			if math.Min(xs[i], ys[i]) > peak-20 {
				most = math.Max(most, math.Abs(ys[i]-xs[i]))
			}
		}
	}
	return most
}

// What rounds differently on another machine is no change.
func TestRoundingIsNoChange(t *testing.T) {
	for _, b := range shipped(t) {
		r := result.Of(b)
		was := result.FromResult(r, b.Spec.Source)
		n := uint32(1)
		nudge := func(x *float64) {
			n = n*1664525 + 1013904223 // a fixed sequence
			*x = math.Nextafter(*x, *x+[]float64{-1, 0, 1}[n>>16%3])
		}
		for i := range r.Digital {
			d := &r.Digital[i]
			parts := [][]result.Section{d.Common.Sections}
			nudge(&d.Common.Gain)
			for k := range d.Ways {
				nudge(&d.Ways[k].Gain)
				parts = append(parts, d.Ways[k].Sections)
			}
			for _, sections := range parts {
				for j := range sections {
					for m := range 3 {
						nudge(&sections[j].Words.B[m])
						if m > 0 {
							nudge(&sections[j].Words.A[m])
						}
					}
				}
			}
		}
		for i := range r.Findings {
			nudge(&r.Findings[i].Worst)
			nudge(&r.Findings[i].AtHz)
		}
		if c := Results(was, result.FromResult(r, b.Spec.Source)); len(c.Changes) > 0 {
			t.Errorf("%s: round-off alone gives\n%s", b.Spec.Name, c.Text(200))
		}
	}
}

// The same bytes with one processor as with all, read back to the same, and
// small enough to be looked at. What every shipped spec's filters and boards are on one processor, golden's
// TestRunsAreByteIdentical tells, so that here those of two specs are made again: one whose board is chosen
// and one of filters alone.
func TestAcceptedResultsAreStable(t *testing.T) {
	const most = 80 << 10 // bytes: more is not read by people
	first := map[string][]byte{}
	for _, b := range shipped(t) {
		data, err := result.Accept(b).Bytes()
		if err != nil {
			t.Fatal(err)
		}
		a, err := result.ReadAccepted(data)
		if err != nil {
			t.Fatal(err)
		}
		again, err := a.Bytes()
		if err != nil || !bytes.Equal(data, again) {
			t.Errorf("%s: reading and writing changes the file: %v", a.Name, err)
		}
		if c := Results(a, result.Accept(b)); len(c.Changes) > 0 {
			t.Errorf("%s: against itself\n%s", a.Name, c.Text(200))
		}
		if len(data) > most {
			t.Errorf("%s: %d bytes", a.Name, len(data))
		}
		first[a.Name] = data
	}
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	for _, b := range compiled(t, []string{"../../specs/dabchick.yaml", "testdata/plover.yaml"}) {
		if data, _ := result.Accept(b).Bytes(); !bytes.Equal(data, first[b.Spec.Name]) {
			t.Errorf("%s: one processor gives other bytes", b.Spec.Name)
		}
	}
}
