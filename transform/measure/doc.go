// Package measure says what should be measured next: which measurements that a
// person could make would sharpen which due dates most, for what they cost.
//
//  1. Input (input.go) is a fit with its answers, who hangs where, and the plan's
//     costs.
//  2. Candidates (candidates.go) are what could be measured: each is one or a few
//     readings of the fit's joint posterior (forecast.Joint).
//  3. A lamp's stake (stake.go) is what not knowing its due hour costs: the money of
//     lamps replaced too early and of light lost too late under the best day that its
//     spread allows; and, where that is not priced, the width of its interval in days.
//  4. Choose (choose.go) takes the candidate that gains most for its cost, takes it as
//     made, and asks again: the second is worth less after the first.
//  5. Of the chosen ones the answers themselves are asked again (effect.go), by the
//     same rules as due: dates, statuses, widths.
//  6. LookBack (past.go) looks back: what the answers would be without a measurement
//     that was made.
//
// Promises: pure and deterministic. Nothing is fitted again, but to look back: there
// the readings that followed are known, and so is where each date stood without. Centres
// stay where they are when looking ahead, since no reading is expected to move them
// either way; a figure for what a measurement gains is therefore an expectation. What the
// fit learns beside its unknowns (noise, spreads) is held; a test fits again with the
// measurement made, on fleets whose truth is known, and compares.
//
// Not weighed: an hour meter read by hand. Run-hours that are off all along move the hours
// at which a lamp is due and those that it burns a day alike, and its date hardly
// (TestHoursMoveDatesLittle); the fit holds no uncertainty of them.
//
// What measuring can reach is bounded. At 5,000 h a lamp has mostly been there at one
// yearly round, and each of gain, dirt and the slow wander of a bay hides what the others
// are: knowing one of them alone lowers the error by a twentieth to a twelfth, all by a
// third. testdata/bench/measure -part worth prints how far, and by which readings.
package measure
