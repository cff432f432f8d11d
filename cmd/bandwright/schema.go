package main

import (
	"bandwright/compiler"
	"bandwright/compiler/language"
)

// Schema is the verb that prints the language for editors.
type Schema struct {
	Of string `arg:"" optional:"" name:"OF" enum:"spec,held" default:"spec" help:"spec or held: a spec, or a held board. The default is spec."`
}

// Help is printed below the flags.
func (Schema) Help() string {
	return `An editor that knows YAML and JSON Schema (draft 2020-12) completes and explains the keys of a spec, or of a held board. ` +
		`Many look for a comment in the file itself:

    # yaml-language-server: $schema=bandwright.schema.json

Examples:

    bandwright schema > bandwright.schema.json
    bandwright schema held > held.schema.json`
}

// Run prints the schema.
func (s Schema) Run(con console) error {
	schema := language.Schema
	if s.Of == "held" {
		schema = language.HeldSchema
	}
	if _, err := con.out.Write(schema(compiler.Language())); err != nil {
		return failed("the schema cannot be printed: %v", reason(err))
	}
	return nil
}
