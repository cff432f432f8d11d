package finished

import (
	"fmt"

	"bandwright/compiler/words"
)

// Trim is one way to bring a unit inside.
type Trim struct {
	// What is done, in words, and how far off (dB) the unit is from the nominal one before and after it.
	What          string
	WasDB, WillDB float64
}

// String is the trim in a sentence.
func (t Trim) String() string {
	return fmt.Sprintf("%s: then it is within %s of the nominal unit, now within %s", t.What, words.Error(t.WillDB, "dB"), words.Error(t.WasDB, "dB"))
}
