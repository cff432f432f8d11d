package verify

import (
	"fmt"
	"math"
	"strconv"

	"bandwright/biquad"
	"bandwright/compiler/words"
)

// remedy says what would make a broken promise kept, in words that name the
// spec's keys.
func remedy(j *judge, f Finding) string {
	allow := upTo3(f.Worst)
	method := ""
	if j.b != nil {
		method = j.b.traits.Method
	}
	if j.b == nil {
		return remedyOfBoard(f)
	}
	switch f.Promise {
	case "magnitude", "sum", "phase":
		lower := ""
		if j.b != nil && f.AtHz > j.b.rateHz/8 {
			lower = fmt.Sprintf("end promise.band below %s, ", words.Hz(f.AtHz))
		}
		return fmt.Sprintf("method %s departs from the prototype towards half the rate: use a higher rate, "+
			"%sor allow promise.%s: %s %s", method, lower, f.Promise, allow, f.Unit)
	case "headroom":
		more := f.Worst - f.Limit - biquad.GainDB(j.b.traits.InputGain)
		return fmt.Sprintf("set digital.headroom: %s dB, or lower this way's gain or the boost that peaks at %s",
			strconv.FormatFloat(math.Ceil(more*10)/10, 'f', -1, 64), words.Hz(f.AtHz))
	case "noise":
		return fmt.Sprintf("use a wider number format, or allow promise.noise: %s dBFS",
			strconv.FormatFloat(math.Ceil(f.Worst), 'f', -1, 64))
	case "latency":
		return fmt.Sprintf("shorten the way's delay, or allow promise.latency: %s ms", upTo3(f.Worst*1000))
	case "stability":
		return "the format cannot hold a pole this close to the unit circle: use a wider number format, " +
			"a lower rate or a higher corner"
	}
	return ""
}

// upTo3 rounds a positive number up to three significant digits.
func upTo3(x float64) string {
	if !(x > 0) {
		return "0"
	}
	scale := 1.0
	for x*scale < 100 {
		scale *= 10
	}
	for x*scale >= 1000 {
		scale /= 10
	}
	return strconv.FormatFloat(math.Ceil(x*scale)/scale, 'g', 4, 64)
}

// remedyOfBoard is remedy for a board, which is as near to the prototype as its
// parts and its op-amp allow.
func remedyOfBoard(f Finding) string {
	switch f.Promise {
	case "board-noise":
		return fmt.Sprintf("lower board.resistors.to, give board.op-amp a lower voltage-noise or current-noise, put a way's gain into the power amplifier, "+
			"or allow promise.board-noise: %s dBu", strconv.FormatFloat(math.Ceil(f.Worst), 'f', -1, 64))
	case "board-headroom":
		return fmt.Sprintf("lower board.input.level by %s dB, the boost that peaks at %s, or the gains before it, or raise board.supply",
			strconv.FormatFloat(math.Ceil((f.Worst-f.Limit)*10)/10, 'f', -1, 64), words.Hz(f.AtHz))
	}
	return fmt.Sprintf("give board.resistors and board.capacitors finer series or wider ranges, or board.op-amp a higher gain-bandwidth, "+
		"or allow promise.%s: %s %s", f.Promise, upTo3(f.Worst), f.Unit)
}
