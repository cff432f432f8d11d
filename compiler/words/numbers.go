// Package words writes numbers, tables and paragraphs as people read them in a
// terminal. Plain values come in, text goes out. The one invariant: widths are
// counted in characters, never in bytes, and the same value reads the same in
// the summary, the report and a diagnostic.
//
// Read first: Error, Hz, Table.
package words

import (
	"math"
	"strconv"
	"strings"
)

// Floor is the error (dB or degrees) below which a figure is round-off of its
// own computation and its digits would only differ from machine to machine.
const Floor = 1e-9

// Error is an error with its unit to three significant digits, "< 1e-9 dB"
// below the floor. The unit is dB or deg.
func Error(x float64, unit string) string {
	if math.Abs(x) < Floor {
		return "< 1e-9 " + unit
	}
	return Three(x) + " " + unit
}

// Signed is Error with a plus sign on positive values.
func Signed(x float64, unit string) string {
	if x >= Floor {
		return "+" + Error(x, unit)
	}
	return Error(x, unit)
}

// Level is a level or a gain with its unit to three significant digits and
// never finer than a hundredth, with a plus sign on positive values: "+3.21
// dBFS", "-141 dBFS", "0 dB".
func Level(x float64, unit string) string {
	x = math.Round(x*100) / 100
	switch {
	case x == 0:
		return "0 " + unit
	case math.Abs(x) < 0.995:
		s := strconv.FormatFloat(x, 'f', 2, 64)
		if x > 0 {
			s = "+" + s
		}
		return s + " " + unit
	case x > 0:
		return "+" + Three(x) + " " + unit
	}
	return Three(x) + " " + unit
}

// Three is x to three significant digits: plain decimals from 1e-4 up to 1e6,
// a short exponent elsewhere, 0 as "0".
func Three(x float64) string {
	if x == 0 {
		return "0"
	}
	e := strconv.FormatFloat(x, 'e', 2, 64)
	mantissa, exponent, _ := strings.Cut(e, "e")
	n, err := strconv.Atoi(exponent)
	if err != nil { // not a finite number: say so rather than hide it
		return e
	}
	if n < -4 || n >= 6 {
		return mantissa + "e" + strconv.Itoa(n)
	}
	rounded, _ := strconv.ParseFloat(e, 64)
	return strconv.FormatFloat(rounded, 'f', max(0, 2-n), 64)
}

// Short is Three without trailing zeros: "20", "2.3", "0.707".
func Short(x float64) string {
	s := Three(x)
	mantissa, exponent, has := strings.Cut(s, "e")
	if strings.Contains(mantissa, ".") {
		mantissa = strings.TrimRight(strings.TrimRight(mantissa, "0"), ".")
	}
	if has {
		return mantissa + "e" + exponent
	}
	return mantissa
}

// Exact is the shortest decimal that reads back as x, for limits and rates
// that a user wrote.
func Exact(x float64) string {
	if x == 0 {
		return "0"
	}
	s := strconv.FormatFloat(x, 'g', -1, 64)
	mantissa, exponent, has := strings.Cut(s, "e")
	if !has {
		return s
	}
	n, err := strconv.Atoi(exponent)
	if err != nil || n < -6 || n > 20 {
		return mantissa + "e" + strconv.Itoa(n)
	}
	return strconv.FormatFloat(x, 'f', -1, 64)
}

// Round is x to n significant digits.
func Round(x float64, n int) float64 {
	y, _ := strconv.ParseFloat(strconv.FormatFloat(x, 'g', n, 64), 64)
	return y
}

// Hz is a frequency (Hz) to at most four significant digits: "55.8 Hz",
// "997 Hz", "1.682 kHz".
func Hz(f float64) string {
	if f >= 999.95 {
		return strconv.FormatFloat(f/1000, 'g', 4, 64) + " kHz"
	}
	return strconv.FormatFloat(f, 'g', 4, 64) + " Hz"
}

// Rate is a sampling rate (Hz) with all its digits: "44.1 kHz".
func Rate(f float64) string {
	if f >= 1000 {
		return Exact(f/1000) + " kHz"
	}
	return Exact(f) + " Hz"
}

// Seconds is a time (s) in microseconds or milliseconds to three significant
// digits.
func Seconds(s float64) string {
	switch a := math.Abs(s); {
	case a == 0:
		return "0 s"
	case a < 1e-12:
		return "< 1e-6 us"
	case a < 0.9995e-3:
		return Three(s*1e6) + " us"
	case a < 0.9995:
		return Three(s*1e3) + " ms"
	}
	return Three(s) + " s"
}

// NoSample is what a sample is that is not finite, or too large to be one; full scale is 1.
func NoSample(x float64) string {
	switch {
	case math.IsNaN(x):
		return "not a number"
	case math.IsInf(x, 0):
		return "infinite"
	}
	return Three(x) + " times full scale"
}

// Count is a number of things: "1 promise", "7 promises".
func Count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + many
}

// Part is the value of a part (ohm, F, V …) to four significant digits with a
// decimal prefix, without trailing zeros: "16.93 kohm", "4.7 nF".
func Part(x float64, unit string) string {
	if x == 0 || math.IsNaN(x) || math.IsInf(x, 0) {
		return Exact(x) + " " + unit
	}
	prefixes := [...]string{"p", "n", "u", "m", "", "k", "M", "G"}
	digits := strconv.FormatFloat(x, 'e', 3, 64)
	mantissa, exponent, _ := strings.Cut(digits, "e")
	n, _ := strconv.Atoi(exponent)
	// The prefix is found in decimal text: multiplying would round again.
	group := n + 12
	if group < 0 {
		group = 0
	}
	group = min(group/3, len(prefixes)-1)
	v, _ := strconv.ParseFloat(mantissa+"e"+strconv.Itoa(n-3*(group-4)), 64)
	return strconv.FormatFloat(v, 'f', -1, 64) + " " + prefixes[group] + unit
}

// Stock is the value of a part as it is ordered, with all its digits: "12.4
// kohm", "4.7 nF".
func Stock(x float64, unit string) string {
	if !(x > 0) || math.IsInf(x, 0) {
		return Part(x, unit)
	}
	mantissa, exponent, _ := strings.Cut(strconv.FormatFloat(x, 'e', -1, 64), "e")
	n, _ := strconv.Atoi(exponent)
	prefixes := [...]string{"p", "n", "u", "m", "", "k", "M", "G"}
	group := min(max(n+12, 0)/3, len(prefixes)-1)
	// The prefix is found in decimal text: multiplying would round again.
	v, _ := strconv.ParseFloat(mantissa+"e"+strconv.Itoa(n-3*(group-4)), 64)
	return strconv.FormatFloat(v, 'f', -1, 64) + " " + prefixes[group] + unit
}
