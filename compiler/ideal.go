package compiler

import (
	"context"

	"bandwright/compiler/language"
)

// Prototype is a Build that ends with the prototype: what a spec means before
// anything is realised. The Build is nil where the spec means nothing, with
// the faults that say why.
func Prototype(s *language.Spec) (*Build, []language.Fault) {
	b := &Build{Spec: s}
	for _, run := range []func(context.Context, *Build) ([]language.Fault, error){resolve, design} {
		faults, _ := run(context.Background(), b) // neither stage has an error of its own
		for _, f := range faults {
			if f.Severity == language.Error {
				return nil, faults
			}
		}
	}
	return b, nil
}
