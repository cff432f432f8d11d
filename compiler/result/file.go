package result

import (
	"bytes"
	"encoding/json"
	"fmt"

	"bandwright/compiler/words"
)

// Bytes is NAME.json: one value a line where it fits, keys in the order of the
// types, shortest decimals, no negative zero. It fails where a number is not
// finite, which no build should hold.
func (r *Result) Bytes() ([]byte, error) { return pretty(r, words.JSON{Width: lineWidth, Indent: 1}) }

// pretty is a value as JSON with line breaks, lines at most width wide where
// it can be.
func pretty(v any, style words.JSON) ([]byte, error) {
	var compact bytes.Buffer
	enc := json.NewEncoder(&compact)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(v); err != nil {
		return nil, fmt.Errorf("the result cannot be written as JSON: %w", err)
	}
	return append(style.LayOut(compact.Bytes()), '\n'), nil
}

// Read takes a NAME.json. Keys that this version does not know are passed
// over; a file of another kind or version is an error.
func Read(data []byte) (*Result, error) {
	var r Result
	if err := json.Unmarshal(data, &r); err != nil {
		return nil, fmt.Errorf("not a result of bandwright: %w", err)
	}
	switch {
	case r.Bandwright == 0 || r.Name == "":
		return nil, fmt.Errorf("not a result of bandwright: `bandwright` or `name` is missing")
	case r.Bandwright != Version:
		return nil, fmt.Errorf("a result of version %d; this bandwright reads version %d", r.Bandwright, Version)
	}
	return &r, nil
}

// lineWidth is the width of NAME.json.
const lineWidth = 120
