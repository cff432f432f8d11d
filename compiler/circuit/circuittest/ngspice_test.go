package circuittest

import (
	"strings"
	"testing"
)

const rawFile = `Title: * a board
Date: Wed Nov 25 21:12:50  2026
Plotname: AC Analysis
Flags: complex
No. Variables: 2
No. Points: 2
Variables:
	0	frequency	frequency	grid=3
	1	v(out)	voltage
Values:
 0	2.0e+01,-nan
	1.5e+00,-2.5e+00

 1	4.0e+01,0.0e+00
	3.5e+00,4.5e+00

`

// What ngspice leaves unset beside a frequency is no result; a result has to be a
// number.
func TestReadRaw(t *testing.T) {
	plots, err := ReadRaw([]byte(rawFile + strings.ReplaceAll(rawFile, "out", "other")))
	if err != nil || len(plots) != 2 {
		t.Fatal(plots, err)
	}
	out, scale := plots[0].Of("out"), plots[1].Scale
	if len(out) != 2 || out[0] != 1.5-2.5i || out[1] != 3.5+4.5i || len(scale) != 2 || scale[1] != 40 || plots[1].Of("other") == nil || plots[1].Of("out") != nil {
		t.Error(plots)
	}
	for what, text := range map[string]string{
		"NaN":       strings.Replace(rawFile, "-2.5e+00", "-nan", 1),
		"infinity":  strings.Replace(rawFile, "1.5e+00", "inf", 1),
		"cut short": strings.Replace(rawFile, "	3.5e+00,4.5e+00\n", "", 1),
		"no values": strings.SplitAfter(rawFile, "Values:\n")[0],
		"no plot":   "",
	} {
		if p, err := ReadRaw([]byte(text)); err == nil {
			t.Errorf("%s: %v", what, p)
		}
	}
}
