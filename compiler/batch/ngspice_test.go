package batch_test

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/batch"
	"bandwright/compiler/circuit/circuittest"
	"bandwright/compiler/netlist"
)

// spiceSweep and spiceHz are the same frequencies, for ngspice and for us.
const spiceSweep = "dec 10 20 20k"

func spiceHz() []float64 {
	var hz []float64
	for i := range 31 {
		hz = append(hz, 20*math.Pow(10, float64(i)/10))
	}
	return hz
}

// spiceBoards are the responses of so many boards of a lot in one combination by
// ngspice: [board][way][frequency].
func spiceBoards(t *testing.T, b *compiler.Build, parts []batch.Part, deviations [][]float64, c biquad.Combination) [][][]complex128 {
	t.Helper()
	tool, err := exec.LookPath("ngspice")
	if err != nil {
		t.Fatal("ngspice is missing: install the Debian package `ngspice` (apt-get install -y ngspice)")
	}
	dir := t.TempDir()
	deck := "* a board\n" + netlist.SPICE(b.Board.Circuit(c), circuittest.TemperatureK) + ".end\n"
	if err := os.WriteFile(filepath.Join(dir, "board.cir"), []byte(deck), 0o600); err != nil {
		t.Fatal(err)
	}
	var outs []string
	for _, w := range b.Board.Ways {
		outs = append(outs, "v("+w.Out+")")
	}
	var script strings.Builder
	script.WriteString("* batch\n.control\nset filetype=ascii\nset noaskquit\nset nomoremode\nsource board.cir\n")
	for n, d := range deviations {
		for i, p := range parts {
			fmt.Fprintf(&script, "alter %s = %s\n", strings.ToLower(p.Ref), netlist.Number(p.Value*(1+d[i])))
		}
		fmt.Fprintf(&script, "ac %s\nwrite b%d %s\ndestroy all\n", spiceSweep, n, strings.Join(outs, " "))
	}
	script.WriteString("quit\n.endc\n.end\n")
	if err := os.WriteFile(filepath.Join(dir, "main.cir"), []byte(script.String()), 0o600); err != nil {
		t.Fatal(err)
	}
	var log bytes.Buffer
	cmd := exec.Command(tool, "-b", "main.cir")
	cmd.Dir, cmd.Stdout, cmd.Stderr = dir, &log, &log
	// The C library is not to give memory back after each of thousands of plots.
	cmd.Env = append(os.Environ(), "MALLOC_TOP_PAD_=67108864", "MALLOC_TRIM_THRESHOLD_=134217728")
	runErr := cmd.Run() // ngspice's exit code says little
	var all [][][]complex128
	for n := range deviations {
		data, err := os.ReadFile(filepath.Join(dir, fmt.Sprintf("b%d", n)))
		if err != nil {
			t.Fatalf("%v %v\n%s", err, runErr, log.String()[max(0, log.Len()-1000):])
		}
		plots, err := circuittest.ReadRaw(data)
		if err != nil {
			t.Fatal(err)
		}
		var board [][]complex128
		for _, w := range b.Board.Ways {
			board = append(board, plots[0].Of(w.Out))
		}
		all = append(all, board)
	}
	return all
}

// furthest is the greatest deviation (dB) from what is wanted within 20 dB of its peak.
func furthest(h, want []complex128) float64 {
	peak, worst := 0.0, 0.0
	for _, w := range want {
		peak = math.Max(peak, biquad.Power(w))
	}
	for i, w := range want {
		if biquad.Power(w) >= peak/100 {
			worst = math.Max(worst, math.Abs(10*math.Log10(biquad.Power(h[i])/biquad.Power(w))))
		}
	}
	return worst
}

// 200 boards of each shipped spec, in three combinations of settings, by ngspice: each
// board's ways are those of its simulation, and the percentiles of the 200 are those of
// 10,000 simulated ones within the error of so small a sample.
func TestAgainstNGSpice(t *testing.T) {
	const few, sameDB = 200, 0.01
	hz := spiceHz()
	for _, name := range boards {
		b := shipped(t, name)
		s, err := batch.NewSimulator(b.Subject(), b.Board, hz)
		if err != nil {
			t.Fatal(err)
		}
		var deviations [][]float64
		for n := range few {
			deviations = append(deviations, s.Scaled(n, 1))
		}
		var all []biquad.Combination
		biquad.Each(b.Subject().AllAxes, len(b.Settings), func(c biquad.Combination) { all = append(all, slices.Clone(c)) })
		ways := len(b.Board.Ways)
		some := []biquad.Combination{all[0], all[len(all)/2], all[len(all)-1]}
		want, many := make([][][]complex128, len(some)), make([][][]float64, len(some)) // by combination and way
		prototype := b.Subject().Prototype.On(hz)
		for i, c := range some {
			want[i], many[i] = make([][]complex128, ways), make([][]float64, ways)
			for k := range ways {
				want[i][k] = make([]complex128, len(hz))
				prototype.Response(want[i][k], k, c)
			}
		}
		u := s.Unit()
		for n := range batch.Boards {
			u.Set(s.Scaled(n, 1))
			for i, c := range some {
				for k := range ways {
					many[i][k] = append(many[i][k], furthest(u.Way(k, s.Variant(k, c)), want[i][k]))
				}
			}
		}
		for i, c := range some {
			spice := spiceBoards(t, b, s.Parts, deviations, c)
			for k, w := range b.Board.Ways {
				var found []float64
				for n := range few {
					db := furthest(spice[n][k], want[i][k])
					if found = append(found, db); !(math.Abs(db-many[i][k][n]) < sameDB) {
						t.Errorf("%s %s %v board %d: %.4f dB by ngspice, %.4f simulated", name, w.Name, c, n, db, many[i][k][n])
					}
				}
				slices.Sort(many[i][k])
				for _, p := range []float64{0.5, 0.9, 0.95} {
					// How many of the few lie below the percentile of the many is binomial.
					limit, below := many[i][k][int(p*batch.Boards)], 0
					for _, db := range found {
						if db < limit {
							below++
						}
					}
					if mean, sigma := p*few, math.Sqrt(p*(1-p)*few); math.Abs(float64(below)-mean) > 3.5*sigma {
						t.Errorf("%s %s %v: %d of %d boards within %.3f dB, want %.0f", name, w.Name, c, below, few, limit, mean)
					}
				}
			}
		}
	}
}
