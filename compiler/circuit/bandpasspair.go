package circuit

// bandPassPeaks is the choice of the inner band-pass's peak gain.
var bandPassPeaks = aRatio("peak", "peak gain of the band-pass inside", 1, 0.5, 0.25, 2)

// matchedDepth is the caution of notches that subtract.
const matchedDepth = "the match of resistors and capacitors limits the notch depth: 40 dB for 1 %"
