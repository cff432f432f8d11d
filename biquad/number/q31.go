package number

// q31 has samples of 32 bits.
var q31Format = fixedPoint("q31", container{bits: 32, guard: anyGuard})
