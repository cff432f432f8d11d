// Package json emits NAME.json, which lists every other artefact with its
// SHA-256. Its shape belongs to package result.
package json

import (
	"crypto/sha256"
	"encoding/hex"

	"bandwright/compiler"
	"bandwright/compiler/result"
)

// Emit is NAME.json for a build whose other artefacts are made.
func Emit(b *compiler.Build, made []compiler.File) (compiler.File, error) {
	r := result.Of(b)
	for _, f := range made {
		sum := sha256.Sum256(f.Data)
		r.Files[f.Name] = hex.EncodeToString(sum[:])
	}
	data, err := r.Bytes()
	if err != nil {
		return compiler.File{}, err
	}
	return compiler.File{Name: Name(b.Spec.Name), Data: data}, nil
}

// Name is the file's name for a spec's name.
func Name(spec string) string { return spec + ".json" }
