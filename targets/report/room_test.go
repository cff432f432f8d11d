package report_test

import (
	"os"
	"strings"
	"testing"
)

// A spec with a room has its first reflections in the report, a row a surface and side.
func TestReflections(t *testing.T) {
	src, err := os.ReadFile("../../specs/heron.yaml")
	if err != nil {
		t.Fatal(err)
	}
	digital := string(src)[:strings.Index(string(src), "board: ")]
	got := text(t, compile(t, digital+"room: {listener: 2.8 m, base: 2.4 m, height: 0.9 m, ceiling: 2.5 m, left: 0.8 m}\n"))
	tidy(t, "heron in a room", got)
	for _, want := range []string{"reflections ", "left: floor", "left: ceiling", "left: left wall", "right: left wall", "of way", "-10.9", "A cabinet's shadow"} {
		if !strings.Contains(got, want) {
			t.Errorf("%q is missing", want)
		}
	}
	if strings.Contains(got, "rear wall") {
		t.Error("a wall that is not given reflects")
	}
}
