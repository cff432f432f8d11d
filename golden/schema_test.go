package golden

import (
	"bytes"
	"os"
	"testing"

	"bandwright/compiler"
	"bandwright/compiler/language"
)

// schemaFile is the JSON Schema that editors read while a spec is written.
const schemaFile = "../specs/schema/bandwright.schema.json"

// The schema in the tree is what the tables make today.
func TestSchemaFileIsCurrent(t *testing.T) {
	made := language.Schema(compiler.Language())
	if !bytes.Equal(made, language.Schema(compiler.Language())) {
		t.Error("two schemas of one language differ")
	}
	if *update {
		if err := os.WriteFile(schemaFile, made, 0o666); err != nil {
			t.Fatal(err)
		}
		return
	}
	stored, err := os.ReadFile(schemaFile)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(made, stored) {
		t.Errorf("%s is out of date: `make golden` writes it\n%s", schemaFile, lineDifference(string(stored), string(made)))
	}
}
