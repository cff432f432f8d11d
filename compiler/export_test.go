package compiler

import (
	"context"

	"bandwright/compiler/language"
)

// Resolve takes a spec as far as the positions of the prototype; the Build is
// nil where a fault is an error.
func Resolve(s *language.Spec) (*Build, []language.Fault) {
	b := &Build{Spec: s}
	faults, err := resolve(context.Background(), b)
	if err != nil || len(faults) > 0 {
		return nil, faults
	}
	layOut(b)
	return b, nil
}
