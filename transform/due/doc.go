// Package due answers for every lamp in service when its level falls under its
// threshold.
//
//  1. FleetOf makes the forecast's input of lamp lives with their weekly bins,
//     and of what the logbook says of them: who watched each lamp when,
//     cleanings, recalibrations, reference readings, canopy surveys.
//  2. Ask lets package forecast fit the fleet, and package forecast's survey fit
//     the lamps that no logger reads; weighs the intervals by the site's own
//     record of forecasts (Backtest); and gives each lamp its answer.
//  3. Lines are the rows of table due.
package due
