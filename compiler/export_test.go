package compiler

import (
	"context"
	"io/fs"

	"bandwright/compiler/language"
)

// VerdictHolding is CompileHolding for the findings alone.
func VerdictHolding(ctx context.Context, file string, src []byte, folder fs.FS, h Holding) (*Build, []language.Fault, error) {
	return compile(ctx, source{file, src, folder}, h, extent{enough: true, unplayed: true})
}
