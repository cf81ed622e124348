// Package survey works out what a canopy survey says: a fixed grid of PPFD
// readings under one fixture, at a fixed height over a fixed floor, repeated
// over the years under the same geometry.
//
// The steps:
//
//  1. Check refuses what is not a survey: no spots, two readings of one spot,
//     negative or non-finite values.
//  2. Summarise gives the numbers of one survey: average, uniformity, centre
//     of light, photons on the footprint.
//  3. Compare sets a later survey against the first, spot by spot, and parts
//     the change into level (the common ratio: lamp) and shape (what the
//     common ratio leaves: reflector, lens, aim).
//  4. An Occasion brings the reference fixture surveyed on the same day: it
//     parts the drift of the rig (sensor, supply, height setting) from that of
//     the fixture. Chart puts the reference on a control chart.
//  5. Rank sets several fixtures side by side, now or at an age in run-hours.
//
// What is uncertain, and what cancels, is declared in Uncertainty and nowhere
// else. Spots are numbered row by row from 1. Averages are over the spots read,
// not over an imagined continuous floor: how densely a floor must be sampled is
// the grid's question, not the reading's.
//
// Everything is pure and deterministic: no clock, no files.
package survey
