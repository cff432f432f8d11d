package circuit

// bandPassPeaks is the choice of the inner band-pass's peak gain.
var bandPassPeaks = aRatio("peak", "peak gain of the band-pass inside", 1, 0.5, 0.25, 2)

// bandPassPicture is how the band-pass inside is drawn, from 0,0 to 33,0.
const bandPassPicture = `
R1 > 5,0
R2 v 11,5
C2 > 16,0
U1 27,2
R3 > 27,-6
C1 > 27,-13
wire in R1.1
wire R1.2 C2.1
wire C2.2 U1-
plus U1
wire 11,0 R2.1
gnd R2.2
wire 21,0 ,-6 R3.1
wire 9,0 ,-13 C1.1
wire C1.2 33, ,-6 R3.2
wire 33,-6 ,2 U1o
`
