package language

// lang is a language with every feature of Type, close to the one that ships,
// so that these tests need nothing above this package.
var lang = Tables{
	Kinds: []Kind{
		{Name: "low-pass", Doc: "A low-pass.", Keys: passKeys, Example: "{family: butterworth, order: 2, at: 22 Hz}"},
		{Name: "high-pass", Doc: "A high-pass.", Keys: passKeys, Example: "{family: butterworth, order: 2, at: 22 Hz}"},
		{Name: "band-pass", Doc: "A band-pass.", Keys: []Key{at, q}},
		{Name: "notch", Doc: "A notch.", Keys: []Key{at, q,
			{Name: "depth", Effect: Wanted, Type: Type{Dims: []Dim{Level}, Max: 200, Open: true, Words: []string{"complete"}}, Default: "complete", Doc: "Depth, dB.", Example: "20 dB"}}},
		{Name: "all-pass", Doc: "An all-pass.", Keys: []Key{at,
			{Name: "order", Effect: Wanted, Type: Type{Integer: true, Min: 1, Max: 2}, Default: "2", Doc: "Order.", Example: "1"}, optional(q)}},
		{Name: "peak", Doc: "A peak or a dip.", Keys: []Key{at, optional(q),
			{Name: "bandwidth", Effect: Wanted, Type: Type{Number: true, Max: 10, Open: true}, Doc: "Octaves between half-gain points.", Example: "1.5"}, by("gain")}},
		{Name: "low-shelf", Doc: "A low shelf.", Keys: shelfKeys},
		{Name: "high-shelf", Doc: "A high shelf.", Keys: shelfKeys},
		{Name: "pole-shift", Doc: "Moves a pole pair.", Keys: []Key{
			{Name: "from", Effect: Wanted, Type: Type{Keys: []Key{at, q}}, Required: true, Doc: "The pair to remove.", Example: "{at: 55.8 Hz, q: 0.81}"},
			{Name: "to", Effect: Wanted, Type: Type{Keys: []Key{at, q}}, Required: true, Doc: "The pair to put there.", Example: "{at: 34 Hz, q: 0.65}"}}},
		{Name: "dipole-lift", Doc: "Gives back a dipole's fall.", Keys: []Key{named("from"), named("to")}},
		{Name: "rational", Doc: "A ratio of polynomials.", Keys: []Key{at, coefficients("numerator"), coefficients("denominator")}},
		{Name: "roots", Doc: "Zeros and poles.", Keys: []Key{
			{Name: "zeros", Effect: Wanted, Type: rootList(true), Doc: "Zeros.", Example: "[0, 159 Hz, {at: 1 kHz, q: 2, side: right}]"},
			{Name: "poles", Effect: Wanted, Type: rootList(false), Required: true, Doc: "Poles.", Example: "[20 Hz, {at: 1 kHz, q: 2}]"},
			{Name: "unity-at", Effect: Wanted, Type: Type{Dims: []Dim{Frequency}, Max: 10e6, Words: []string{"inf"}}, Default: "1 kHz", Doc: "Where the gain is 1.", Example: "0 Hz"}}},
		{Name: "gain", Doc: "A gain.", Keys: []Key{by("by")}, Bare: "by"},
		{Name: "delay", Doc: "A pure delay.", NoWhen: true, Keys: []Key{
			{Name: "by", Effect: Wanted, Type: Type{Dims: []Dim{Time, Length}, Max: 343}, Required: true, Doc: "How much.", Example: "0.09 ms"}}},
	},
	Methods: []Named{{Name: "bilinear", Doc: "Prewarped."}},
	Formats: []Named{{Name: "float32", Doc: "Single."}, {Name: "float64", Doc: "Double."}},
	Dither:  [2]int{16, 24},
	Engines: Engines{Forms: []Named{{Name: "direct-1", Doc: "Direct."}, {Name: "transposed-2", Doc: "Transposed."}},
		Sequences: []Named{{Name: "one-moved", Doc: "Usual."}, {Name: "quietest", Doc: "Quiet."}},
		Word:      [2]int{12, 40}, Data: [2]int{12, 56}, Accumulator: [2]int{24, 96}},
	LowPass: "low-pass", HighPass: "high-pass",
	Promises: promiseKeys,
}

var (
	at = named("at")
	q  = Key{Name: "q", Effect: Wanted, Type: Type{Number: true, Max: 1000, Open: true}, Required: true, Doc: "Quality.", Example: "0.7"}

	passKeys = []Key{at,
		{Name: "family", Effect: Wanted, Type: Type{Words: []string{"butterworth", "bessel", "LR", "chebyshev", "inverse-chebyshev", "elliptic", "critically-damped"}}, Doc: "Alignment.", Example: "butterworth"},
		{Name: "order", Effect: Wanted, Type: Type{Integer: true, Min: 1, Max: 12}, Doc: "Order.", Example: "4"},
		{Name: "ripple", Effect: Wanted, Type: Type{Dims: []Dim{Level}, Max: 12, Open: true}, Doc: "Ripple, dB.", Example: "0.5 dB"},
		{Name: "stop", Effect: Wanted, Type: Type{Dims: []Dim{Level}, Max: 200, Open: true}, Doc: "Stop-band attenuation, dB.", Example: "60 dB"},
		{Name: "scaled-by", Effect: Wanted, Type: Type{Words: []string{"level", "delay", "phase"}}, Default: "level", Doc: "What `at` means for bessel.", Example: "delay"},
		optional(q)}
	shelfKeys = []Key{at, by("gain"),
		{Name: "order", Effect: Wanted, Type: Type{Integer: true, Min: 1, Max: 2}, Default: "2", Doc: "Order.", Example: "1"},
		{Name: "q", Effect: Wanted, Type: Type{Number: true, Max: 100, Open: true}, Doc: "Quality.", Example: "0.7"},
		{Name: "slope", Effect: Wanted, Type: Type{Number: true, Max: 1, Open: true}, Doc: "Slope.", Example: "0.9"}}
)

func named(name string) Key {
	return Key{Name: name, Effect: Wanted, Type: Type{Dims: []Dim{Frequency}, Max: 10e6, Open: true}, Required: true, Doc: "Frequency, Hz.", Example: "80 Hz"}
}

func by(name string) Key {
	return Key{Name: name, Effect: Wanted, Type: Type{Dims: []Dim{Level}, Min: -120, Max: 120}, Required: true, Doc: "Gain, dB.", Example: "-3 dB"}
}

func optional(k Key) Key {
	k.Required = false
	return k
}

func coefficients(name string) Key {
	return Key{Name: name, Effect: Wanted, Type: Type{List: &Type{Number: true}, MinLen: 1, MaxLen: 13}, Required: true, Doc: "Coefficients, highest power first.", Example: "[1, 0.5, 1]"}
}

func rootList(zeros bool) Type {
	keys := []Key{at, {Name: "q", Effect: Wanted, Type: Type{Number: true, Max: 1000, Open: true, Words: []string{"inf"}}, Required: true, Doc: "Quality.", Example: "2"}}
	if zeros {
		keys = append(keys, Key{Name: "side", Effect: Wanted, Type: Type{Words: []string{"left", "right"}}, Default: "left", Doc: "Half-plane.", Example: "right"})
	}
	return Type{List: &Type{Either: []Type{
		{Dims: []Dim{Frequency}, Max: 10e6, Open: true, Words: []string{"0"}},
		{Keys: keys},
	}}, MaxLen: 24}
}

// promiseKeys are a promise block with every shape of limit.
var promiseKeys = []Key{
	{Name: "band", Effect: Promises, Type: Type{Range: true, Dims: []Dim{Frequency}, Min: 0.1, Max: 384e3}, Default: "20 Hz to 20 kHz",
		Doc: "The frequency range of the promises; at each rate up to 0.46 of it.", Example: "20 Hz to 20 kHz"},
	{Name: "magnitude", Effect: Promises, Type: positive(level(0, 100, "off")), Default: "0.1 dB",
		Doc: "Largest error of a way's magnitude, dB.", Example: "0.1 dB"},
	{Name: "down-to", Effect: Promises, Type: level(-200, 0), Default: "-60 dB",
		Doc: "How far below its peak a way's response is checked, dB.", Example: "-60 dB"},
	{Name: "phase", Effect: Promises, Type: Type{Dims: []Dim{Angle}, Max: 180, Open: true, Words: []string{"off"}}, Default: "5 deg",
		Doc: "Largest phase error of ways that sum, degrees.", Example: "5 deg"},
	{Name: "noise", Effect: Promises, Type: Type{Dims: []Dim{FullScale}, Min: -400, Max: 0, Words: []string{"off"}}, Default: "-110 dBFS",
		Doc: "Highest round-off noise, 20 Hz to 20 kHz unweighted, dBFS.", Example: "-110 dBFS"},
	{Name: "headroom", Effect: Promises, Type: level(-120, 120, "off"), Default: "0 dB",
		Doc: "Least headroom for a full-scale sine at any frequency, dB.", Example: "0 dB"},
	{Name: "latency", Effect: Promises, Type: Type{Dims: []Dim{Time}, Min: 0, Max: 10, Words: []string{"off"}}, Default: "off",
		Doc: "Largest delay beyond the prototype's, s.", Example: "2 ms"},
}
