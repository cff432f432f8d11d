package circuit

// bandPassPeaks is the choice of the inner band-pass's peak gain.
var bandPassPeaks = aRatio("peak", "peak gain of the band-pass inside", 1, 0.5, 0.25, 2)
