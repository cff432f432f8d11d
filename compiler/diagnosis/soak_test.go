//go:build soak

package diagnosis

import "testing"

// Three hundred boards with a fault, and three hundred good ones, by recordings of the sweep.
func TestThreeHundred(t *testing.T) {
	for _, name := range []string{"dabchick", "heron", "bittern"} {
		c := recordings(t, name, 100)
		c.judge(t, name)
		c.recorded(t, "recorded "+name)
	}
}
