package kicad

// For tests of the files from drawings of their own.
var (
	EmitSheets = emit
	UUID       = id
)
