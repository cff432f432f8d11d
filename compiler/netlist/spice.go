package netlist

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Boltzmann is the Boltzmann constant in J/K, exact in the SI of 2019.
const Boltzmann = 1.380649e-23

// SPICE prints the circuit as element lines that ngspice runs, op-amps as
// subcircuits of standard elements, without a title line, analyses or `.end`:
// those are the caller's. Op-amps with the same data share one subcircuit.
// Values are the shortest decimals that read back to the same float64.
//
// temperatureK (K) is that of the analysis (ngspice: `.options temp`, 27 °C =
// 300.15 K where nothing is said): the noise of an op-amp is scaled from the
// thermal noise of a 1 Ω resistor inside it.
func SPICE(c *Circuit, temperatureK float64) string {
	var b strings.Builder
	var models []OpAmp
	uses := map[Kind]bool{}
	for _, p := range c.parts {
		n := func(i int) string { return c.Name(p.Nodes[i]) }
		uses[p.Kind] = true
		switch p.Kind {
		case Diode:
			fmt.Fprintf(&b, "%s %s %s clamp\n", p.line(), n(0), n(1))
		case Contact:
			// A resistor that the coil's voltage sets: switch elements keep their first state
			// in an .ac analysis.
			fmt.Fprintf(&b, "%s %s %s r='v(%s)>%s ? %s : %s'\n", p.line(), n(0), n(1), n(2), Number(CoilV/2.0), Number(OpenOhm), Number(ClosedOhm))
			fmt.Fprintf(&b, "R%s_coil %s 0 %s\n", p.Ref, n(2), Number(CoilOhm))
		case Transistor:
			fmt.Fprintf(&b, "%s %s %s %s depletion\n", p.line(), n(0), n(1), n(2))
		case Resistor, Capacitor:
			fmt.Fprintf(&b, "%s %s %s %s\n", p.line(), n(0), n(1), Number(p.Value))
		case Source:
			fmt.Fprintf(&b, "%s %s %s DC 0 AC %s\n", p.line(), n(0), n(1), Number(p.Value))
		case Amplifier:
			k := 0
			for k < len(models) && models[k] != p.Model {
				k++
			}
			if k == len(models) {
				models = append(models, p.Model)
			}
			fmt.Fprintf(&b, "%s %s %s %s opamp%d\n", p.line(), n(0), n(1), n(2), k+1)
		}
	}
	for _, m := range deviceModels {
		if uses[m.kind] {
			b.WriteString(Model(m.kind) + "\n")
		}
	}
	for k, m := range models {
		b.WriteString(Subcircuit(fmt.Sprintf("opamp%d", k+1), m, temperatureK))
	}
	return b.String()
}

// deviceModels are the models of what protects and mutes. A diode's capacitance hangs on
// no voltage (m=0); a transistor's channel has 1/(2·beta·|vto|) ohm without gate voltage.
var deviceModels = [...]struct {
	kind Kind
	line string
}{
	{Diode, ".model clamp d(is=1e-15 m=0 cjo=" + Number(DiodeF) + ")"},
	{Transistor, ".model depletion njf(is=1e-15 vto=" + Number(-JFETOffV) + " beta=" + Number(1.0/(2*JFETOnOhm*JFETOffV)) +
		" lambda=0 pb=" + Number(junctionV) + " cgs=" + Number(jfetGateF) + " cgd=" + Number(jfetGateF) + ")"},
}

// Model is the line that says what diodes, or transistors, are like; "" of other kinds.
func Model(kind Kind) string {
	for _, m := range deviceModels {
		if m.kind == kind {
			return m.line
		}
	}
	return ""
}

// Subcircuit prints an op-amp. Node x carries the open-loop output: a
// transconductance of 1 S drives 1/A(s) siemens there, so that
// V(x) = A·(V(+) - V(-)). In the ideal op-amp nothing but the transconductance
// is connected to x, which leaves V(+) = V(-) and V(x) free: a nullor, exactly.
// Resistances that must not make thermal noise are controlled sources.
func Subcircuit(name string, m OpAmp, temperatureK float64) string {
	var b strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	line(".subckt %s plus minus out", name)
	if m.Ideal {
		line("Gin 0 x plus minus 1")
		line("Eout out 0 x 0 1")
		line(".ends")
		return b.String()
	}
	line("* open-loop gain %s, gain-bandwidth %s Hz, output resistance %s ohm", Number(m.OpenLoopGain), Number(m.GainBandwidthHz), Number(m.OutputOhm))
	line("Gin 0 x plus minus 1")
	line("Gdc x 0 x 0 %s", Number(1/m.OpenLoopGain))
	line("Cgb x 0 %s", Number(1/(2*math.Pi*m.GainBandwidthHz)))
	if m.OutputOhm > 0 {
		line("Eout y 0 x 0 1")
		line("Gout y out y out %s", Number(1/m.OutputOhm))
	} else {
		line("Eout out 0 x 0 1")
	}
	if m.OffsetV != 0 {
		line("Vos os 0 DC %s", Number(m.OffsetV))
		line("Gos 0 x os 0 1")
	}
	if m.BiasA != 0 {
		line("Ibp plus 0 DC %s", Number(m.BiasA))
		line("Ibm minus 0 DC %s", Number(m.BiasA))
	}
	// A source of noise is a resistor of 1 Ω. Where its noise rises towards low
	// frequencies it carries 1 A, since SPICE has flicker noise in proportion to
	// a current, and its voltage counts from 1 V.
	noise := func(name string, density, corner float64, from, to string) {
		if density == 0 {
			return
		}
		thermal := 4 * Boltzmann * temperatureK // V²/Hz of 1 Ω
		ref := "0"
		if corner > 0 {
			ref = name + "1"
			line("R%s %s 0 r%s 1", name, name, name)
			line(".model r%s r (kf=%s af=1)", name, Number(thermal*corner))
			line("I%s 0 %s DC 1", name, name)
			line("V%s %s 0 DC 1", name, ref)
		} else {
			line("R%s %s 0 1", name, name)
		}
		line("G%s %s %s %s %s %s", name, from, to, name, ref, Number(density/math.Sqrt(thermal)))
	}
	noise("vn", m.VoltageNoise, m.VoltageCornerHz, "0", "x")
	noise("pn", m.CurrentNoise, m.CurrentCornerHz, "plus", "0")
	noise("mn", m.CurrentNoise, m.CurrentCornerHz, "minus", "0")
	line(".ends")
	return b.String()
}

// line is the name of the part's line: its reference with the letter that
// tells SPICE what it is.
func (p Part) line() string {
	letter := map[Kind]string{Resistor: "R", Capacitor: "C", Amplifier: "X", Source: "V", Diode: "D", Contact: "R", Transistor: "J"}[p.Kind]
	if strings.EqualFold(p.Ref[:min(1, len(p.Ref))], letter) {
		return p.Ref
	}
	return letter + p.Ref
}

// Number is the shortest decimal that reads back to v, without a sign on zero.
func Number(v float64) string {
	if v == 0 {
		return "0"
	}
	return strconv.FormatFloat(v, 'g', -1, 64)
}
