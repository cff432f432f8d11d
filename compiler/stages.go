package compiler

import (
	"context"
	"crypto/sha256"
	"encoding/hex"

	"bandwright/biquad/discretize"
	"bandwright/biquad/number"
	"bandwright/compiler/circuit"
	"bandwright/compiler/language"
	"bandwright/compiler/prototype"
)

// Options are what a caller may choose beside the spec.
type Options struct{}

// stage is one verb of the line. It adds to the Build; faults of severity
// Error end the compilation after it.
type stage struct {
	name string
	run  func(context.Context, *Build) ([]language.Fault, error)
}

// stages is the whole compiler, in order; parse comes before it, emit (package
// targets) after it.
var stages = []stage{
	{"resolve", resolve},   // filters → ideals: what every line means
	{"design", design},     // ideals → the prototype system
	{"realise", realise},   // prototype → unrounded biquads, one system a rate; op-amp stages
	{"quantise", quantise}, // biquads → words of each format
	{"verify", judge},      // words against prototype: findings
}

// Language is the spec language as the tables of kinds, methods and formats
// make it.
func Language() language.Tables {
	l := language.Tables{Kinds: prototype.Rows(), LowPass: "low-pass", HighPass: "high-pass"}
	l.DefaultMethod = discretize.Methods()[0].Name
	for _, m := range discretize.Methods() {
		l.Methods = append(l.Methods, language.Choice{Name: m.Name, Doc: m.Doc})
	}
	for _, f := range number.Formats {
		l.Formats = append(l.Formats, language.Choice{Name: f.Name, Doc: f.Doc})
	}
	for _, t := range circuit.Topologies {
		if !t.Balanced {
			l.Topologies = append(l.Topologies, language.Choice{Name: t.Name, Doc: t.Doc})
		}
	}
	return l
}

// Compile turns a spec's bytes into a Build. file is the name that diagnostics
// use. Faults may come with a Build (warnings) or without one (at least one is
// an error). The error return is for what is neither: a cancelled context.
func Compile(ctx context.Context, file string, src []byte, _ Options) (*Build, []language.Fault, error) {
	s, faults := language.Parse(file, src, Language())
	if s == nil {
		return nil, faults, nil
	}
	hash := sha256.Sum256(src)
	b := &Build{Spec: s, SHA256: hex.EncodeToString(hash[:])}
	for _, st := range stages {
		if err := ctx.Err(); err != nil {
			return nil, faults, err
		}
		more, err := st.run(ctx, b)
		faults = append(faults, more...)
		if err != nil {
			return nil, faults, err
		}
		for _, f := range more {
			if f.Severity == language.Error {
				return nil, faults, nil
			}
		}
	}
	b.Warnings = faults
	return b, faults, nil
}
