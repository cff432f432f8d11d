package golden

import (
	"bytes"
	"os"
	"testing"

	"bandwright/compiler"
	"bandwright/compiler/language"
)

// schemas are the JSON Schemas that editors read while a file is written, by their
// files.
var schemas = map[string]func(language.Tables) []byte{
	"../specs/schema/bandwright.schema.json": language.Schema,
	"../specs/schema/held.schema.json":       language.HeldSchema,
}

// The schemas in the tree are what the tables make today.
func TestSchemaFileIsCurrent(t *testing.T) {
	for file, schema := range schemas {
		made := schema(compiler.Language())
		if !bytes.Equal(made, schema(compiler.Language())) {
			t.Errorf("two schemas for %s differ", file)
		}
		if *update {
			if err := os.WriteFile(file, made, 0o666); err != nil {
				t.Fatal(err)
			}
			continue
		}
		stored, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(made, stored) {
			t.Errorf("%s is out of date: `make golden` writes it\n%s", file, lineDifference(string(stored), string(made)))
		}
	}
}
