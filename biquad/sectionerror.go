package biquad

// SectionError is the computed error of one position in one form, of its worst
// alternative. All levels are relative to the section's own greatest gain.
type SectionError struct {
	Form Form
	// CoefficientDB is what rounding the coefficients does: the greatest
	// change of the response over 0 Hz to half the rate, over the greatest
	// response there.
	CoefficientDB float64
	// RoundOffDB is the noise that the arithmetic adds to a sine at its worst
	// frequency, RMS over the RMS of the section's greatest output.
	RoundOffDB float64
	// TotalDB is the power sum of both: what forms are compared by.
	TotalDB float64
	// Unstable marks a form in which rounding makes the section unstable; its
	// levels are then the worst there are.
	Unstable bool
	// Pulled is true where every form was unstable and the poles were moved
	// inwards.
	Pulled bool
	// Passed are the same figures in the forms that were not chosen.
	Passed []SectionError
}
