package compiler_test

import (
	"strings"
	"testing"
)

const heldStrengths = `bandwright: 1
name: rail
settings: {tone: [flat, up, more, down]}
ways:
  only:
    filters:
      - high-shelf: {at: 4 kHz, q: 0.7, gain: 2 dB, when: {tone: up}}
      - high-shelf: {at: 4 kHz, q: 0.7, gain: 4 dB, when: {tone: more}}
      - high-shelf: {at: 4 kHz, q: 0.7, gain: -2 dB, when: {tone: down}}
promise: {headroom: off, board-spread: off}
board: {held: held.yaml}
`

// A held tapped-filter stands as it is, whatever the order of the choices, and where one strength moves few
// parts do; where one strength passes another, or another kind of filter is asked for, it is built anew.
func TestAHeldTappedFilterStays(t *testing.T) {
	held := staysHeld(t, heldStrengths, "tapped-filter", []stageEdit{
		{"as it is", "", "", 0, true},
		{"another order of the choices", "[flat, up, more, down]", "[down, more, flat, up]", 0, true},
		{"a line within the promise", "gain: 4 dB", "gain: 4.01 dB", 0, true},
		{"one strength", "gain: 4 dB", "gain: 4.5 dB", 9, true},
		{"every line", "at: 4 kHz", "at: 4.3 kHz", 12, true},
		{"a strength that passes another", "gain: 4 dB", "gain: -4 dB", 99, true},
		{"another kind", "- high-shelf: {at: 4 kHz, q: 0.7, gain: 4 dB", "- peak: {at: 4 kHz, q: 0.7, gain: 4 dB", 99, false},
	})
	checkedHeld(t, map[string]string{
		"lacks R20101":              strings.Replace(held, "R20101: ", "R20139: ", 1),
		"names 1 op-amp, and has 2": strings.Replace(held, "op-amps: [U201A, U201B]", "op-amps: [U201A]", 1),
	})
}

const heldSlopes = `bandwright: 1
name: rail
settings: {tone: [flat, up, down, less]}
ways:
  only:
    filters:
      - high-shelf: {at: 3 kHz, order: 1, gain: 3 dB, when: {tone: up}}
      - high-shelf: {at: 3 kHz, order: 1, gain: -3 dB, when: {tone: down}}
      - high-shelf: {at: 3 kHz, order: 1, gain: -6 dB, when: {tone: less}}
promise: {headroom: off, board-spread: off}
board: {held: held.yaml}
`

// The same of first-order shelves; what is asked for low frequencies takes another stage, with two op-amps.
func TestAHeldTappedShelfStays(t *testing.T) {
	staysHeld(t, heldSlopes, "tapped-shelf", []stageEdit{
		{"as it is", "", "", 0, true},
		{"one strength", "gain: -6 dB", "gain: -6.5 dB", 9, true},
		{"every line", "at: 3 kHz", "at: 3.2 kHz", 9, true},
		{"another kind", "- high-shelf: {at: 3 kHz", "- low-shelf: {at: 150 Hz", 99, false},
		{"another order", "order: 1", "order: 2", 99, false},
	})
}
