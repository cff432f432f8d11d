package number

// q23 has samples of 24 bits, at the right of a word, as many converters have them;
// it computes as q31 does.
var q23Format = fixedPoint("q23", container{bits: 24, guard: anyGuard})
