package prototype

import (
	"fmt"
	"math"
	"strconv"

	"bandwright/compiler/language"
)

// Ranges of the keys. They hold every filter that anyone builds in audio, with
// ample room, and keep all arithmetic far from overflow.
const (
	minHz, maxHz = 0.001, 1e6
	minQ, maxQ   = 0.05, 1000.0
	maxGainDB    = 60.0
	// maxPoleQ bounds the poles that a family or a rational may ask for: above
	// it they ring for thousands of cycles and no realisation holds them.
	maxPoleQ = 1e4
)

// ln2 scales octaves.
const ln2 = math.Ln2

func frequencyType() language.Type {
	return language.Type{Dims: []language.Dim{language.Frequency}, Min: minHz, Max: maxHz}
}

func qType() language.Type { return language.Type{Number: true, Min: minQ, Max: maxQ} }

// atKey is the row of `at`; what says which frequency it is.
func atKey(what string) language.Key {
	return language.Key{
		Name: "at", Effect: language.Wanted, Type: frequencyType(), Required: true, Example: "1 kHz",
		Doc: what + ", 0.001 Hz to 1 MHz.",
	}
}

// qKey is the row of `q`; what says whose Q it is.
func qKey(what string, required bool) language.Key {
	return language.Key{
		Name: "q", Effect: language.Wanted, Type: qType(), Required: required, Example: "0.9",
		Doc: what + ", a plain number from 0.05 to 1000.",
	}
}

func gainKey(what string) language.Key {
	return language.Key{
		Name: "gain", Effect: language.Wanted, Required: true, Example: "-3 dB",
		Type: language.Type{Dims: []language.Dim{language.Level}, Min: -maxGainDB, Max: maxGainDB},
		Doc:  what + ", in dB from -60 to 60.",
	}
}

// number is a key's value, 0 where it is absent.
func number(args *language.Value, key string) float64 {
	if v := args.Get(key); v != nil {
		return v.Number
	}
	return 0
}

// given says whether the spec itself holds the key.
func given(args *language.Value, key string) bool {
	v := args.Get(key)
	return v != nil && v.Given
}

// word is a key's word, "" where it is absent or a number.
func word(args *language.Value, key string) string {
	if v := args.Get(key); v != nil {
		return v.Word
	}
	return ""
}

// inHz and inDB write a frequency and a level for a message, to four digits.
func inHz(f float64) string {
	switch f, _ = strconv.ParseFloat(digits(f), 64); {
	case f >= 1e6:
		return digits(f/1e6) + " MHz"
	case f >= 1e3:
		return digits(f/1e3) + " kHz"
	}
	return digits(f) + " Hz"
}

func inDB(db float64) string { return digits(db) + " dB" }

func digits(x float64) string { return strconv.FormatFloat(x, 'g', 4, 64) }

func problem(key, right, format string, args ...any) Problem {
	return Problem{Key: key, Message: fmt.Sprintf(format, args...), Right: right}
}
