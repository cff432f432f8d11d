package compiler

import (
	"bandwright/biquad"
	"bandwright/compiler/circuit"
	"bandwright/compiler/netlist"
	"bandwright/compiler/spec"
)

// Means is what the stages of a spec's board may be built from.
func Means(b *spec.Board) circuit.Means {
	return circuit.Means{
		Ohm:      circuit.Range{From: b.Resistors.From, To: b.Resistors.To},
		ShuntOhm: b.ShuntOhm,
		Farad:    circuit.Range{From: b.Capacitors.From, To: b.Capacitors.To},
		OpAmp: netlist.OpAmp{
			GainBandwidthHz: b.OpAmp.GainBandwidthHz,
			OpenLoopGain:    biquad.FromDB(b.OpAmp.OpenLoopDB),
			OutputOhm:       b.OpAmp.OutputOhm,
			VoltageNoise:    b.OpAmp.VoltageNoise,
			CurrentNoise:    b.OpAmp.CurrentNoise,
			OffsetV:         b.OpAmp.OffsetV,
			BiasA:           b.OpAmp.BiasA,
			SwingV:          b.OpAmp.SwingV,
			SlewVPerS:       b.OpAmp.SlewVPerS,
		},
	}
}
