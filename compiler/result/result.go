// Package result is the exact shape of NAME.json: the finished Build goes in,
// the values that other tools rely on come out, and Read takes the same bytes
// back. Fields are added, never renamed.
//
// In it
//
//	H(z) = (b0 + b1·z⁻¹ + b2·z⁻²) / (1 + a1·z⁻¹ + a2·z⁻²)
//
// for every section, whatever form the arithmetic keeps it in. The one
// invariant: in every combination of settings exactly one entry of a position
// applies.
//
// Read first: Result, Of.
package result

// Version is the language and file version, the value of "bandwright".
const Version = 1

// Result is the whole file.
type Result struct {
	Bandwright int    `json:"bandwright"`
	Name       string `json:"name"`
	Title      string `json:"title,omitempty"`
	Revision   string `json:"revision"`
	SpecSHA256 string `json:"spec_sha256"` // of the spec's bytes
	// Inputs and Files give the SHA-256 of every file that the spec names and
	// of every other artefact, by slash-separated name.
	Inputs   map[string]string `json:"inputs"`
	Files    map[string]string `json:"files"`
	Settings []Setting         `json:"settings"`
	Promises Promises          `json:"promises"`
	Digital  []Digital         `json:"digital"`
	// Board is absent where the spec asks for none.
	Board *Board `json:"board,omitempty"`
	// Air is absent where the spec has no driver.
	Air           *Air           `json:"air,omitempty"`
	CrossoverSums []CrossoverSum `json:"crossover_sums"`
	// CrossoverPairs are the sums of each crossover's two sides.
	CrossoverPairs []CrossoverPair `json:"crossover_pairs"`
	Findings       []Finding       `json:"findings"`
	Figures        []Figures       `json:"figures"`
	Warnings       []Warning       `json:"warnings"`
}

// Setting is a setting with its choices as written, the default first.
type Setting struct {
	Name    string   `json:"name"`
	Choices []string `json:"choices"`
}

// Digital is one realisation at one rate in one number format. The input is
// multiplied by InputGain, passes Common once, and then each way.
type Digital struct {
	RateHz float64 `json:"rate_hz"`
	Format string  `json:"format"`
	// Asked is false for the float64 reference that the spec did not list.
	Asked  bool   `json:"asked"`
	Method string `json:"method"`
	// CommonDelayS: realised ≈ prototype · exp(-jω·CommonDelayS).
	CommonDelayS float64 `json:"common_delay_s"`
	InputGain    float64 `json:"input_gain"` // linear
	// GuardBits are the bits of a fixed-point word that stay free above full scale, so that
	// nothing wraps inside; absent of floating point.
	GuardBits int `json:"guard_bits,omitempty"`
	// Dither is that of the outputs; absent without.
	Dither *Dither `json:"dither,omitempty"`
	Common Common  `json:"common"`
	Ways   []Way   `json:"ways"`
	// Changes is absent where they were not simulated.
	Changes *Changes `json:"changes,omitempty"`
}

// Dither is what outputs are rounded with; noise from 20 Hz to 20 kHz, re the RMS of a full-scale sine.
type Dither struct {
	Bits      int     `json:"bits"`       // of the converters' words
	AloneDBFS float64 `json:"alone_dbfs"` // of the dither itself
	NoiseDBFS float64 `json:"noise_dbfs"` // with the rounding; contained in the noise of every way
}

// Common is what stands before the ways split.
type Common struct {
	Gain         float64   `json:"gain"` // linear, not contained in the sections
	DelaySamples int       `json:"delay_samples"`
	Sections     []Section `json:"sections"`
}

// Way is gain × polarity × delay × sections.
type Way struct {
	Way          string    `json:"way"`
	Gain         float64   `json:"gain"`     // linear, not contained in the sections
	Polarity     int       `json:"polarity"` // 1 or -1
	DelaySamples int       `json:"delay_samples"`
	Sections     []Section `json:"sections"`
}

// Section is one alternative of one position. When is nil (null) where it
// always applies, otherwise it applies where every setting named stands at one
// of the choices listed.
type Section struct {
	Position int                 `json:"position"`
	Filter   string              `json:"filter"` // the lines of the spec that it realises
	When     map[string][]string `json:"when"`
	// B and A are the effective coefficients, A[0] = 1. Feedback is
	// [-a1, -a2], for tools that add the feedback terms.
	B        [3]float64 `json:"b"`
	A        [3]float64 `json:"a"`
	Feedback [2]float64 `json:"feedback"`
	// Form is the variable that Words are coefficients in: "direct" z⁻¹,
	// "delta" 1/(z-1), "mirrored" 1/(z+1), "error-feedback" z⁻¹ again. Words are exactly the numbers that
	// the format holds; B and A follow from them and lose digits where a corner
	// lies far below the rate.
	Form  string `json:"form"`
	Words Words  `json:"words"`
	// Integers are the words as whole numbers; absent of floating point.
	Integers *Integers `json:"integers,omitempty"`
	// ErrorDB is what rounding the coefficients and the arithmetic does to the
	// section, re its own greatest gain, computed for the position's worst
	// alternative; the form is the one that makes it least.
	ErrorDB float64 `json:"error_db"`
}

// Changes are what is heard of changes of settings, by the bit-true simulation of one
// realisation: of the first rate in the shortest words.
type Changes struct {
	SettleS float64 `json:"settle_s"` // how long new sections run unheard
	FadeS   float64 `json:"fade_s"`
	// QuietFadeS is the shortest fade tried with which no click is above -80 dB; absent where
	// none is anyway, and where no fade does it.
	QuietFadeS float64  `json:"quiet_fade_s,omitempty"`
	Each       []Change `json:"each"`
}

// Change is one, the other settings at their first choice.
type Change struct {
	Setting string  `json:"setting"`
	From    string  `json:"from"`
	To      string  `json:"to"`
	ClickDB float64 `json:"click_db"` // peak above 1 kHz at any output, re the 60 Hz sine that goes in, whenever in its period
	LevelDB float64 `json:"level_db"` // greatest level re the louder of before and after
}

// Words are (b0 + b1·x + b2·x²) / (1 + a1·x + a2·x²) in the form's variable.
type Words struct {
	B [3]float64 `json:"b"`
	A [3]float64 `json:"a"`
}

// Integers are words of fixed point: b[k] of Words times 2 to the power of b_bits[k], and
// a[k] times 2 to the power of a_bits[k]. They fit 32 bits but for a[0], which is no word: it is 1.
type Integers struct {
	BBits [3]int `json:"b_bits"`
	B     [3]int `json:"b"`
	ABits [3]int `json:"a_bits"`
	A     [3]int `json:"a"`
}

// CrossoverSum is what the crossovers alone sum to over the band, in the
// spec's polarities.
type CrossoverSum struct {
	PhaseCompensation string  `json:"phase_compensation"`
	LowDB             float64 `json:"low_db"` // at least -120, a null
	LowHz             float64 `json:"low_hz"`
	HighDB            float64 `json:"high_db"`
	HighHz            float64 `json:"high_hz"`
	Chosen            bool    `json:"chosen"` // the spec's own
}

// CrossoverPair is what the two sides of one crossover sum to.
type CrossoverPair struct {
	Lower  string  `json:"lower"`
	Upper  string  `json:"upper"`
	LowDB  float64 `json:"low_db"` // at least -120, a null
	LowHz  float64 `json:"low_hz"`
	HighDB float64 `json:"high_db"`
	HighHz float64 `json:"high_hz"`
}

// Finding is one promise × realisation × way in its worst combination.
type Finding struct {
	Promise     string            `json:"promise"`
	Realisation string            `json:"realisation"`
	Way         string            `json:"way"` // "" for all ways together, "sum" for their sum
	Setting     map[string]string `json:"setting"`
	Limit       float64           `json:"limit"`
	Worst       float64           `json:"worst"`
	Unit        string            `json:"unit"`
	AtHz        float64           `json:"at_hz"` // 0 where no frequency belongs to it
	Kept        bool              `json:"kept"`
	Broken      int               `json:"broken"` // combinations that break it
	Of          int               `json:"of"`
	Remedy      string            `json:"remedy,omitempty"`
	Note        string            `json:"note,omitempty"`
}

// Figures are what was measured of one way, or of the sum, in one
// realisation. A figure that was not measured is null.
type Figures struct {
	Realisation string   `json:"realisation"`
	Way         string   `json:"way"`
	MagnitudeDB *Extreme `json:"magnitude_db"` // realised over prototype
	TopOctaveDB *Extreme `json:"top_octave_db"`
	PhaseDeg    *Extreme `json:"phase_deg"`
	GroupDelayS *Extreme `json:"group_delay_s"`
	PeakDBFS    *Extreme `json:"peak_dbfs"`
	L1DBFS      float64  `json:"l1_dbfs"`
	NoiseDBFS   *Extreme `json:"noise_dbfs"`
	PoleMargin  float64  `json:"pole_margin"`
	LatencyS    float64  `json:"latency_s"`
	Sections    int      `json:"sections"`
	// Of a board's ways alone.
	NoiseV  *Extreme `json:"noise_v,omitempty"`   // RMS, 20 Hz to 20 kHz
	NoiseAV *Extreme `json:"noise_a_v,omitempty"` // the same, A-weighted
	OffsetV *Extreme `json:"offset_v,omitempty"`  // DC at the output, greatest magnitude
	ClipV   *Extreme `json:"clip_v,omitempty"`    // RMS at the input
}

// Extreme is a worst value with its place.
type Extreme struct {
	Value   float64           `json:"value"`
	AtHz    float64           `json:"at_hz"`
	Setting map[string]string `json:"setting"`
}

// Warning is a fault that did not stop the compilation; lines and columns
// count from 1.
type Warning struct {
	Line    int    `json:"line"`
	Column  int    `json:"column"`
	Message string `json:"message"`
	Right   string `json:"right,omitempty"`
}
