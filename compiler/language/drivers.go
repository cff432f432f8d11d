package language

import (
	"fmt"
	"math"
	"slices"
)

// DriverModel is an entry of `drivers`: a driver by its parameters.
type DriverModel struct {
	Name string
	Pos  Pos
	Args *Value // every key that was given
}

// WayDriver is what a way's amplifier drives: several drivers of a model in a mounting, or
// whatever was measured.
type WayDriver struct {
	Pos Pos
	// Model is an index into Spec.Drivers, -1 for a measured response.
	Model            int
	Count            int
	Wiring, Mounting string // rows of Tables.Wirings and Tables.Mountings
	Args             *Value // every key of the form, defaults filled in
	// SetbackM is how far the acoustic centre lies behind that of other ways (m).
	SetbackM float64
	Response Input
	Drive    float64 // V RMS at the terminals when it was measured
	Distance float64 // m
	Time     string  // a row of ResponseTimes
	AreaM2   float64 // of the cone, for its pattern; 0 where it is not known
}

// Amplifier is a way's power amplifier.
type Amplifier struct {
	Pos      Pos
	GainDB   float64
	PowerW   float64 // of a sine into IntoOhm; 0 where not given
	IntoOhm  float64
	CurrentA float64 // RMS of the largest sine; 0 where not given: then what PowerW needs
	DC       bool    // it passes DC
}

// Absolute is the time of a response that counts from the signal at the terminals.
const Absolute = "absolute"

// ResponseTimes are what the phase of a measured response counts from.
var ResponseTimes = []Named{
	{Name: Absolute, Doc: "From the signal at the terminals: the flight over `distance` is in it."},
	{Name: "relative", Doc: "From some other moment: what it has beyond the phase of a minimum-phase system is taken out as a delay."},
}

const maxDrivers = 20 // models, and drivers of a way

// driverKeys are the parameters of a driver.
func driverKeys() []Key {
	key := func(name string, t Type, doc, example string) Key {
		return Key{Name: name, Effect: Radiates | Wanted, Type: t, Doc: doc, Example: example}
	}
	required := func(k Key) Key {
		k.Required = true
		return k
	}
	q := Type{Number: true, Min: 0.02, Max: 200}
	return []Key{
		key("resonance", within(Frequency, 1, 20e3), "Resonance in free air, Hz.", "29 Hz"),
		key("q-electrical", q, "Q of the motor's damping at the resonance.", "0.46"),
		key("q-mechanical", q, "Q of the mechanical damping at the resonance.", "5.1"),
		key("q-total", q, "Q of both, where one of them is not known.", "0.42"),
		key("moving-mass", within(Mass, 1e-6, 2), "Moving mass with the air that it carries, g.", "48 g"),
		key("compliance", within(Compliance, 1e-7, 0.1), "Compliance of the suspension, mm/N.", "0.63 mm/N"),
		key("compliance-volume", within(Volume, 1e-7, 10), "Volume of air as compliant as the suspension, l.", "103 l"),
		key("force-factor", within(ForceFactor, 0.05, 100), "Force factor, T m.", "10.3 T m"),
		key("damping", within(Damping, 1e-4, 100), "Mechanical resistance of the suspension, kg/s.", "1.7 kg/s"),
		required(key("area", within(Area, 1e-5, 1), "Effective area of the cone, cm2.", "340 cm2")),
		required(key("coil-resistance", within(Resistance, 0.1, 200), "DC resistance of the coil, ohm.", "5.6 ohm")),
		key("coil-inductance", within(Inductance, 0, 0.1), "Inductance of the coil, mH; none by default.", "0.3 mH"),
		{Name: "excursion", Effect: Radiates, Type: within(Length, 1e-5, 0.1), Doc: "How far the cone may move to one side, peak, mm; not checked by default.", Example: "8 mm"},
	}
}

const driverExample = "{resonance: 29 Hz, q-electrical: 0.46, q-mechanical: 5.1, moving-mass: 48 g, area: 340 cm2, coil-resistance: 5.6 ohm}"

// driversKey is the block of models; none without mountings for them.
func driversKey(lang Tables) []Key {
	if len(lang.Mountings) == 0 {
		return nil
	}
	return []Key{{Name: "drivers", Effect: Radiates | Wanted, Type: Type{Map: &Type{Keys: driverKeys()}, Name: true, Idle: true, MaxLen: maxDrivers},
		Doc: "Drivers by their small-signal parameters, any consistent set; ways name them.", Example: "{woofer: " + driverExample + "}"}}
}

// wayDriverKeys are `driver` and `amplifier` of a way.
func wayDriverKeys(lang Tables) []Key {
	if len(lang.Mountings) == 0 {
		return nil
	}
	return []Key{
		{Name: "driver", Effect: Radiates | Wanted, Type: Type{Either: []Type{{Keys: modelKeys(lang)}, {Keys: responseKeys()}}},
			Doc: "What the way's amplifier drives: a model of `drivers` in its mounting, or a measured response.", Example: "{model: woofer, mounting: sealed, volume: 38 l}"},
		{Name: "amplifier", Effect: Radiates, Type: Type{Keys: amplifierKeys()},
			Doc: "The way's power amplifier.", Example: "{gain: 26 dB, power: 150 W, into: 8 ohm}"},
	}
}

func setbackKey() Key {
	return Key{Name: "setback", Effect: Radiates, Type: within(Length, 0, 10, "0"), Default: "0",
		Doc: "How far its acoustic centre lies further from the listener than that of the nearest way, mm: sound from it comes so much later.", Example: "31 mm"}
}

func modelKeys(lang Tables) []Key {
	return []Key{
		{Name: "model", Effect: Radiates | Wanted, Type: Type{Name: true, Of: "drivers"}, Required: true, Doc: "An entry of `drivers`.", Example: "woofer"},
		{Name: "count", Effect: Radiates | Wanted, Type: Type{Integer: true, Min: 1, Max: maxDrivers}, Default: "1", Doc: "How many of them the amplifier drives.", Example: "2"},
		{Name: "wiring", Effect: Radiates, Type: Type{Words: names(lang.Wirings)}, Default: first(lang.Wirings), Doc: "How several are connected.", Example: "series"},
		{Name: "mounting", Effect: Radiates | Wanted, Type: Type{Words: names(lang.Mountings)}, Required: true, Doc: "What stands around them.", Example: first(lang.Mountings)},
		{Name: "volume", Effect: Radiates | Wanted, Type: within(Volume, 1e-6, 10), Doc: "Volume of the box, of all drivers together, l.", Example: "38 l"},
		{Name: "tuning", Effect: Radiates | Wanted, Type: within(Frequency, 1, 2e3), Doc: "What a port is tuned to, Hz.", Example: "31 Hz"},
		{Name: "port-q", Effect: Radiates, Type: Type{Number: true, Min: 1, Max: 1000}, Doc: "Q of the losses of the port; 50 by default.", Example: "30"},
		{Name: "baffle-width", Effect: Radiates, Type: within(Length, 0.01, 10), Doc: "Width of the baffle, cm: below c/(π·width) sound goes around it, and there is less in front.", Example: "24 cm"},
		{Name: "path-difference", Effect: Radiates, Type: within(Length, 0.005, 3), Doc: "Of a dipole: by how much the way from its rear is longer, cm.", Example: "11 cm"},
		setbackKey(),
	}
}

func responseKeys() []Key {
	return []Key{
		{Name: "response", Effect: Radiates, Type: Type{Files: []string{".txt", ".csv", ".wav"}}, Required: true, Doc: "A measured response: Hz, dB and, where known, degrees; or an impulse response.", Example: "responses/treble.txt"},
		{Name: "drive", Effect: Radiates, Type: within(Voltage, 1e-3, 200), Default: "2.83 V", Doc: "RMS voltage at the terminals when it was measured, V.", Example: "2.83 V"},
		{Name: "distance", Effect: Radiates, Type: within(Length, 0.01, 100), Default: "1 m", Doc: "Distance of the microphone, m.", Example: "1 m"},
		{Name: "time", Effect: Radiates, Type: Type{Words: names(ResponseTimes)}, Default: first(ResponseTimes), Doc: "What its phase counts from.", Example: "relative"},
		{Name: "area", Effect: Radiates, Type: within(Area, 1e-5, 1), Doc: "Effective area of the cone, cm2, for its pattern off the axis; not known by default.", Example: "6 cm2"},
		setbackKey(),
	}
}

func amplifierKeys() []Key {
	return []Key{
		{Name: "gain", Effect: Radiates, Type: level(-20, 80), Required: true, Doc: "Gain of the amplifier, dB.", Example: "26 dB"},
		{Name: "power", Effect: Radiates, Type: within(Power, 1e-3, 1e5), Doc: "Power of a sine that it gives into `into`, W; not checked by default.", Example: "150 W"},
		{Name: "into", Effect: Radiates, Type: within(Resistance, 0.5, 1e3), Doc: "The load for `power`, ohm.", Example: "8 ohm"},
		{Name: "current", Effect: Radiates, Type: within(Current, 0.01, 1e3), Doc: "RMS of the largest sine of current, A; what `power` needs by default.", Example: "6 A"},
		{Name: "coupling", Effect: Radiates, Type: Type{Words: []string{"dc", "ac"}}, Default: "dc", Doc: "Whether it passes DC.", Example: "ac"},
	}
}

// drivers reads the models.
func (b *builder) drivers(v *Value) {
	for _, f := range v.fields() {
		b.spec.Drivers = append(b.spec.Drivers, DriverModel{f.Key, f.KeyPos, f.Value})
	}
}

// wayDriver reads what a way's amplifier drives. known is false where the models have a
// fault of their own.
func (b *builder) wayDriver(v *Value, known bool) *WayDriver {
	if v == nil {
		return nil
	}
	d := &WayDriver{Pos: v.Pos, Model: -1, Args: v, SetbackM: v.Get("setback").number()}
	if v.Get("response") != nil || v.Get("model") == nil {
		d.Response, d.Time = input(v.Get("response")), v.word("time")
		d.Drive, d.Distance, d.AreaM2 = v.Get("drive").number(), v.Get("distance").number(), v.Get("area").number()
		return d
	}
	d.Count, d.Wiring, d.Mounting = int(v.Get("count").number()), v.word("wiring"), v.word("mounting")
	m := v.Get("model")
	d.Model = slices.IndexFunc(b.spec.Drivers, func(x DriverModel) bool { return x.Name == m.Word })
	if d.Model < 0 && known {
		var all []string
		for _, x := range b.spec.Drivers {
			all = append(all, x.Name)
		}
		right := "add it to `drivers`"
		if near := Nearest(m.Word, all); near != "" {
			right = "did you mean " + quoted(near) + "?"
		} else if len(all) > 0 {
			right = "the drivers are " + list(ticked(all), "and")
		}
		b.fault(m.Pos, quoted(m.Word)+" is not one of `drivers`", right)
	}
	return d
}

// amplifier reads a way's, and checks its limits against each other.
func (b *builder) amplifier(v *Value) *Amplifier {
	if v == nil {
		return nil
	}
	a := &Amplifier{Pos: v.Pos, GainDB: v.Get("gain").number(), PowerW: v.Get("power").number(), IntoOhm: v.Get("into").number(),
		CurrentA: v.Get("current").number(), DC: v.word("coupling") != "ac"}
	switch power, into := v.Get("power"), v.Get("into"); {
	case power != nil && into == nil && !hasKey(v, "into"):
		b.fault(power.Pos, "`power` says nothing without the load that it is for", "add `into: 8 ohm`")
	case power == nil && into != nil && !hasKey(v, "power"):
		b.fault(into.Pos, "`into` is the load for `power`, which is not given", "add `power: 150 W`, or leave `into` out")
	case power != nil && into != nil && a.CurrentA > 0 && a.CurrentA < math.Sqrt(a.PowerW/a.IntoOhm)*(1-1e-2):
		needs := math.Sqrt(a.PowerW / a.IntoOhm)
		b.fault(v.Get("current").Pos, fmt.Sprintf("%s into %s is √(%s/%s) = %.3g A, more than `current`", power.Text, into.Text, power.Text, into.Text, needs),
			fmt.Sprintf("at least `current: %.3g A`, or less power", math.Ceil(needs*100)/100))
	}
	return a
}

func hasKey(v *Value, key string) bool {
	return slices.ContainsFunc(v.fields(), func(f Field) bool { return f.Key == key })
}

// unused warns of models that no way names.
func (b *builder) unusedDrivers() {
	for i, d := range b.spec.Drivers {
		if !slices.ContainsFunc(b.spec.Ways, func(w Way) bool { return w.Driver != nil && w.Driver.Model == i }) {
			b.warn(d.Pos, fmt.Sprintf("no way has the driver %s", quoted(d.Name)), "name it in a way's `driver`, or leave it out")
		}
	}
}
