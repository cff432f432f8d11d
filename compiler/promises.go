package compiler

import (
	"bandwright/compiler/language"
	"bandwright/compiler/verify"
)

// promises reads the promise block, whose keys the grammar has all filled in.
func promises(v *language.Value) verify.Promises {
	limit := func(key string) verify.Limit {
		x := v.Get(key)
		return verify.Limit{On: x.Word != "off", Value: x.Number}
	}
	band := v.Get("band")
	return verify.Promises{
		LowHz: band.Number, HighHz: band.High,
		DownToDB:    v.Get("down-to").Number,
		MagnitudeDB: limit("magnitude"), BoardMagnitudeDB: limit("board-magnitude"),
		BoardNoiseDBu: limit("board-noise"), BoardHeadroomDB: limit("board-headroom"),
		PhaseDeg:   limit("phase"),
		SumDB:      limit("sum"),
		NoiseDBFS:  limit("noise"),
		HeadroomDB: limit("headroom"),
		LatencyS:   limit("latency"),
	}
}
