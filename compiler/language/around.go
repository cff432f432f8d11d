package language

// BoardInput is what drives the board, and what stands before its first stage.
type BoardInput struct {
	Level     Levels
	Balanced  bool
	SourceOhm float64
	CouplingF float64 // 0 for none
	// RFHz is the corner of a resistor and a capacitor to ground in each leg (Hz), source
	// included; 0 for none.
	RFHz float64
	// Clamped says that diodes keep each leg between the rails.
	Clamped bool
}

// BoardOutput stands behind every way.
type BoardOutput struct {
	// BuildOutOhm is one resistor; of a mute by transistors there are two in series.
	BuildOutOhm, LoadOhm float64
	CouplingF            float64 // 0 for none
	Mute                 Mute
}

// Mute is what keeps an output silent while the board has no supply.
type Mute uint8

// The mutes.
const (
	NoMute Mute = iota
	RelayMute
	TransistorMute
)

// mutes are their words.
var mutes = []string{NoMute: "none", RelayMute: "relay", TransistorMute: "transistor"}

// String is the mute's word in a spec.
func (m Mute) String() string { return mutes[m] }

// pinchOffV is the least supply (V) at which a mute's transistors stop; the board has
// their data.
const pinchOffV = 5

func coupling(where string) Key {
	return Key{Name: "coupling", Effect: RealisesBoard, Type: within(Capacitance, 1e-12, 1, "none"), Default: "none",
		Doc: "The coupling capacitor " + where + ", F.", Example: "10 uF"}
}

func inputKey() Key {
	return Key{Name: "input", Effect: RealisesBoard, Default: "{}", Doc: "What drives the board.", Example: "{balanced: true}", Type: Type{Keys: []Key{
		inputLevelKey(),
		{Name: "balanced", Effect: RealisesBoard, Type: Type{Words: []string{"true", "false"}}, Default: "false",
			Doc: "Whether the source is balanced.", Example: "true"},
		{Name: "source-impedance", Effect: RealisesBoard, Type: within(Resistance, 0, 1e6, "0"), Default: "100 ohm",
			Doc: "Output resistance of the source, ohm.", Example: "100 ohm"},
		coupling("at the input"),
		{Name: "rf-filter", Effect: RealisesBoard, Type: within(Frequency, 30e3, 10e6, "none"), Default: "none",
			Doc: "Corner of a resistor and a capacitor to ground in each leg of the input, the source's resistance included, Hz.", Example: "300 kHz"},
		{Name: "protection", Effect: RealisesBoard, Type: Type{Words: []string{"none", "clamp-diodes"}}, Default: "none",
			Doc: "clamp-diodes: behind a series resistor each leg of the input has a diode to either rail.", Example: "clamp-diodes"},
	}}}
}

func outputKey() Key {
	return Key{Name: "output", Effect: RealisesBoard, Default: "{}", Doc: "What every way's output drives.", Example: "{load: 10 kohm}", Type: Type{Keys: []Key{
		{Name: "build-out", Effect: RealisesBoard, Type: within(Resistance, 0, 10e3, "0"), Default: "100 ohm",
			Doc: "The resistor in series with the output, ohm; two of them with `mute: transistor`.", Example: "100 ohm"},
		{Name: "load", Effect: RealisesBoard, Type: within(Resistance, 100, 1e9), Default: "10 kohm",
			Doc: "Input resistance of what follows, ohm.", Example: "10 kohm"},
		coupling("at the output"),
		{Name: "mute", Effect: RealisesBoard | Offers, Type: Type{Words: mutes}, Default: mutes[NoMute],
			Doc: "What shorts each output to ground until the node `mute` has its voltage: the contact of a relay, or two depletion-mode transistors.", Example: mutes[RelayMute]},
	}}}
}

func decouplingKey() Key {
	return Key{Name: "decoupling", Effect: RealisesBoard, Type: within(Capacitance, 1e-9, 1e-3), Default: "100 nF",
		Doc: "The capacitor from each rail to ground at every op-amp package, F.", Example: "100 nF"}
}

func bulkKey() Key {
	return Key{Name: "bulk", Effect: RealisesBoard, Type: within(Capacitance, 1e-6, 1, "none"), Default: "none",
		Doc: "The capacitor from each rail to ground where the supply comes in, F.", Example: "100 uF"}
}

// around takes what stands around the stages from the board block.
func (b *builder) around(v *Value, d *Board) {
	in, out := v.Get("input"), v.Get("output")
	d.DecouplingF, d.BulkF = size(v, "decoupling"), size(v, "bulk")
	d.Input = BoardInput{Level: b.inputLevel(in.Get("level")), Balanced: in.word("balanced") == "true", SourceOhm: size(in, "source-impedance"),
		CouplingF: size(in, "coupling"), RFHz: size(in, "rf-filter"), Clamped: in.word("protection") == "clamp-diodes"}
	d.Output = BoardOutput{BuildOutOhm: size(out, "build-out"), LoadOhm: size(out, "load"), CouplingF: size(out, "coupling")}
	for m, word := range mutes {
		if out.word("mute") == word {
			d.Output.Mute = Mute(m)
		}
	}
	if d.Output.Mute == NoMute {
		return
	}
	at := out.Get("mute").Pos
	if r := out.Get("build-out"); r != nil && r.Number == 0 {
		b.fault(at, "a mute shorts the output to ground, and without a build-out resistor that is an op-amp's own output",
			"set `build-out`, 100 ohm or more, or leave `mute` out")
	}
	if s := v.Get("supply"); s != nil && s.Number < pinchOffV && d.Output.Mute == TransistorMute {
		b.fault(at, "the transistors of a mute are stopped by the negative rail, and "+quoted(s.Text)+" is not enough for that",
			"raise `supply` to 5 V or more, or write `mute: relay`")
	}
}
