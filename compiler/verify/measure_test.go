package verify

import (
	"math"
	"testing"
)

// Levels beyond the lowest read as the lowest, whatever their quotient is.
func TestRatioDB(t *testing.T) {
	if ratioDB(1e-200, 1) != -lowestDB || ratioDB(5e-324, 1e300) != -lowestDB || ratioDB(1e300, 5e-324) != lowestDB || math.Abs(ratioDB(1e-20, 1)+200) > 1e-9 {
		t.Error("levels beyond the lowest")
	}
}
