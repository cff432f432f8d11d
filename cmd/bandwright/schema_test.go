package main

import (
	"os"
	"strings"
	"testing"
)

// What schema prints is the file that ships.
func TestSchema(t *testing.T) {
	stored, err := os.ReadFile("../../specs/schema/bandwright.schema.json")
	if err != nil {
		t.Fatal(err)
	}
	r := bandwright(t, ".", "schema")
	expect(t, "schema", r, exitKept)
	if r.out != string(stored) || r.err != "" {
		t.Errorf("the schema that is printed is not the one in specs/schema; stderr %q", r.err)
	}
	expect(t, "with an argument", bandwright(t, ".", "schema", "x"), exitRefused, "x")
	if help := bandwright(t, ".", "schema", "--help").out; !strings.Contains(help, "# yaml-language-server: $schema=") {
		t.Errorf("the help does not say how an editor finds the schema:\n%s", help)
	}
}
