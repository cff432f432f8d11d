package golden

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"bandwright/biquad"
)

// publishedRows reads a published table, its comments left out.
func publishedRows(t *testing.T, name string) (header map[string]int, rows [][]string) {
	t.Helper()
	f, err := os.Open("published/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	all, err := r.ReadAll()
	if err != nil || len(all) < 2 {
		t.Fatalf("%s: %v", name, err)
	}
	header = map[string]int{}
	for i, h := range all[0] {
		header[h] = i
	}
	return header, all[1:]
}

// withBilinear is a spec with its method replaced.
func withBilinear(src string) string {
	src = regexp.MustCompile(`(?m)^  method: .*\n`).ReplaceAllString(src, "")
	return regexp.MustCompile(`(?m)^digital:\n`).ReplaceAllString(src, "digital:\n  method: bilinear\n")
}

// cookbookTolerance is absolute, for coefficients between -2 and 2 and far
// below one alike: the vectors were computed with fifty digits.
const cookbookTolerance = 1e-12

// Every row of the W3C Group Note "Audio EQ Cookbook", 8 June 2021, through the
// whole compiler by the method bilinear. Rows that give a bandwidth go through
// q by the cookbook's digital formula 1/Q = 2·sinh(ln2/2·BW·w0/sin w0), since
// the spec's own bandwidth is the analog one.
func TestCookbookVectors(t *testing.T) {
	h, rows := publishedRows(t, "audio_eq_cookbook_vectors.csv")
	seen := map[string]int{}
	for n := 0; n < len(rows); {
		// Rows of one rate go into one spec, as its ways.
		rate := rows[n][h["fs"]]
		var body strings.Builder
		first := n
		for ; n < len(rows) && n-first < 20 && rows[n][h["fs"]] == rate; n++ {
			r := rows[n]
			seen[r[h["type"]]]++
			fmt.Fprintf(&body, "  w%d: {filters: [{%s}]}\n", n-first, cookbookFilter(t, r, h))
		}
		b := compileText(t, "cookbook", "bandwright: 1\nname: cookbook\nways:\n"+body.String()+
			"promise: {magnitude: off, sum: off, phase: off, noise: off, headroom: off}\n"+
			"digital: {rates: ["+rate+" Hz], formats: [float64], method: bilinear}\n")
		for k := first; k < n; k++ {
			r := rows[k]
			slots := b.Digital[0].System.Ways[k-first].Slots
			if len(slots) != 1 {
				t.Fatalf("%v: %d sections", r, len(slots))
			}
			d := slots[0].Alt[0].To(biquad.Direct)
			for i, got := range []float64{d.B[0], d.B[1], d.B[2], d.A[1], d.A[2]} {
				if want := figure(t, r[h["b0"]+i]); math.Abs(got-want) > cookbookTolerance {
					t.Errorf("%v: %v %v, published %v", r, d.B, d.A, r[h["b0"]:])
					break
				}
			}
		}
	}
	for _, kind := range []string{"LPF", "HPF", "BPF_skirt", "BPF_peak", "notch", "APF", "peakingEQ", "lowShelf", "highShelf"} {
		if seen[kind] < 30 {
			t.Errorf("%d rows of %s", seen[kind], kind)
		}
	}
}

func cookbookFilter(t *testing.T, r []string, h map[string]int) string {
	get := func(key string) float64 { return figure(t, r[h[key]]) }
	q := ""
	switch {
	case r[h["Q"]] != "":
		q = "q: " + r[h["Q"]]
	case r[h["S"]] != "":
		q = "slope: " + r[h["S"]]
	default:
		w := 2 * math.Pi * get("f0") / get("fs")
		x := math.Ln2 / 2 * get("BW_oct") * w / math.Sin(w)
		q = "q: " + strconv.FormatFloat(1/(math.Expm1(x)-math.Expm1(-x)), 'g', -1, 64)
	}
	at, gain := "at: "+r[h["f0"]]+" Hz", "gain: "+r[h["gain_db"]]+" dB"
	switch r[h["type"]] {
	case "LPF":
		return "low-pass: {" + at + ", " + q + "}"
	case "HPF":
		return "high-pass: {" + at + ", " + q + "}"
	case "BPF_peak":
		return "band-pass: {" + at + ", " + q + "}"
	case "BPF_skirt": // p/(p²+p/Q+1)
		return fmt.Sprintf("rational: {%s, numerator: [1, 0], denominator: [1, %s, 1]}", at, strconv.FormatFloat(1/get("Q"), 'g', -1, 64))
	case "notch":
		return "notch: {" + at + ", " + q + "}"
	case "APF":
		return "all-pass: {" + at + ", " + q + "}"
	case "peakingEQ":
		return "peak: {" + at + ", " + q + ", " + gain + "}"
	case "lowShelf":
		return "low-shelf: {" + at + ", " + q + ", " + gain + "}"
	case "highShelf":
		return "high-shelf: {" + at + ", " + q + ", " + gain + "}"
	}
	t.Fatalf("unknown type %s", r[h["type"]])
	return ""
}

func figure(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// Recommendation ITU-R BS.1770, Annex 1, Tables 1 and 2: the printed
// coefficients at 48 kHz come out of the analog parameters that they imply; the
// table of responses and the level at 997 Hz of the whole weighting as well.
func TestBS1770(t *testing.T) {
	var p struct {
		Published struct{ Stage1, Stage2 struct{ B, A []float64 } }
		Response  []struct {
			F     float64 `json:"f_hz"`
			Total float64 `json:"total_db"`
		} `json:"response_48k"`
		Check struct {
			At997 float64 `json:"total_gain_at_997_hz_db"`
		} `json:"check_values"`
	}
	data, err := os.ReadFile("published/bs1770_k_weighting.json")
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(data, &p); err != nil || len(p.Response) < 30 {
		t.Fatal(err, len(p.Response))
	}
	b := compileText(t, "k_weighting", withBilinear(shippedSpec(t, "k_weighting")))
	d := b.Digital[0]
	way := d.System.Ways[0]
	for stage, want := range map[string]struct{ B, A []float64 }{"rational": p.Published.Stage1, "high-pass": p.Published.Stage2} {
		gain, found := 1.0, false
		if stage == "high-pass" {
			gain = way.Gain // Table 2 prints the numerator 1, -2, 1
		}
		for _, s := range way.Slots {
			if !strings.HasSuffix(s.From[0], stage) {
				continue
			}
			found = true
			z := s.Alt[0].To(biquad.Direct)
			for k := range 3 {
				if math.Abs(z.B[k]*gain-want.B[k]) > 1e-9 || math.Abs(z.A[k]-want.A[k]) > 1e-9 {
					t.Errorf("%s: b %v × %g, a %v; printed %v", stage, z.B, gain, z.A, want)
					break
				}
			}
		}
		if !found {
			t.Errorf("no section of %s", stage)
		}
	}
	hz := []float64{997}
	for _, r := range p.Response {
		hz = append(hz, r.F)
	}
	h := make([]complex128, len(hz))
	biquad.OnDigital(d.System.Path(0), d.RateHz, hz).Response(h, nil)
	if got := biquad.DB(h[0]); math.Abs(got-p.Check.At997) > 1e-6 {
		t.Errorf("997 Hz: %.7f dB, published %.6f", got, p.Check.At997)
	}
	for i, r := range p.Response {
		if got := biquad.DB(h[1+i]); math.Abs(got-r.Total) > 1e-6 {
			t.Errorf("%g Hz: %.7f dB, published %.6f", r.F, got, r.Total)
		}
	}
}

// weightingTolerance is the table's own rounding to 0.1 dB.
const weightingTolerance = 0.05

// IEC 61672-1, Table 2 in an adopted edition, at the exact frequencies
// 1000·10^((n-30)/10): A from the spec that ships, C from its two pole pairs.
func TestWeightings(t *testing.T) {
	c := `bandwright: 1
name: c_weighting
ways:
  weighted:
    filters:
      - roots: {zeros: [0, 0], poles: [20.598997 Hz, 20.598997 Hz, 12194.217 Hz, 12194.217 Hz], unity-at: 1 kHz}
promise: {magnitude: off}
digital: {rates: [48 kHz], formats: [float64], method: bilinear}
`
	h, rows := publishedRows(t, "iec61672_weightings.csv")
	for column, src := range map[string]string{"A_published_db": shippedSpec(t, "a_weighting"), "C_published_db": c} {
		b := compileText(t, column, src)
		for _, r := range rows {
			hz := []float64{figure(t, r[h["exact_hz"]])}
			out := make([]complex128, 1)
			biquad.OnAnalog(b.Prototype.Path(0), hz).Response(out, nil)
			// 1e-9 for sums of a half and its neighbours in binary.
			if got, want := biquad.DB(out[0]), figure(t, r[h[column]]); math.Abs(got-want) > weightingTolerance+1e-9 {
				t.Errorf("%s at %.1f Hz: %.4f dB, published %g", column, hz[0], got, want)
			}
		}
	}
}

// IEC 60098: the curve of the time constants 3180, 318 and 75 µs re 1 kHz, and
// with the 7950 µs of 1976, to the table's four decimals.
func TestDiscPlayback(t *testing.T) {
	b := compileText(t, "disc_playback", shippedSpec(t, "disc_playback"))
	h, rows := publishedRows(t, "iec60098_disc_playback.csv")
	for amendment, column := range []string{"riaa_db_re_1k", "riaa_iec_db_re_riaa_1k"} {
		for _, r := range rows {
			out := make([]complex128, 1)
			biquad.OnAnalog(b.Prototype.Path(0), []float64{figure(t, r[h["f_hz"]])}).Response(out, biquad.Combination{uint8(amendment)})
			if got, want := biquad.DB(out[0]), figure(t, r[h[column]]); math.Abs(got-want) > 1e-4 {
				t.Errorf("%s at %s Hz: %.5f dB, published %g", column, r[h["f_hz"]], got, want)
			}
		}
	}
}
