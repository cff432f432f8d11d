package board

import (
	"fmt"
	"math"

	"bandwright/biquad"
	"bandwright/compiler/language"
	"bandwright/compiler/netlist"
	"bandwright/compiler/stage"
	"bandwright/compiler/words"
)

// The nodes of the supply, and of what opens the mutes: without a supply it has 0 V.
const (
	PlusRail    = "vpos"
	MinusRail   = "vneg"
	MuteControl = "mute"
)

// joined are the nodes that stand still for small signals.
var joined = []string{PlusRail, MinusRail, MuteControl}

// farOff is how far the corner of an RF filter may be from the one that is asked for.
const farOff = 1.25

// inputFilter is the resistor (ohm) and the capacitor (farad) of each leg of a filtered or
// protected input, 0 for none, behind so much of the source in each leg (ohm): those in
// stock whose corner is nearest to the one that is asked for, and of corners that are
// much the same the one with a resistor near seriesOhm.
func (j *Job) inputFilter(source float64) (ohm, farad float64, obstacle *Obstacle) {
	in := j.Spec.Input
	if in.RFHz == 0 && !in.Clamped {
		return 0, 0, nil
	}
	s := j.stock()
	resistors := stage.Values(j.Spec.Resistors.Series, j.Spec.Resistors.Values, seriesFrom, seriesTo)
	if len(resistors) == 0 {
		resistors = s.ShuntOhm[:1] // a list without small values
	}
	if in.RFHz == 0 {
		return pick(resistors, func(r float64) float64 { return octaves(r, seriesOhm) }), 0, nil
	}
	least := math.Inf(1)
	for _, r := range resistors {
		c := pick(s.Farad, func(c float64) float64 { return octaves(cornerHz(source+r, c), in.RFHz) })
		if d := octaves(cornerHz(source+r, c), in.RFHz) + octaves(r, seriesOhm)/50; d < least {
			least, ohm, farad = d, r, c
		}
	}
	if hz := cornerHz(source+ohm, farad); octaves(hz, in.RFHz) > math.Log2(farOff) {
		obstacle = &Obstacle{Message: fmt.Sprintf("no resistor and capacitor in stock make an RF filter at %s: the nearest is one at %s", words.Part(in.RFHz, "Hz"), words.Part(twoDigits(hz, math.Round), "Hz")),
			Right: "write that for `input.rf-filter`, or take other capacitors into stock"}
	}
	return ohm, farad, obstacle
}

// cornerHz is that of a resistor and a capacitor.
func cornerHz(ohm, farad float64) float64 { return 1 / (2 * math.Pi * ohm * farad) }

// octaves is how far two values are apart.
func octaves(a, b float64) float64 { return math.Abs(math.Log2(a / b)) }

// pick is the first of a list with the least distance.
func pick(list []float64, distance func(float64) float64) float64 {
	best := list[0]
	for _, v := range list {
		if distance(v) < distance(best) {
			best = v
		}
	}
	return best
}

// rf is the resistance (ohm), source included, and the capacitor (farad) that make the
// corner of the input's first leg; no capacitor where there is none.
func (b *Board) rf() (ohm, farad float64) {
	for _, p := range b.Common.Ends {
		switch p.Use {
		case SourceResistance, SeriesResistance:
			ohm += p.Value
		case RFFilter:
			return ohm, p.Value
		}
	}
	return 0, 0
}

// InputFilter says what the RF filter is, "" where there is none.
func (b *Board) InputFilter() string {
	ohm, farad := b.rf()
	if farad == 0 {
		return ""
	}
	legs := ""
	if b.Spec.Input.Balanced {
		legs = " in each leg"
	}
	for _, p := range b.Common.Ends {
		if p.Use == SeriesResistance {
			return fmt.Sprintf("%s and %s%s, %s with the source, %s at %s", words.Stock(p.Value, "ohm"), words.Stock(farad, "F"), legs, words.Part(words.Round(cornerHz(ohm, farad), 3), "Hz"),
				words.Signed(-biquad.GainDB(math.Hypot(1, b.bandHz[1]/cornerHz(ohm, farad))), "dB"), words.Hz(b.bandHz[1]))
		}
	}
	return ""
}

// sameCorner is how far the corner of a held RF filter may be from the one that is asked
// for, and stay.
const sameCorner = 1.1

// heldFilter gives an RF filter its fresh values where the held ones have another corner
// than the one that is asked for now.
func (b *Board) heldFilter(c *Chain, fresh []Part) {
	ohm, farad := b.rf()
	if c != &b.Common || farad == 0 || octaves(cornerHz(ohm, farad), b.Spec.Input.RFHz) < math.Log2(sameCorner) {
		return
	}
	for i := range c.Ends {
		if u := c.Ends[i].Use; u == SeriesResistance || u == RFFilter {
			c.Ends[i].Value = fresh[i].Value
		}
	}
}

// mute is what shorts a way's output to ground.
//
// A contact in parallel, behind the build-out resistor, and not one in series: no contact
// is in the signal's way while it plays, and what follows is held at ground and not left
// open while it does not. Both fail safe. A relay's contact closes without current in its
// coil, and depletion-mode transistors conduct without gate voltage; what opens them is
// the voltage of the node `mute`, from a control outside of the board that gives it once
// the rails stand, and takes it away before they fall.
func (b *Board) mute(out string) []Part {
	switch b.Spec.Output.Mute {
	case language.RelayMute:
		return []Part{{Use: Muting, Kind: netlist.Contact, A: out, B: "0", Control: MuteControl},
			{Use: Flyback, Kind: netlist.Diode, A: "0", B: MuteControl}}
	case language.TransistorMute:
		gate := out + "_g"
		return []Part{{Use: Gate, Kind: netlist.Resistor, Value: b.restOhm, A: MuteControl, B: gate},
			{Use: Muting, Kind: netlist.Transistor, A: out + "_m", B: "0", Control: gate},
			{Use: Muting, Kind: netlist.Transistor, A: out, B: "0", Control: gate}}
	}
	return nil
}

// MuteV is the voltage of the node `mute` that opens the mutes (V), 0 without mutes.
func (b *Board) MuteV() float64 {
	switch b.Spec.Output.Mute {
	case language.RelayMute:
		return netlist.CoilV
	case language.TransistorMute:
		return -b.Spec.SupplyV
	}
	return 0
}

// supply are the capacitors between rails and ground: where the supply comes in, and at
// every package.
func (b *Board) supply() []Part {
	var out []Part
	add := func(use Use, farad float64, n string) {
		out = append(out, Part{Ref: "CP" + n, Kind: netlist.Capacitor, Value: farad, Use: use, A: PlusRail, B: "0"},
			Part{Ref: "CN" + n, Kind: netlist.Capacitor, Value: farad, Use: use, A: "0", B: MinusRail})
	}
	if b.Spec.BulkF > 0 {
		add(Bulk, b.Spec.BulkF, "100")
	}
	for _, p := range b.Packages {
		add(Decoupling, b.Spec.DecouplingF, p.Ref[1:])
	}
	return out
}
