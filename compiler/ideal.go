package compiler

import (
	"context"

	"bandwright/compiler/spec"
)

// Prototype is a Build that ends with the prototype: what a spec means before
// anything is realised. The Build is nil where the spec means nothing, with
// the faults that say why.
func Prototype(s *spec.Spec) (*Build, []spec.Fault) {
	b := &Build{Spec: s}
	for _, run := range []func(context.Context, *Build) ([]spec.Fault, error){resolve, design} {
		faults, _ := run(context.Background(), b) // neither stage has an error of its own
		for _, f := range faults {
			if f.Severity == spec.Error {
				return nil, faults
			}
		}
	}
	return b, nil
}
