package compiler_test

import (
	"math"
	"reflect"
	"testing"

	"bandwright/biquad/discretize"
	"bandwright/compiler"
	"bandwright/compiler/compilertest"
	"bandwright/compiler/prototype"
)

// FuzzPrototype takes every kind of filter with arguments anywhere in the
// ranges of its table, and each of its sections through the bilinear transform:
// no panic, stable and finite sections, and the analog response at the
// frequency that the transform keeps.
func FuzzPrototype(f *testing.F) {
	lang := compiler.Language()
	for i := range lang.Kinds {
		for _, seed := range []string{"", "0123456789abcdefghijklmnopqrstuvwxyz", "\xff\xfe\xfd\xfc\xfb\xfa\xf9\xf8\xf7\xf6\xf5\xf4", "\x80\x00\x80\x40\x80\x80\x80\xc0\x80\x20"} {
			f.Add(uint8(i), uint8(60*i), []byte(seed))
		}
	}
	f.Fuzz(func(t *testing.T, which, rate uint8, data []byte) {
		row := lang.Kinds[int(which)%len(lang.Kinds)]
		d := &dice{data: data}
		values := d.mapping(row.Keys)
		args := written(values)
		k, _ := prototype.ByName(row.Name)
		ideal, problems := k.Ideal(values)
		for _, p := range problems {
			if p.Message == "" || p.Right == "" {
				t.Errorf("%s %s: a problem without words: %+v", row.Name, args, p)
			}
		}
		if len(problems) > 0 {
			return
		}
		if !(ideal.Gain > 0) || math.IsInf(ideal.Gain, 0) || !(ideal.DelayS >= 0 && ideal.DelayS <= 1) {
			t.Errorf("%s %s: gain %v, delay %v", row.Name, args, ideal.Gain, ideal.DelayS)
		}
		rateHz := 8e3 * math.Exp2(float64(rate)/255*math.Log2(96)) // to 768 kHz
		for _, a := range ideal.Sections {
			compilertest.Finite(t, row.Name+" "+args, reflect.ValueOf(a))
			if !a.Stable() || !(a.W0 > 0) || !(a.Keep > 0) {
				t.Fatalf("%s %s: %+v", row.Name, args, a)
			}
			b, err := discretize.Bilinear(a, rateHz)
			if (err != nil) != (a.Keep >= math.Pi*rateHz) {
				t.Fatalf("%s %s at %v Hz: %v", row.Name, args, rateHz, err)
			}
			if err != nil {
				continue
			}
			compilertest.Finite(t, row.Name+" "+args, reflect.ValueOf(b))
			if a.Order() > 0 && !(b.PoleMargin() > 0) {
				t.Errorf("%s %s at %v Hz: %+v has the pole margin %v", row.Name, args, rateHz, b, b.PoleMargin())
			}
			checkKept(t, a, b, rateHz)
		}
	})
}
