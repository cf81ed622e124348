// Package forecast says when a lamp falls under its threshold, how sure that
// is, and what the readings can and cannot tell apart.
//
// The whole fleet is one Gaussian linear model of ln(output): each lamp life
// has its own slope, shape, early term and slow irregularity, shrunk to its
// lot, and the lot to its lamp type; the fixtures under one sensor share its
// drift between recalibrations, a slow wander and the dirt of their bay. The
// way of a night:
//
//  1. Weekly bins stand for daily values: the median takes spikes
//     away, and five years are 260 rows a fixture. Bins are all the state a
//     fit needs. Weeks with a cleaning or recalibration in them are not fitted, nor
//     those of dust that came fast and went with a cleaning (dusty.go); steps that
//     nothing logged explains are unknowns of their own (steps.go).
//  2. Run fits all lamp lives at once, finished ones too: they teach the lots
//     and types. Lamp, group and fleet are eliminated in turn, so the work
//     grows linearly with the number of fixtures.
//  3. The posterior of each lamp (Posterior, small enough to store) answers
//     with the level now, the due hours and date, the shares of the decline,
//     what was assumed, and a status.
//  4. Backtest rolls the origin back through the same input and compares what
//     would have been said with what came.
//
// Promises: the same input gives the same bits whatever the number of cores;
// nothing dated after AsOf is used; no answer goes without its interval; what
// the data cannot tell apart is said in words, with what would settle it.
package forecast
