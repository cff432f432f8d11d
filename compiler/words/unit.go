package words

import (
	"math"
	"strconv"
)

// Unit is the unit of a figure: what files call it, and how people read it.
type Unit int

// The units of figures. The zero Unit is that of a plain number.
const (
	Plain      Unit = iota
	DB              // dB, of an error or a gain
	DBFS            // dB re full scale
	DBu             // dB re 0.775 V
	Deg             // degrees
	Second          // s
	Volt            // V
	Margin          // 1-|z|: how far the outermost pole lies inside the unit circle
	Filters         // a number of filters
	Share           // a part of one, written in percent
	Millimetre      // mm, of a travel
)

// writing is how figures in one unit are written.
type writing struct {
	symbol string
	// measured and limit write a measured value and one that a spec demands.
	measured, limit func(x float64, symbol string) string
	// isError: values below Floor are the round-off of nothing.
	isError bool
}

var writings = [...]writing{
	Plain:   {"", plain, exact, false},
	DB:      {"dB", Error, exactWith, true},
	DBFS:    {"dBFS", Level, exactWith, false},
	DBu:     {"dBu", Level, exactWith, false},
	Deg:     {"deg", Error, exactWith, true},
	Second:  {"s", seconds, milliseconds, false},
	Volt:    {"V", volts, Part, false},
	Margin:  {"1-|z|", plain, exact, false},
	Filters: {"filters", plain, exact, false},
	Share:   {"share", percent, percent, false},

	Millimetre: {"mm", threeWith, exactWith, false},
}

// String is the unit as files name it: "dB".
func (u Unit) String() string { return writings[u].symbol }

// Measured is a measured value: "0.0123 dB", "-141 dBFS", "2.09 ms".
func (u Unit) Measured(x float64) string { return writings[u].measured(x, writings[u].symbol) }

// Beside is Measured, of what may read like a limit though it is another number: then it has as many digits as tell the
// two apart.
func (u Unit) Beside(x, limit float64) string {
	text := u.Measured(x)
	if off := math.Abs(x - limit); off > 0 && !math.IsInf(off, 0) && text == u.Measured(limit) {
		for digits := 3; digits <= 17; digits++ {
			near, _ := strconv.ParseFloat(strconv.FormatFloat(x, 'g', digits, 64), 64)
			if math.Abs(near-x) < off/4 {
				if text = u.Limit(near); near > 0 && u.Measured(1)[0] == '+' {
					text = "+" + text
				}
				break
			}
		}
	}
	return text
}

// Signed is Measured with a plus sign on positive errors.
func (u Unit) Signed(x float64) string {
	if writings[u].isError {
		return Signed(x, writings[u].symbol)
	}
	return u.Measured(x)
}

// Limit is a limit as the spec wrote it: "0.1 dB", "2 ms".
func (u Unit) Limit(x float64) string { return writings[u].limit(x, writings[u].symbol) }

// Floored is x without the digits that round-off makes of nothing: an error
// that people read as "< 1e-9 dB" is 0.
func (u Unit) Floored(x float64) float64 {
	if writings[u].isError && math.Abs(x) < Floor {
		return 0
	}
	return x
}

func threeWith(x float64, symbol string) string { return Three(x) + " " + symbol }

func plain(x float64, _ string) string { return Three(x) }

func exact(x float64, _ string) string { return Exact(x) }

func exactWith(x float64, symbol string) string { return Exact(x) + " " + symbol }

func seconds(x float64, _ string) string { return Seconds(x) }

// milliseconds is a time (s) in ms, to the nanosecond.
func milliseconds(x float64, _ string) string { return Exact(math.Round(x*1e9)/1e6) + " ms" }

// percent is a share in percent, to the hundredth.
func percent(x float64, _ string) string { return Exact(math.Round(x*1e4)/100) + " %" }

// volts is a voltage to three significant digits.
func volts(x float64, symbol string) string {
	three, _ := strconv.ParseFloat(strconv.FormatFloat(x, 'e', 2, 64), 64)
	return Part(three, symbol)
}
