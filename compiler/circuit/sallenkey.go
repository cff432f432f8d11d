package circuit

const sallenKeySource = "IRE Trans. Circuit Theory 2 (1955) 74-85"

// equalValueGain is the choice of amplifier gain, 0 for the one that equal
// values ask for.
func equalValueGain(doc string) Free {
	return aRatio("K", doc, 0, 1.25, 1.5, 2)
}
