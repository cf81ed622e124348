// Package yearly makes the reliability summary of a year: how the lamps and
// fixtures held up, and what the next year will ask.
//
//  1. Input is the year as plain facts: fixtures, lamp lives with their hours
//     and weekly levels, the logbook's failures, sensors, and what was forecast
//     at both ends of the year.
//  2. Make gives a Summary: scope and exposure, survival by lamp type, make and
//     cohort, the maintenance of light, warranty claims, the scorecard of last
//     year's due dates, next year's counts, failures by mode, sensors.
//  3. Every statistic is a Value: centre, interval, level, number, method and
//     warnings. What the data do not give has no centre and says what is missing.
//
// # What counts
//
// A lamp is under watch from the record's first day, or from its own first day
// if that is later. One that burned already enters at its age (left
// truncation); one that works at the end, or was taken out while it worked, is
// censored there. It has failed, or gone dark, where the logbook says so. It
// has faded in the first week whose smoothed level lies under its threshold;
// the level is as the sensor sees it, the sensor's own drift taken out and dirt
// not.
//
// Promises: no I/O, no clock, no random numbers; the same input gives the same
// Summary; nothing dated after Input.AsOf is to be in the input. Hours
// and levels may have been made with what was found later (Input.Known), such as
// a drift that a recalibration of the next year found: then the notes say so.
package yearly
