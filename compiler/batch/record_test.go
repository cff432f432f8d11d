package batch_test

import (
	"math"
	"testing"
)

// yields on record, of each shipped spec: within 1 dB and within 0.5 dB, and the same
// with a level trimmer of 1 dB in each way. What makes them worse is found here, and
// what makes them better is written down.
var yields = map[string][4]float64{
	"dabchick": {0.9935, 0.5128, 1, 0.9094},
	"heron":    {0.9994, 0.5836, 1, 0.8519},
	"bittern":  {0.9883, 0.3050, 0.9993, 0.7272},
}

func TestYieldsOfShippedSpecs(t *testing.T) {
	const same = 0.005
	for _, name := range boards {
		x := shipped(t, name).Batch
		got := [4]float64{}
		for i, y := range x.Plain {
			switch y.LimitDB {
			case 1:
				got[0], got[2] = y.Share, x.Trimmed[i].Share
			case 0.5:
				got[1], got[3] = y.Share, x.Trimmed[i].Share
			}
		}
		for i, want := range yields[name] {
			if math.Abs(got[i]-want) > same {
				t.Errorf("%s: yields %.4f, on record %.4f", name, got, yields[name])
				break
			}
		}
	}
}
