package batch_test

import (
	"bytes"
	"fmt"
	"math"
	"math/cmplx"
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

// 200 boards of each shipped spec, in three combinations of settings, by ngspice: each
// board's ways are those of its simulation, and the percentiles of the 200 are those of
// 10,000 simulated ones within the error of so small a sample.
func TestAgainstNGSpice(t *testing.T) {
	const boardsOfEach, sameDB = 200, 0.01
	hz := spiceHz()
	for _, name := range boards {
		b := shipped(t, name)
		s, err := batch.NewSimulator(b.Subject(), b.Board, hz)
		if err != nil {
			t.Fatal(err)
		}
		var deviations [][]float64
		for n := range boardsOfEach {
			deviations = append(deviations, s.Scaled(n, 1))
		}
		var all []biquad.Combination
		biquad.Each(b.Subject().AllAxes, len(b.Settings), func(c biquad.Combination) { all = append(all, slices.Clone(c)) })
		for _, at := range []int{0, len(all) / 2, len(all) - 1} {
			c := all[at]
			spice := spiceBoards(t, b, s.Parts, deviations, c)
			for k := range b.Board.Ways {
				want := make([]complex128, len(hz))
				b.Subject().Prototype.On(hz).Response(want, k, c)
				peak := 0.0
				for _, h := range want {
					peak = math.Max(peak, cmplx.Abs(h))
				}
				furthest := func(h []complex128) float64 {
					worst := 0.0
					for i := range hz {
						if cmplx.Abs(want[i]) >= peak/10 {
							worst = math.Max(worst, math.Abs(biquad.GainDB(cmplx.Abs(h[i]/want[i]))))
						}
					}
					return worst
				}
				u, v := s.Unit(), s.Variant(k, c)
				var few, many []float64
				for n := range batch.Boards {
					u.Set(s.Scaled(n, 1))
					db := furthest(u.Way(k, v))
					many = append(many, db)
					if n < boardsOfEach {
						x := furthest(spice[n][k])
						few = append(few, x)
						if !(math.Abs(x-db) < sameDB) {
							t.Errorf("%s %s %v board %d: %.4f dB by ngspice, %.4f simulated", name, b.Board.Ways[k].Name, c, n, x, db)
						}
					}
				}
				slices.Sort(few)
				slices.Sort(many)
				for _, p := range []float64{0.5, 0.9, 0.95} {
					// How many of the few lie below the percentile of the many is binomial.
					limit := many[int(p*float64(len(many)))]
					below := 0
					for _, x := range few {
						if x < limit {
							below++
						}
					}
					m, sigma := p*boardsOfEach, math.Sqrt(p*(1-p)*boardsOfEach)
					if math.Abs(float64(below)-m) > 3.5*sigma {
						t.Errorf("%s %s %v: %d of %d boards within %.3f dB, want %.0f", name, b.Board.Ways[k].Name, c, below, boardsOfEach, limit, m)
					}
				}
			}
		}
	}
}
