package language

// Effect says what another value of a key changes. A comparison of two specs
// goes by it, so that a key that joins the grammar is compared without a line
// elsewhere; what is not classified has no Effect, which a test refuses.
type Effect uint16

// The effects. A key may have several.
const (
	// Inert changes no response and nothing of substance in an artefact: a title.
	Inert Effect = 1 << iota
	// Wanted changes the prototype.
	Wanted
	// Conditional changes in which settings a filter is wanted.
	Conditional
	// Radiates changes what drivers make of the filters: levels in the air, excursion,
	// what amplifiers give.
	Radiates
	// RealisesDigital changes how the prototype becomes digital.
	RealisesDigital
	// RealisesBoard changes which stages and nominal values a board is built of.
	RealisesBoard
	// SpreadsBoards changes how far finished boards lie from the nominal one:
	// further must not pass unseen.
	SpreadsBoards
	// Promises changes a limit that realisations are held to: a weaker one must
	// not pass unseen.
	Promises
	// Tolerates changes how far responses may move before a check fails: further
	// must not pass unseen.
	Tolerates
	// Offers changes what the product has for its user: less must not pass
	// unseen. Less is a lost item of a list, a lower number, no value.
	Offers
	// Breaks says that no change must pass unseen.
	Breaks
)

// Has reports whether one of the effects in any is among those of e.
func (e Effect) Has(any Effect) bool { return e&any != 0 }
