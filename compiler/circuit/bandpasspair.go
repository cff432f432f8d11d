package circuit

// bandPassPeaks is the choice of the inner band-pass's peak gain.
var bandPassPeaks = aRatio("peak", "peak gain of the band-pass inside", 1, 0.5, 0.25, 2)

// matchedDepth is the caution of notches that subtract.
const matchedDepth = "the notch is as deep as its resistors and capacitors match: 40 dB for 1 %"
