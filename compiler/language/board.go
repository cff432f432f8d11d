package language

import "fmt"

// Board is the `board` block: what op-amp stages are built from and what
// stands around them. All in SI units.
type Board struct {
	Pos     Pos
	Held    Input   // the board as it is laid out
	SupplyV float64 // symmetrical rails: ± this
	// DecouplingF (F) is the capacitor from each rail to ground at every package, and BulkF
	// that where the supply comes in, 0 for none.
	DecouplingF, BulkF float64
	Input              BoardInput
	Output             BoardOutput
	OpAmp              BoardOpAmp
	// Resistors are in ohm, Capacitors in farad.
	Resistors, Capacitors Stock
	// ShuntOhm is the smallest resistor where no op-amp has to drive it.
	ShuntOhm float64
	// Normal is the distribution of part values inside their tolerance: normal
	// with the tolerance as three standard deviations, else uniform.
	Normal bool
	// ColdC and HotC are the ends of the board's temperature in use (°C), 25 both where
	// the spec does not say.
	ColdC, HotC float64
	// TrimDB (dB) is what each way's level trimmer can do, plus and minus; 0 without one.
	TrimDB float64
	// FewDB (dB) is the error within which the board has as few different values as
	// are found; 0 where no number is given.
	FewDB float64
	// FewPromised asks for as few as are found within what is promised of the board, and FewUnsaid
	// says that the spec says nothing of them.
	FewPromised, FewUnsaid bool
}

// BoardOpAmp is the data of the op-amp.
type BoardOpAmp struct {
	GainBandwidthHz float64
	OpenLoopDB      float64
	OutputOhm       float64
	SlewVPerS       float64
	SwingV          float64 // largest output magnitude
	CommonModeV     float64 // largest input magnitude; 0 where not given
	VoltageNoise    float64 // V/√Hz
	CurrentNoise    float64 // A/√Hz
	// Below these (Hz; 0 for none) noise rises towards low frequencies.
	VoltageCornerHz, CurrentCornerHz float64

	OffsetV, BiasA float64 // largest magnitudes
	PerPackage     int
	// OutputA is the largest peak current that it gives (A), SupplyA what one op-amp of a
	// package takes at rest (A).
	OutputA, SupplyA float64
	// RailLowV and RailHighV are between what its rails may be, plus and minus; 0 where
	// not given.
	RailLowV, RailHighV float64
}

// series are the names of IEC 60063.
var series = []string{"E3", "E6", "E12", "E24", "E48", "E96", "E192"}

const (
	maxStock = 1000 // values of a list
	// headOfSwing (V) is how far below its rails an op-amp's output stays where
	// the spec does not say.
	headOfSwing = 2
	// usualLevel is the converter's full scale of a spec that does not give it.
	usualLevel = "2 V"
)

// What the values and tolerances of parts may be.
var (
	stockOhms     = within(Resistance, 0.01, 1e9)
	stockFarads   = within(Capacitance, 1e-12, 0.01)
	partTolerance = within(Share, 1e-4, 0.2)
)

// within is a quantity from low to high, in the dimension's own unit.
func within(d Dim, low, high float64, words ...string) Type {
	return Type{Dims: []Dim{d}, Min: low, Max: high, Words: words}
}

func dacKeys() []Key {
	return []Key{{Name: "full-scale", Effect: RealisesBoard, Type: within(Voltage, 1e-3, 100), Default: usualLevel,
		Doc: "RMS voltage of a full-scale sine at the converter's output, V.", Example: usualLevel}}
}

func boardKeys() []Key {
	return []Key{
		{Name: "held", Effect: RealisesBoard, Type: Type{Files: []string{".yaml"}},
			Doc: "The board as it is laid out, a file that `bandwright hold` writes.", Example: "boards/heron.yaml"},
		{Name: "supply", Effect: RealisesBoard, Type: within(Voltage, 3, MostRailV), Default: "15 V",
			Doc: "Symmetrical rails: plus and minus this, V.", Example: "15 V"},
		decouplingKey(), bulkKey(),
		inputKey(), outputKey(),
		{Name: "op-amp", Effect: RealisesBoard, Default: "{}", Doc: "The data of the op-amp.", Example: "{gain-bandwidth: 10 MHz}", Type: Type{Keys: []Key{
			{Name: "gain-bandwidth", Effect: RealisesBoard, Type: within(Frequency, 1e3, 100e9), Default: "10 MHz",
				Doc: "Frequency at which the open-loop gain is 1, Hz.", Example: "10 MHz"},
			{Name: "open-loop-gain", Effect: RealisesBoard, Type: level(20, 200), Default: "110 dB",
				Doc: "Open-loop gain at low frequencies, dB.", Example: "110 dB"},
			{Name: "output-resistance", Effect: RealisesBoard, Type: within(Resistance, 0, 10e3, "0"), Default: "50 ohm",
				Doc: "Open-loop output resistance, ohm.", Example: "50 ohm"},
			{Name: "slew-rate", Effect: RealisesBoard, Type: within(SlewRate, 1e3, 1e11), Default: "10 V/us",
				Doc: "Slew rate of the output, V/us.", Example: "10 V/us"},
			{Name: "swing", Effect: RealisesBoard, Type: within(Voltage, 0.1, MostRailV),
				Doc: "Peak output voltage, V, below the supply; 2 V below it by default.", Example: "13 V"},
			{Name: "common-mode", Effect: RealisesBoard, Type: within(Voltage, 0.1, 60),
				Doc: "Common-mode input range, plus and minus this, V; not checked by default.", Example: "12 V"},
			{Name: "voltage-noise", Effect: RealisesBoard, Type: within(VoltageNoise, 0, 1e-6, "0"), Default: "5 nV/rtHz",
				Doc: "Voltage noise density at the input.", Example: "5 nV/rtHz"},
			{Name: "current-noise", Effect: RealisesBoard, Type: within(CurrentNoise, 0, 1e-9, "0"), Default: "0.5 pA/rtHz",
				Doc: "Current noise density of each input.", Example: "0.5 pA/rtHz"},
			{Name: "voltage-noise-corner", Effect: RealisesBoard, Type: within(Frequency, 0.001, 1e6, "0"), Default: "0",
				Doc: "1/f corner of the voltage noise, where its power density is twice the white noise's, Hz; 0 for none.", Example: "10 Hz"},
			{Name: "current-noise-corner", Effect: RealisesBoard, Type: within(Frequency, 0.001, 1e6, "0"), Default: "0",
				Doc: "1/f corner of the current noise, Hz; 0 for none.", Example: "50 Hz"},
			{Name: "offset", Effect: RealisesBoard, Type: within(Voltage, 0, 1, "0"), Default: "2 mV",
				Doc: "Largest offset voltage, V.", Example: "2 mV"},
			{Name: "bias-current", Effect: RealisesBoard, Type: within(Current, 0, 1e-3, "0"), Default: "100 nA",
				Doc: "Largest bias current of each input, A.", Example: "100 nA"},
			{Name: "per-package", Effect: RealisesBoard, Type: Type{Integer: true, Min: 1, Max: 4}, Default: "2",
				Doc: "Op-amps per package.", Example: "2"},
			outputCurrentKey(), supplyCurrentKey(), supplyRangeKey(),
		}}},
		{Name: "resistors", Effect: RealisesBoard, Default: "{}", Doc: "The resistors in stock.", Example: "{series: E96}",
			Type: stock(stockOhms, [5]string{"E96", "1 %", "1 kohm", "100 kohm", "[1 kohm, 10 kohm]"}, Key{
				Name: "shunt-from", Effect: RealisesBoard, Type: stockOhms,
				Doc: "Smallest resistor to ground that no op-amp drives, ohm; `from` by default.", Example: "150 ohm"})},
		{Name: "capacitors", Effect: RealisesBoard, Default: "{}", Doc: "The capacitors in stock.", Example: "{series: E12}",
			Type: stock(stockFarads, [5]string{"E12", "2 %", "1 nF", "470 nF", "[1 nF, 10 nF]"})},
		{Name: "distribution", Effect: RealisesBoard | SpreadsBoards, Type: Type{Words: []string{"uniform", "normal"}}, Default: "uniform",
			Doc: "Distribution of part values within their tolerance, which is 3 sigma for normal.", Example: "normal"},
		temperatureKey(), trimKey(),
		{Name: "few-values", Effect: RealisesBoard, Type: positive(level(0, 100, "promise", "off")),
			Doc: "Search for the fewest different resistor and capacitor values that keep every way and sum within this, as well as the promises, dB; `promise` for 0.8 of what is promised, which leaves room for later edits; " +
				"`off` for no search. By default `promise` when a board is laid out (`hold`), `off` for one that is not held.", Example: "0.1 dB"},
	}
}

// size is a key's number, 0 for `none` and where it is not there.
func size(in *Value, key string) float64 {
	if x := in.Get(key); x != nil {
		return x.Number
	}
	return 0
}

// board checks what the grammar cannot: values against each other.
func (b *builder) board(root *Value) {
	dac := root.Get("dac").Get("full-scale")
	if dac != nil {
		b.spec.FullScaleV = dac.Number
	}
	v := root.Get("board")
	if v == nil {
		b.unusedDAC(root)
		return
	}
	amp := v.Get("op-amp")
	d := &Board{Pos: v.Pos, Held: input(v.Get("held")), SupplyV: size(v, "supply"), Normal: v.word("distribution") == "normal", FewDB: size(v, "few-values"),
		FewPromised: v.word("few-values") == "promise", FewUnsaid: v.Get("few-values") == nil}
	b.around(v, d)
	d.OpAmp = BoardOpAmp{
		GainBandwidthHz: size(amp, "gain-bandwidth"), OpenLoopDB: size(amp, "open-loop-gain"), OutputOhm: size(amp, "output-resistance"),
		SlewVPerS: size(amp, "slew-rate"), SwingV: size(amp, "swing"), VoltageNoise: size(amp, "voltage-noise"),
		CurrentNoise: size(amp, "current-noise"), CommonModeV: size(amp, "common-mode"), VoltageCornerHz: size(amp, "voltage-noise-corner"), CurrentCornerHz: size(amp, "current-noise-corner"),
		OffsetV: size(amp, "offset"), BiasA: size(amp, "bias-current"), PerPackage: int(size(amp, "per-package")),
		OutputA: size(amp, "output-current"), SupplyA: size(amp, "supply-current"),
	}
	if s := amp.Get("swing"); s == nil {
		d.OpAmp.SwingV = d.SupplyV - headOfSwing
	} else if d.SupplyV > 0 && s.Number >= d.SupplyV {
		b.fault(s.Pos, fmt.Sprintf("the op-amp's swing of %s is not below the rails of ±%s", quoted(s.Text), written(d.SupplyV, Voltage)),
			"lower `swing`, or raise `supply`")
	}
	b.supplyRange(v, d)
	b.use(v, d)
	d.Resistors = b.stock(v.Get("resistors"), "resistors", Resistance)
	d.Capacitors = b.stock(v.Get("capacitors"), "capacitors", Capacitance)
	for name, s := range map[string]*Stock{"resistors": &d.Resistors, "capacitors": &d.Capacitors} { // faults are sorted
		if at, p := d.drift(name, s, v); p.message != "" {
			b.fault(at, p.message, p.right)
		}
	}
	if at, p := d.shunt(v); p.message != "" {
		b.fault(at, p.message, p.right)
	}
	b.spec.Board = d
}

// shunt takes the smallest resistor to ground from the board block.
func (d *Board) shunt(v *Value) (Pos, problem) {
	d.ShuntOhm = d.Resistors.From
	s := v.Get("resistors").Get("shunt-from")
	if s == nil {
		return Pos{}, problem{}
	}
	if d.ShuntOhm = s.Number; d.Resistors.From > 0 && s.Number > d.Resistors.From {
		return s.Pos, problem{fmt.Sprintf("`shunt-from` of %s is above the smallest resistor, %s", quoted(s.Text), written(d.Resistors.From, Resistance)),
			"a resistor to ground may be smaller than the others, not larger: lower it, or leave it out"}
	}
	return Pos{}, problem{}
}

// unusedDAC warns of a converter that nothing here is reckoned with.
func (b *builder) unusedDAC(root *Value) {
	for _, f := range root.fields() {
		if f.Key == "dac" && f.Value != nil && f.Value.Given {
			b.warn(f.KeyPos, "`dac` has no effect: it drives a board, and this spec has no `board`", "add a `board`, or leave `dac` out")
		}
	}
}
