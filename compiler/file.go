package compiler

// File is one artefact: its name relative to the output folder,
// slash-separated, and its bytes.
type File struct {
	Name string
	Data []byte
}
