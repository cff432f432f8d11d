package acoustic

import "math"

// Piston is the directivity of a rigid flat piston of that radius (m), the pressure so
// many degrees off the axis re that on it: 2·J1(x)/x, x = ka·sinθ (J. M. Eargle,
// Electroacoustical Reference Data, 1994, ch. 35).
func Piston(radiusM, hz, degrees float64) float64 {
	return pistonAt(KA(radiusM, hz) * math.Sin(degrees*math.Pi/180))
}

func pistonAt(x float64) float64 {
	if math.Abs(x) < 1e-4 { // the series' next term is x⁴/192
		return 1 - x*x/8
	}
	return 2 * math.J1(x) / x
}

// KA is the circumference of a piston in wavelengths, ka = 2πf·a/c: from 1 on it begins
// to beam, 1.1 dB less at 90 degrees.
func KA(radiusM, hz float64) float64 { return 2 * math.Pi * hz * radiusM / SpeedOfSound }

// BeamsHz is where ka = 1.
func BeamsHz(radiusM float64) float64 { return SpeedOfSound / (2 * math.Pi * radiusM) }
