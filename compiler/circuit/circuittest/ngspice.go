// Package circuittest holds what every topology must satisfy, and runs ngspice
// as the judge from outside: circuits go in, voltages, noise and offsets that
// our own code had no part in come out.
//
// Read first: Run; then conformance_test.go.
package circuittest

import (
	"bytes"
	"errors"
	"fmt"
	"math/cmplx"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"bandwright/compiler/netlist"
)

// TemperatureK is that of every analysis: 27 °C, where ngspice stands by
// itself.
const TemperatureK = 300.15

// Job is one circuit to simulate. Its source is called "Vin".
type Job struct {
	Circuit *netlist.Circuit
	Out     string // node
	// AC, Noise: sweeps as ngspice writes them, such as "dec 2 10 100k"; empty
	// for none. OP: the DC operating point.
	AC, Noise string
	OP        bool
}

// Answer is what ngspice found.
type Answer struct {
	ACHz    []float64
	AC      []complex128 // V at Out
	NoiseHz []float64
	Noise   []float64 // V/√Hz at Out
	OP      float64   // V at Out
}

// Run simulates all jobs in one run of ngspice. Where ngspice is missing it
// fails the test with the name of the package.
func Run(t testing.TB, jobs []Job) []Answer {
	t.Helper()
	tool, err := exec.LookPath("ngspice")
	if err != nil {
		t.Fatal("ngspice is missing: install the Debian package `ngspice` (apt-get install -y ngspice)")
	}
	dir := t.TempDir()
	var script strings.Builder
	script.WriteString("* all circuits\n.control\nset filetype=ascii\nset noaskquit\nset nomoremode\n")
	for i, j := range jobs {
		file := filepath.Join(dir, fmt.Sprintf("c%d.cir", i))
		deck := fmt.Sprintf("* circuit %d\n%s.end\n", i, netlist.SPICE(j.Circuit, TemperatureK))
		if err := os.WriteFile(file, []byte(deck), 0o600); err != nil {
			t.Fatal(err)
		}
		fmt.Fprintf(&script, "source %s\n", file)
		if j.OP {
			fmt.Fprintf(&script, "op\nwrite %s v(%s)\n", filepath.Join(dir, fmt.Sprintf("op%d", i)), j.Out)
		}
		if j.AC != "" {
			fmt.Fprintf(&script, "ac %s\nwrite %s v(%s)\n", j.AC, filepath.Join(dir, fmt.Sprintf("ac%d", i)), j.Out)
		}
		if j.Noise != "" {
			// The plot of totals is the present one; the spectrum is before it.
			fmt.Fprintf(&script, "noise v(%s) vin %s\nsetplot previous\nwrite %s onoise_spectrum\n", j.Out, j.Noise, filepath.Join(dir, fmt.Sprintf("noise%d", i)))
		}
		script.WriteString("destroy all\nremcirc\n")
	}
	script.WriteString("quit\n.endc\n.end\n")
	main := filepath.Join(dir, "main.cir")
	if err := os.WriteFile(main, []byte(script.String()), 0o600); err != nil {
		t.Fatal(err)
	}
	var log bytes.Buffer
	cmd := exec.Command(tool, "-b", main)
	cmd.Stdout, cmd.Stderr = &log, &log
	cmd.Dir = dir
	runErr := cmd.Run() // ngspice's exit code says little; missing files say it all
	out := make([]Answer, len(jobs))
	for i, j := range jobs {
		read := func(kind string) (x []float64, y []complex128) {
			x, y, err := raw(filepath.Join(dir, fmt.Sprintf("%s%d", kind, i)))
			if err != nil {
				t.Fatalf("ngspice gave no result for circuit %d (%s): %v, %v\n%s\n%s", i, kind, err, runErr,
					netlist.SPICE(j.Circuit, TemperatureK), tail(log.String()))
			}
			return x, y
		}
		if j.OP {
			_, y := read("op")
			out[i].OP = real(y[0])
		}
		if j.AC != "" {
			out[i].ACHz, out[i].AC = read("ac")
		}
		if j.Noise != "" {
			x, y := read("noise")
			out[i].NoiseHz = x
			for _, v := range y {
				out[i].Noise = append(out[i].Noise, real(v))
			}
		}
	}
	return out
}

func tail(s string) string { return s[max(0, len(s)-2000):] }

// raw reads the first and the last variable of an ASCII raw file of one analysis.
func raw(file string) (x []float64, y []complex128, err error) {
	data, err := os.ReadFile(file)
	if err != nil {
		return nil, nil, err
	}
	plots, err := ReadRaw(data)
	if err != nil {
		return nil, nil, fmt.Errorf("%s: %w", file, err)
	}
	return plots[0].Scale, plots[0].Values[len(plots[0].Values)-1], nil
}

// Plot is one analysis of a raw file.
type Plot struct {
	Names  []string       // of the variables, the scale's first
	Scale  []float64      // of each point: Hz, but for an operating point, which has a variable there
	Values [][]complex128 // of each variable, the scale again first, at each point
}

// Of returns the values of a variable, nil where the plot has none of that name.
func (p Plot) Of(name string) []complex128 {
	if i := slices.Index(p.Names, name); i >= 0 {
		return p.Values[i]
	}
	return nil
}

// ReadRaw takes an ASCII raw file apart. It has at least one plot, and every plot at
// least one point, or there is an error; a number that is not finite is one too.
func ReadRaw(data []byte) ([]Plot, error) {
	var plots []Plot
	for _, text := range strings.Split("\n"+string(data), "\nTitle:")[1:] {
		p, err := plot(text)
		if err != nil {
			return nil, err
		}
		plots = append(plots, p)
	}
	if len(plots) == 0 {
		return nil, errors.New("no plot")
	}
	return plots, nil
}

func plot(text string) (Plot, error) {
	var p Plot
	_, text, ok := strings.Cut(text, "\nVariables:\n")
	names, values, okValues := strings.Cut(text, "\nValues:\n")
	if !ok || !okValues {
		return p, errors.New("a plot without variables or values")
	}
	for line := range strings.Lines(names) {
		fields := strings.Fields(line) // number, name, kind
		if len(fields) < 3 {
			return p, fmt.Errorf("a variable that reads %q", line)
		}
		p.Names = append(p.Names, strings.TrimSuffix(strings.TrimPrefix(fields[1], "v("), ")"))
	}
	n := len(p.Names)
	p.Values = make([][]complex128, n)
	seen := 0
	for line := range strings.Lines(values) {
		fields := strings.Fields(line) // a point starts with its number
		if len(fields) == 0 {
			continue
		}
		i := seen % n
		v, err := number(fields[len(fields)-1], i == 0)
		if err != nil {
			return p, fmt.Errorf("%s: %w", p.Names[i], err)
		}
		if i == 0 {
			p.Scale = append(p.Scale, real(v))
		}
		p.Values[i] = append(p.Values[i], v)
		seen++
	}
	if seen == 0 || seen%n != 0 {
		return p, fmt.Errorf("%d numbers of %d variables", seen, n)
	}
	return p, nil
}

// number reads `re,im`, or `re` alone. Of a scale the imaginary part is left out:
// ngspice writes memory there that it has not set, now and then a NaN.
func number(s string, scale bool) (complex128, error) {
	re, im, complexValue := strings.Cut(s, ",")
	a, err := strconv.ParseFloat(re, 64)
	b := 0.0
	if err == nil && complexValue && !scale {
		b, err = strconv.ParseFloat(im, 64)
	}
	if v := complex(a, b); err != nil || (!cmplx.IsNaN(v) && !cmplx.IsInf(v)) {
		return v, err
	}
	return 0, fmt.Errorf("%s is not finite", s)
}
