// Package compilertest holds what tests of whole compilations, here and in targets, look at results with.
package compilertest

import (
	"fmt"
	"math"
	"reflect"
	"strings"
	"testing"
)

// Finite demands that no number below v is infinite or not a number; path names v in what it says.
func Finite(t *testing.T, path string, v reflect.Value) {
	switch v.Kind() {
	case reflect.Float64, reflect.Float32:
		if x := v.Float(); math.IsNaN(x) || math.IsInf(x, 0) {
			t.Errorf("%s is %v", path, x)
		}
	case reflect.Pointer, reflect.Interface:
		if !v.IsNil() {
			Finite(t, path, v.Elem())
		}
	case reflect.Slice, reflect.Array:
		if k := v.Type().Elem().Kind(); k == reflect.Uint8 || k == reflect.String {
			return
		}
		for i := range v.Len() {
			Finite(t, path, v.Index(i))
		}
	case reflect.Struct:
		for i := range v.NumField() {
			Finite(t, path+"."+v.Type().Field(i).Name, v.Field(i))
		}
	}
}

// FirstDifference names the first line where two texts differ.
func FirstDifference(got, want string) string {
	g, w := strings.Split(got, "\n"), strings.Split(want, "\n")
	for i := 0; ; i++ {
		switch {
		case i == len(g) || i == len(w):
			return fmt.Sprintf("%d lines, want %d", len(g), len(w))
		case g[i] != w[i]:
			return fmt.Sprintf("line %d:\ngot  %s\nwant %s", i+1, g[i], w[i])
		}
	}
}
