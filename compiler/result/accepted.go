package result

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/verify"
)

// AcceptedVersion is the value of "accepted", the version of NAME.accepted.json.
const AcceptedVersion = 1

// Accepted is what a team agreed to ship, in a small text file that reads well
// as a difference: the spec itself, so that causes can be traced, the
// coefficients at the digits that matter, and the responses as a table. It is
// the same to the byte on every amd64 machine. Where a processor fuses products
// and sums, fits end a little elsewhere: Compare tells it, and it is no
// regression.
type Accepted struct {
	Accepted int       `json:"accepted"`
	Name     string    `json:"name"`
	Revision string    `json:"revision"`
	Settings []Setting `json:"settings"`
	Findings []Verdict `json:"promises"`
	Digital  []Reached `json:"digital"`
	Spec     []string  `json:"spec"` // its lines; empty where it is not known
	Tables   []Table   `json:"responses"`
	Board    *Fitted   `json:"board,omitempty"` // nil where there is none
}

// Verdict is what became of a promise.
type Verdict struct {
	Promise     string  `json:"promise"`
	Realisation string  `json:"realisation"`
	Way         string  `json:"way"`
	Limit       float64 `json:"limit"`
	Worst       float64 `json:"worst"` // three digits
	Unit        string  `json:"unit"`
	AtHz        float64 `json:"at_hz"`
	Kept        bool    `json:"kept"`
}

// Reached is one realisation at one rate in one number format.
type Reached struct {
	RateHz       float64 `json:"rate_hz"`
	Format       string  `json:"format"`
	Method       string  `json:"method"`
	CommonDelayS float64 `json:"common_delay_s"` // to a nanosecond
	InputGain    float64 `json:"input_gain"`
	Common       Chain   `json:"common"`
	Ways         []Chain `json:"ways"`
}

// Chain is the common part or a way, with what it costs and reaches.
type Chain struct {
	Way          string   `json:"way,omitempty"`
	Gain         float64  `json:"gain"` // linear, nine digits
	Polarity     int      `json:"polarity"`
	DelaySamples int      `json:"delay_samples"`
	Biquads      int      `json:"sections"`              // run for every sample, common ones included for a way
	NoiseDBFS    float64  `json:"noise_dbfs,omitempty"`  // to 0.1 dB
	HeadroomDB   float64  `json:"headroom_db,omitempty"` // to 0.01 dB
	LatencyS     float64  `json:"latency_s,omitempty"`   // to a nanosecond
	Coefficients []Words9 `json:"coefficients"`
}

// Words9 are the words of one alternative of one position, in the variable of
// its form, to nine digits.
type Words9 struct {
	Position int                 `json:"position"`
	Filter   string              `json:"filter"`
	When     map[string][]string `json:"when,omitempty"`
	Form     string              `json:"form"`
	B        []float64           `json:"b"`
	A        []float64           `json:"a"`
}

// Table is the response of every way of the float64 reference at one rate, in
// every combination of the settings that it depends on where there are 16 or
// fewer, otherwise in the default and with each choice alone.
type Table struct {
	RateHz float64    `json:"rate_hz"`
	Hz     []float64  `json:"hz"` // a third of an octave apart
	Rows   []TableRow `json:"rows"`
}

// TableRow is one way in one combination. The phase is without the common
// delay; below -120 dB both read as nothing: -120 and 0.
type TableRow struct {
	Way     string            `json:"way"`
	Setting map[string]string `json:"setting"`
	DB      []float64         `json:"db"`  // to 0.001
	Deg     []float64         `json:"deg"` // to 0.01
}

// Accept is what a build would be accepted as.
func Accept(b *compiler.Build) *Accepted {
	a := FromResult(Of(b), b.Spec.Source)
	if a.Board != nil {
		a.Board.Response = boardTable(b)
	}
	return a
}

// FromResult is a result as an accepted one. src is the text of its spec, nil
// where it is not known: then no cause can be traced. A result does not hold how
// its board is wired: of that there is no table.
func FromResult(r *Result, src []byte) *Accepted {
	a := &Accepted{Accepted: AcceptedVersion, Name: r.Name, Revision: r.Revision, Settings: r.Settings, Findings: []Verdict{}, Digital: []Reached{}, Spec: []string{}, Tables: []Table{}, Board: fitted(r.Board)}
	if src != nil {
		a.Spec = strings.Split(string(src), "\n")
	}
	for _, f := range r.Findings {
		a.Findings = append(a.Findings, Verdict{f.Promise, f.Realisation, f.Way, digits(f.Limit, 9), digits(f.Worst, 3), f.Unit, digits(f.AtHz, 3), f.Kept})
	}
	for _, d := range r.Digital {
		a.Digital = append(a.Digital, reached(d, r.Figures))
	}
	for i := range a.Digital {
		if d := &a.Digital[i]; d.Format == reference {
			a.Tables = append(a.Tables, a.table(d, r.Promises.BandHz))
		}
	}
	return a
}

// reference is the format that the tables are of.
const reference = "float64"

func reached(d Digital, figures []Figures) Reached {
	out := Reached{
		RateHz: d.RateHz, Format: d.Format, Method: d.Method,
		CommonDelayS: step(d.CommonDelayS, 1e9), InputGain: digits(d.InputGain, 9),
		Common: Chain{Gain: digits(d.Common.Gain, 9), Polarity: 1, DelaySamples: d.Common.DelaySamples},
		Ways:   []Chain{},
	}
	out.Common.Coefficients, out.Common.Biquads = nine(d.Common.Sections)
	name := compiler.RealisationName(d.RateHz, d.Format)
	for _, w := range d.Ways {
		c := Chain{Way: w.Way, Gain: digits(w.Gain, 9), Polarity: w.Polarity, DelaySamples: w.DelaySamples}
		c.Coefficients, c.Biquads = nine(w.Sections)
		c.Biquads += out.Common.Biquads
		for _, f := range figures {
			if f.Realisation != name || f.Way != w.Way {
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

// nine are sections at nine digits, and how many positions they fill.
func nine(sections []Section) ([]Words9, int) {
	out := []Words9{}
	positions := 0
	row := func(x [3]float64) []float64 {
		return []float64{digits(x[0], 9), digits(x[1], 9), digits(x[2], 9)}
	}
	for _, s := range sections {
		out = append(out, Words9{s.Position, s.Filter, s.When, s.Form, row(s.Words.B), row(s.Words.A)})
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
	y, _ := strconv.ParseFloat(strconv.FormatFloat(x, 'g', n, 64), 64)
	return y
}

// step is x to 1/per, never a negative zero.
func step(x, per float64) float64 { return math.Round(x*per)/per + 0 }

const (
	tablePerOctave    = 3
	tableCombinations = 16
	tableFloorDB      = -120
)

// grid are frequencies from lo to hi (Hz), perOctave an octave, hi included.
func grid(lo, hi float64, perOctave int) []float64 {
	var out []float64
	for i := 0; ; i++ {
		f := lo * math.Exp2(float64(i)/float64(perOctave))
		if f >= hi*(1-1e-6) {
			return append(out, hi)
		}
		out = append(out, f)
	}
}

func (a *Accepted) table(d *Reached, band [2]float64) Table {
	hi := math.Min(band[1], verify.TopOfRate*d.RateHz)
	t := Table{RateHz: d.RateHz, Rows: []TableRow{}}
	for _, f := range grid(band[0], hi, tablePerOctave) {
		t.Hz = append(t.Hz, digits(f, 5))
	}
	for k := range d.Ways {
		for _, c := range combinations(d.axes(k, a.Settings)) {
			t.Rows = append(t.Rows, tableRow(d.Ways[k].Way, c, t.Hz, d.response(k, c, t.Hz), 0))
		}
	}
	return t
}

// axes are the settings that way k depends on.
func (d *Reached) axes(k int, settings []Setting) []Setting {
	used := map[string]bool{}
	for _, c := range []Chain{d.Common, d.Ways[k]} {
		for _, s := range c.Coefficients {
			for name := range s.When {
				used[name] = true
			}
		}
	}
	var out []Setting
	for _, s := range settings {
		if used[s.Name] {
			out = append(out, s)
		}
	}
	return out
}

// combinations are all choices of the axes where there are 16 or fewer, else
// the default and each choice alone; settings outside the axes are left out.
func combinations(axes []Setting) []map[string]string {
	n := 1
	for _, s := range axes {
		n = min(n*len(s.Choices), tableCombinations+1)
	}
	if n > tableCombinations {
		return singly(axes)
	}
	out := []map[string]string{first(axes)}
	for i := len(axes) - 1; i >= 0; i-- {
		s, before := axes[i], out
		out = nil
		for _, c := range s.Choices {
			for _, m := range before {
				out = append(out, but(m, s.Name, c))
			}
		}
	}
	return out
}

// singly are the default of the axes and each choice alone.
func singly(axes []Setting) []map[string]string {
	base := first(axes)
	out := []map[string]string{base}
	for _, s := range axes {
		for _, c := range s.Choices[1:] {
			out = append(out, but(base, s.Name, c))
		}
	}
	return out
}

// first is the default of the axes.
func first(axes []Setting) map[string]string {
	m := map[string]string{}
	for _, s := range axes {
		m[s.Name] = s.Choices[0]
	}
	return m
}

// but is a combination with another choice of one setting.
func but(m map[string]string, name, choice string) map[string]string {
	out := map[string]string{name: choice}
	for k, v := range m {
		if k != name {
			out[k] = v
		}
	}
	return out
}

var forms = map[string]biquad.Form{
	biquad.Direct.String(): biquad.Direct, biquad.Delta.String(): biquad.Delta, biquad.Mirrored.String(): biquad.Mirrored,
}

// response is way k at hz (Hz), common part, polarity and whole delays
// included, the common delay taken out, computed from the words alone.
func (d *Reached) response(k int, choices map[string]string, hz []float64) []complex128 {
	c := biquad.Cascade[biquad.Digital]{Gain: 1}
	for _, part := range []*Chain{&d.Common, &d.Ways[k]} {
		c.Gain *= part.Gain * float64(part.Polarity)
		c.DelayS += float64(part.DelaySamples) / d.RateHz
		for _, s := range part.Coefficients {
			if s.applies(choices) {
				c.Slots = append(c.Slots, biquad.Fixed(biquad.Digital{Form: forms[s.Form], B: [3]float64(s.B), A: [3]float64(s.A)}))
			}
		}
	}
	out := make([]complex128, len(hz))
	biquad.DigitalAt(out, c, nil, d.RateHz, hz)
	for i, f := range hz {
		late := biquad.Delay(f, d.CommonDelayS)
		out[i] *= complex(real(late), -imag(late))
	}
	return out
}

func (s Words9) applies(choices map[string]string) bool {
	for setting, allowed := range s.When {
		if !slices.Contains(allowed, choices[setting]) {
			return false
		}
	}
	return true
}

// Bytes is NAME.accepted.json.
func (a *Accepted) Bytes() ([]byte, error) { return pretty(a, acceptedWidth) }

// acceptedWidth puts a section and a finding on a line of its own each, so that
// one that changed is one changed line.
const acceptedWidth = 240

// ReadAccepted takes a NAME.accepted.json. It fails on another kind of file or
// version, on one that lacks what it must have, and on one whose table and
// coefficients belong to different realisations, as after a merge of two.
func ReadAccepted(data []byte) (*Accepted, error) {
	var a Accepted
	if err := json.Unmarshal(data, &a); err != nil {
		return nil, fmt.Errorf("not an accepted result of bandwright: %w", err)
	}
	switch {
	case a.Accepted == 0 || a.Name == "":
		return nil, fmt.Errorf("not an accepted result of bandwright: `accepted` or `name` is missing")
	case a.Accepted != AcceptedVersion:
		return nil, fmt.Errorf("an accepted result of version %d; this bandwright reads version %d", a.Accepted, AcceptedVersion)
	}
	for _, s := range a.Settings {
		if len(s.Choices) == 0 {
			return nil, fmt.Errorf("the setting `%s` has no choices", s.Name)
		}
	}
	for i := range a.Digital {
		if err := a.Digital[i].check(); err != nil {
			return nil, err
		}
	}
	if a.Board != nil && a.Board.Response != nil {
		if err := a.Board.Response.check(); err != nil {
			return nil, err
		}
	}
	return &a, a.agree()
}

// check says what of a realisation could not be evaluated.
func (d *Reached) check() error {
	if !(d.RateHz > 0) {
		return fmt.Errorf("a realisation without a `rate_hz`")
	}
	if len(d.Ways) == 0 {
		return fmt.Errorf("%s has no ways", compiler.RealisationName(d.RateHz, d.Format))
	}
	for k, w := range d.Ways {
		if d.way(w.Way) != k {
			return fmt.Errorf("%s has the way `%s` twice", compiler.RealisationName(d.RateHz, d.Format), w.Way)
		}
	}
	for _, c := range append([]Chain{d.Common}, d.Ways...) {
		for _, s := range c.Coefficients {
			if _, ok := forms[s.Form]; !ok || len(s.B) != 3 || len(s.A) != 3 || s.A[0] != 1 {
				return fmt.Errorf("%s %s: a section needs a form, three `b` and three `a` that begin with 1", compiler.RealisationName(d.RateHz, d.Format), c.Way)
			}
		}
	}
	return nil
}

const (
	// mergeDB is how far table and coefficients may lie apart: their digits
	// leave 0.0006 dB where a way is heard.
	mergeDB     = 0.005
	mergeDownTo = -60 // dB below which digits are too few to tell
)

// agree holds the tables against the coefficients.
func (a *Accepted) agree() error {
	for _, t := range a.Tables {
		i := slices.IndexFunc(a.Digital, func(d Reached) bool { return d.RateHz == t.RateHz && d.Format == reference })
		if i < 0 {
			return fmt.Errorf("a table at %g Hz without its coefficients: accept the spec anew", t.RateHz)
		}
		d := &a.Digital[i]
		for _, row := range t.Rows {
			k := d.way(row.Way)
			if k < 0 || len(row.DB) != len(t.Hz) || len(row.Deg) != len(t.Hz) {
				return fmt.Errorf("the table at %g Hz does not fit the ways: accept the spec anew", t.RateHz)
			}
			for n, h := range d.response(k, row.Setting, t.Hz) {
				if db := biquad.DB(h); math.Max(db, row.DB[n]) > mergeDownTo && math.Abs(db-row.DB[n]) > mergeDB {
					return fmt.Errorf("%s at %g Hz is %.3f dB in the table and %.3f dB by its coefficients: they belong to different results, as after a merge; accept the spec anew",
						row.Way, t.Hz[n], row.DB[n], db)
				}
			}
		}
	}
	return nil
}

func (d *Reached) way(name string) int {
	return slices.IndexFunc(d.Ways, func(c Chain) bool { return c.Way == name })
}

// source is the spec's text.
func (a *Accepted) source() []byte { return []byte(strings.Join(a.Spec, "\n")) }
