// Package circuittest holds what every topology must satisfy, and runs ngspice
// as the judge from outside: circuits go in, voltages, noise and offsets that
// our own code had no part in come out.
//
// Read first: Run; then conformance_test.go.
package circuittest

import (
	"bufio"
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
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

// raw reads the first and the last variable of an ASCII raw file.
func raw(file string) (x []float64, y []complex128, err error) {
	data, err := os.ReadFile(file)
	if err != nil {
		return nil, nil, err
	}
	in := bufio.NewScanner(bytes.NewReader(data))
	variables, values := 0, false
	var numbers []complex128
	for in.Scan() {
		line := strings.TrimSpace(in.Text())
		if n, ok := strings.CutPrefix(line, "No. Variables:"); ok {
			if variables, err = strconv.Atoi(strings.TrimSpace(n)); err != nil {
				return nil, nil, err
			}
		}
		if line == "Values:" {
			values = true
			continue
		}
		if !values || line == "" {
			continue
		}
		fields := strings.Fields(line) // a point starts with its number
		v, err := number(fields[len(fields)-1])
		if err != nil {
			return nil, nil, err
		}
		numbers = append(numbers, v)
	}
	if variables == 0 || len(numbers) == 0 || len(numbers)%variables != 0 {
		return nil, nil, fmt.Errorf("%s holds %d numbers of %d variables", file, len(numbers), variables)
	}
	for i := 0; i < len(numbers); i += variables {
		x = append(x, real(numbers[i]))
		y = append(y, numbers[i+variables-1])
	}
	return x, y, nil
}

func number(s string) (complex128, error) {
	re, im, complexValue := strings.Cut(s, ",")
	a, err := strconv.ParseFloat(re, 64)
	if err != nil || !complexValue {
		return complex(a, 0), err
	}
	b, err := strconv.ParseFloat(im, 64)
	return complex(a, b), err
}
