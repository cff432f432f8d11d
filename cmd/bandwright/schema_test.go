package main

import (
	"os"
	"strings"
	"testing"
)

// What schema prints is the file that ships.
func TestSchema(t *testing.T) {
	for _, c := range []struct {
		args []string
		file string
	}{{[]string{"schema"}, "bandwright"}, {[]string{"schema", "spec"}, "bandwright"}, {[]string{"schema", "held"}, "held"}} {
		stored, err := os.ReadFile("../../specs/schema/" + c.file + ".schema.json")
		if err != nil {
			t.Fatal(err)
		}
		r := bandwright(t, ".", c.args...)
		expect(t, strings.Join(c.args, " "), r, exitKept)
		if r.out != string(stored) || r.err != "" {
			t.Errorf("%v: the schema that is printed is not the one in specs/schema; stderr %q", c.args, r.err)
		}
	}
	expect(t, "with an argument", bandwright(t, ".", "schema", "x"), exitRefused, "x", "held")
	if help := bandwright(t, ".", "schema", "--help").out; !strings.Contains(help, "# yaml-language-server: $schema=") {
		t.Errorf("the help does not say how an editor finds the schema:\n%s", help)
	}
}
