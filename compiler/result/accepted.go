package result

import (
	"maps"
	"math"
	"slices"
	"strings"

	"bandwright/compiler"
	"bandwright/compiler/words"
)

// AcceptedVersion is the value of "accepted", the version of NAME.accepted.json.
const AcceptedVersion = 2

// Accepted is what a team agreed to ship, in a small text file that reads well
// as a difference: the spec itself, so that causes can be traced, the
// coefficients as they are, the digital responses as a table for people, and how
// a board is wired. Words, gains and delays are the shortest decimals that read
// back to the same number: what is compared is what was built. One program writes the same
// to the byte on every amd64 machine. Where a processor fuses products
// and sums, fits end a little elsewhere: a comparison tells it, and it is no
// regression.
type Accepted struct {
	Accepted int    `json:"accepted"`
	Name     string `json:"name"`
	Revision string `json:"revision"`
	// MadeBy is the version of the program that made it; "" where that is not known, as of
	// older files and of a program built from a working tree without a version.
	MadeBy string `json:"made_by,omitempty"`
	// SpecFile is the spec's file, seen from the folder of accepted results, with
	// slashes; "" where it is not known.
	SpecFile string `json:"spec_file,omitempty"`
	// Inputs gives the SHA-256 of every file that the spec names, by its name.
	Inputs   map[string]string `json:"inputs,omitempty"`
	Settings []Setting         `json:"settings"`
	Spec     []string          `json:"spec"` // its lines; empty where it is not known
	Findings []AcceptedFinding `json:"promises"`
	Tables   []Table           `json:"responses"`
	// Digital and Board (nil where there is none) are what comparisons compute with,
	// exact; no person reads them.
	Digital []AcceptedDigital `json:"digital"`
	Board   *AcceptedBoard    `json:"board,omitempty"`
	// Drivers are the measured responses of ways; none of a file that is older than they are.
	Drivers []AcceptedDrivers `json:"measured,omitempty"`
}

// AcceptedFinding is what became of a promise.
type AcceptedFinding struct {
	Promise     string  `json:"promise"`
	Realisation string  `json:"realisation"`
	Way         string  `json:"way"`
	Limit       float64 `json:"limit"`
	Worst       float64 `json:"worst"` // three digits
	Unit        string  `json:"unit"`
	AtHz        float64 `json:"at_hz"`
	Kept        bool    `json:"kept"`
}

// AcceptedDigital is one realisation at one rate in one number format.
type AcceptedDigital struct {
	RateHz       float64         `json:"rate_hz"`
	Format       string          `json:"format"`
	Method       string          `json:"method"`
	CommonDelayS float64         `json:"common_delay_s"`
	InputGain    float64         `json:"input_gain"`
	Common       AcceptedChain   `json:"common"`
	Ways         []AcceptedChain `json:"ways"`
}

// AcceptedChain is the common part or a way, with what it costs and reaches.
type AcceptedChain struct {
	Way          string            `json:"way,omitempty"`
	Gain         float64           `json:"gain"` // linear
	Polarity     int               `json:"polarity"`
	DelaySamples int               `json:"delay_samples"`
	Biquads      int               `json:"sections"`              // run for every sample, common ones included for a way
	NoiseDBFS    float64           `json:"noise_dbfs,omitempty"`  // to 0.1 dB
	HeadroomDB   float64           `json:"headroom_db,omitempty"` // to 0.01 dB
	LatencyS     float64           `json:"latency_s,omitempty"`   // to a nanosecond
	Coefficients []AcceptedSection `json:"coefficients"`
}

// AcceptedSection is one alternative of one position: its words in the variable
// of its form.
type AcceptedSection struct {
	Position int                 `json:"position"`
	Filter   string              `json:"filter"`
	When     map[string][]string `json:"when,omitempty"`
	Form     string              `json:"form"`
	B        []float64           `json:"b"`
	A        []float64           `json:"a"`
}

// Accept is what a build would be accepted as.
func Accept(b *compiler.Build) *Accepted {
	a := FromResult(Of(b), b.Spec.Source)
	if a.Board != nil {
		a.Board.wire(b)
	}
	a.Drivers = acceptedDrivers(b)
	return a
}

// FromResult is a result as an accepted one. src is the text of its spec, nil
// where it is not known: then no cause can be traced. A result does not hold how
// its board is wired: its parts stand without nodes.
func FromResult(r *Result, src []byte) *Accepted {
	a := &Accepted{Accepted: AcceptedVersion, Name: r.Name, Revision: r.Revision, Inputs: maps.Clone(r.Inputs), Settings: r.Settings,
		Findings: []AcceptedFinding{}, Digital: []AcceptedDigital{}, Spec: []string{}, Tables: []Table{}, Board: acceptedBoard(r.Board)}
	if src != nil {
		a.Spec = strings.Split(string(src), "\n")
	}
	for _, f := range r.Findings {
		a.Findings = append(a.Findings, AcceptedFinding{f.Promise, f.Realisation, f.Way, digits(f.Limit, 9), digits(f.Worst, 3), f.Unit, digits(f.AtHz, 3), f.Kept})
	}
	for _, d := range r.Digital {
		a.Digital = append(a.Digital, acceptedDigital(d, r.Figures))
	}
	for i := range a.Digital {
		if d := &a.Digital[i]; d.Format == Reference {
			a.Tables = append(a.Tables, a.digitalTable(d, r.Promises.BandHz))
		}
	}
	return a
}

// Reference is the format that tables of responses are of: the realisation
// before quantisation.
const Reference = "float64"

func acceptedDigital(d Digital, figures []Figures) AcceptedDigital {
	out := AcceptedDigital{
		RateHz: d.RateHz, Format: d.Format, Method: d.Method,
		CommonDelayS: d.CommonDelayS, InputGain: d.InputGain,
		Common: AcceptedChain{Gain: d.Common.Gain, Polarity: 1, DelaySamples: d.Common.DelaySamples},
		Ways:   []AcceptedChain{},
	}
	out.Common.Coefficients, out.Common.Biquads = acceptedSections(d.Common.Sections)
	for _, w := range d.Ways {
		c := AcceptedChain{Way: w.Way, Gain: w.Gain, Polarity: w.Polarity, DelaySamples: w.DelaySamples}
		c.Coefficients, c.Biquads = acceptedSections(w.Sections)
		c.Biquads += out.Common.Biquads
		for _, f := range figures {
			if f.Realisation != out.name() || f.Way != w.Way {
				continue
			}
			if f.NoiseDBFS != nil {
				c.NoiseDBFS = step(f.NoiseDBFS.Value, 10)
			}
			if f.PeakDBFS != nil {
				c.HeadroomDB = step(-f.PeakDBFS.Value, 100)
			}
			c.LatencyS = step(f.LatencyS, 1e9)
		}
		out.Ways = append(out.Ways, c)
	}
	return out
}

// name is what findings call the realisation.
func (d *AcceptedDigital) name() string { return compiler.RealisationName(d.RateHz, d.Format) }

// acceptedSections are sections, and how many positions they fill.
func acceptedSections(sections []Section) ([]AcceptedSection, int) {
	out := []AcceptedSection{}
	positions := 0
	for _, s := range sections {
		out = append(out, AcceptedSection{s.Position, s.Filter, s.When, s.Form, slices.Clone(s.Words.B[:]), slices.Clone(s.Words.A[:])})
		positions = max(positions, s.Position+1)
	}
	return out, positions
}

// digits is x to n significant digits. Below a thousandth of the last digit
// that any word needs, x is what rounding left of nothing.
func digits(x float64, n int) float64 {
	const dust = 1e-15
	if math.Abs(x) < dust {
		return 0
	}
	return words.Round(x, n)
}

// step is x to 1/per, never a negative zero.
func step(x, per float64) float64 { return math.Round(x*per)/per + 0 }

// SpecText is the spec's text, nil where it is not known.
func (a *Accepted) SpecText() []byte {
	if len(a.Spec) == 0 {
		return nil
	}
	return []byte(strings.Join(a.Spec, "\n"))
}

// Bytes is NAME.accepted.json.
func (a *Accepted) Bytes() ([]byte, error) { return pretty(a, acceptedStyle) }

// acceptedStyle is for a person who reviews a change: the spec, what became of the
// promises and the responses come first, a finding a line and a level or phase response a line; then what comparisons
// compute with, a way of a realisation a line.
var acceptedStyle = words.JSON{Width: 240, Indent: 1, Packed: map[string]int{"responses": 4, "digital": 3, "board": 1, "measured": 1}}
