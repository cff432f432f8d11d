// Command emulated prints NAME.json of the spec that it is given: all of the program that hangs on how a
// processor rounds, without what writes the other files and talks to people.
package main

import (
	"context"
	"log"
	"os"
	"path/filepath"

	"bandwright/compiler"
	"bandwright/compiler/result"
)

func main() {
	path := os.Args[1]
	src, err := os.ReadFile(path)
	if err != nil {
		log.Fatal(err)
	}
	b, faults, err := compiler.Compile(context.Background(), path, src, os.DirFS(filepath.Dir(path)))
	if err != nil || b == nil {
		log.Fatal(err, faults)
	}
	data, err := result.Of(b).Bytes()
	if err != nil {
		log.Fatal(err)
	}
	if _, err := os.Stdout.Write(data); err != nil {
		log.Fatal(err)
	}
}
