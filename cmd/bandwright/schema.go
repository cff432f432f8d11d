package main

import (
	"bandwright/compiler"
	"bandwright/compiler/language"
)

// Schema is the verb that prints the language for editors.
type Schema struct{}

// Help is printed below the flags.
func (Schema) Help() string {
	return `An editor that knows YAML and JSON Schema (draft 2020-12) completes and explains the keys of a spec. ` +
		`Many look for a comment in the file itself:

    # yaml-language-server: $schema=bandwright.schema.json

Examples:

    bandwright schema > bandwright.schema.json`
}

// Run prints the schema.
func (Schema) Run(con console) error {
	if _, err := con.out.Write(language.Schema(compiler.Language())); err != nil {
		return failed("the schema cannot be printed: %v", reason(err))
	}
	return nil
}
