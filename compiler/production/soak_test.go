//go:build soak

package production_test

import "testing"

// The limits of the large boards as those of the small one.
func TestLimitsOfLargeBoards(t *testing.T) {
	for _, name := range []string{"heron", "bittern"} {
		b := shipped(t, name)
		newBench(t, b, planOf(t, b)).prove(t, 5000, 10).judge(t, name)
	}
}
