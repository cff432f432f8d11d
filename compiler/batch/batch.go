// Package batch tells what a batch of one board is like: a board with the
// tolerances of its parts and the prototype come in; how far finished boards lie
// from the prototype and from each other, which share of them is within a limit,
// the worst corner and the parts that matter come out.
//
// Every stage is its closed form with the values of each simulated board, over that
// with nominal values, times the nominal response by nodal analysis with the real
// op-amp; what stands around the stages counts to the first order of its
// deviations. How far that is from nodal analysis of the same boards stands in
// DEVELOPERS.md and is held by tests. Parts deviate independently of each other,
// also inside one package. A board is the same board in every combination of
// settings.
//
// The one invariant: a board's parts hang on the seed and on its number alone, never
// on the number of processors, nor on what else is simulated.
//
// Read first: Simulator, Unit, Of.
package batch
