package board

import (
	"fmt"
	"math"

	"bandwright/compiler/words"
)

// easyShare is the share of its output current that an op-amp gives without distortion
// that counts: 10 mA of 25 mA.
const easyShare = 0.4

// easyA is that of the board's op-amp (A, peak).
func (s *survey) easyA() float64 { return easyShare * s.OpAmp.OutputA }

// lower is the input level (V) at which a share of a limit is used up, and what has that
// level where there are several.
func (s *survey) lower(x strain, share float64) string {
	text := words.Part(twoDigits(x.inputV*share/x.share, math.Floor), "V")
	if s.Spec.Input.Level.By >= 0 {
		text += " where it is " + words.Part(x.inputV, "V")
	}
	return text
}

var clips = caution{
	name: "clipping",
	found: func(s *survey) []place {
		x := s.worst.by[OfSwing]
		if x.share <= 1 {
			return nil
		}
		return []place{{name: x.at.String(), number: fmt.Sprintf("%s would make it swing %s at %s, and the limit is %s", words.Part(x.inputV, "V"),
			words.Part(x.v, "V"), words.Hz(x.hz), words.Part(s.OpAmp.SwingV, "V")), remedy: words.Part(x.clipV(), "V")}}
	},
	sentence: func(at []place) string {
		return "an op-amp clips below the full input level, " + where(at) + ": lower `input.level` to " + at[0].remedy + ", or attenuate before that stage"
	},
}

var commonMode = caution{
	name: "common-mode range",
	found: func(s *survey) []place {
		x := s.worst.common
		if x.share <= 1 {
			return nil
		}
		return []place{{name: x.at.String(), remedy: s.lower(x, 1),
			number: fmt.Sprintf("%s at %s, and the limit is %s", words.Part(x.v, "V"), words.Hz(x.hz), words.Part(s.OpAmp.CommonModeV, "V"))}}
	},
	sentence: func(at []place) string {
		return "the common-mode range of an op-amp is exceeded at the full input level, " + where(at) + ": lower `input.level` to " + at[0].remedy + ", or name an inverting `topology`"
	},
}

var slewRate = caution{
	name: "slew rate",
	found: func(s *survey) []place {
		x := s.worst.by[OfSlew]
		if x.share <= 1 {
			return nil
		}
		rate := x.share * s.OpAmp.SlewVPerS
		return []place{{name: x.at.String(), number: fmt.Sprintf("%s at %s needs %s V/us, and the op-amp has %s", words.Part(x.v, "V"), words.Hz(x.hz),
			words.Short(rate/1e6), words.Short(s.OpAmp.SlewVPerS/1e6)), remedy: s.lower(x, 1) + ", or take an op-amp with " + words.Short(twoDigits(rate, math.Ceil)/1e6) + " V/us"}}
	},
	sentence: func(at []place) string {
		return "the slew rate is too low for the full input level, " + where(at) + ": lower `input.level` to " + at[0].remedy
	},
}

// usualRailV is what most op-amps stand at each supply pin, V: a value from memory, of absolute maximum ratings of
// 36 V between both.
const usualRailV = 18

var highRails = caution{
	name: "high rails",
	found: func(s *survey) []place {
		if s.Spec.SupplyV <= usualRailV || s.Spec.OpAmp.RailHighV > 0 {
			return nil
		}
		return []place{{number: words.Part(s.Spec.SupplyV, "V")}}
	},
	sentence: func(at []place) string {
		return fmt.Sprintf("most op-amps stand no more than ±%d V, and the rails are ±%s: give the op-amp's own limits in `op-amp.supply-range`, which are then checked", usualRailV, at[0].number)
	},
}

var outputCurrent = caution{
	name: "output current",
	found: func(s *survey) []place {
		x := s.worst.by[OfCurrent]
		if x.share <= easyShare {
			return nil
		}
		of := fmt.Sprintf("%.0f %% of the op-amp's %s", 100*x.share, words.Part(s.OpAmp.OutputA, "A"))
		return []place{{name: x.at.String(), number: fmt.Sprintf("%s peak at %s, %s", words.Part(x.v, "A"), words.Hz(x.hz), of), remedy: s.lower(x, easyShare)}}
	},
	sentence: func(at []place) string {
		return "an op-amp has to give more than 40 % of its `output-current` at the full input level to what it drives, where distortion rises, " + where(at) +
			": take one for loads of 600 ohm, raise `resistors.from`, or lower `input.level` to " + at[0].remedy
	},
}
