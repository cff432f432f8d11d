package compare

import (
	"testing"

	"bandwright/compiler/result"
)

// A way whose level is beyond the tolerances in some combination is told by its
// level, though the default's is within them; by its phase where that alone is.
func TestWorst(t *testing.T) {
	c := &comparison{scope: scope{tol: Tolerances{MagnitudeDB: 0.05, PhaseDeg: 0.5, DelayS: 1e-6}, combos: []combination{{}}}, new: &result.Accepted{}}
	for want, m := range map[string]move{
		"+0.05 dB at 1 kHz":    {db: 0.048, most: 0.052, hz: 1000, deg: 0.1, degHz: 2000},
		"+0.06 dB throughout":  {db: 0.06, most: 0.06, hz: 1000, flat: true, deg: 3, degHz: 2000},
		"+3.0 deg at 2 kHz":    {db: 0.01, most: 0.01, hz: 1000, deg: 3, degHz: 2000},
		"+0.02 dB at 1.23 kHz": {db: 0.02, most: 0.02, hz: 1234},
	} {
		if got := c.worst(m); got != want {
			t.Errorf("%+v: got %q, want %q", m, got, want)
		}
	}
}
