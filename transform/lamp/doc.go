// Package lamp follows one lamp in one fixture from install to removal, as the
// record knows it at the end of a day.
//
//  1. Record cuts a fixture's days of the roll-up into lamp lives and gathers
//     the evidence of each one's run-hours (package hours adds them up).
//  2. The days that its baseline rests on, its room's burning habit, and the
//     site's own swings of voltage and temperature (Coefficients) follow.
//  3. What is asked of it later on a day: run-hours, output, level, TM-21.
//
// A life's hours and levels day by day are many; they come from a Source and are
// asked for with WithSeries.
package lamp
