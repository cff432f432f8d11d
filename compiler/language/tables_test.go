package language_test

import (
	"testing"

	"bandwright/compiler/grammar"
)

// The tables that the program parses by hold what Check demands of any.
func TestTablesOfTheProgram(t *testing.T) {
	if err := grammar.Language().Check(); err != nil {
		t.Error(err)
	}
}
