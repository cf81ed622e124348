// Package fleet is the register as facts: which lamp burned in which fixture
// when, which sensor watched it, which calibration held, and what people did.
//
// It is built from three tables (fixtures, sensors, logbook) that somebody else
// has read and checked, and answers questions as of a moment:
//
//  1. AsOf drops whatever is dated later, so that a forecast made for a past
//     day cannot peek.
//  2. Lives cuts each fixture's time into lamp lives (a relamp starts a new
//     one).
//  3. Watch finds the series that tells of a fixture: its own first, then its
//     bay's, circuit's, room's.
//  4. Events, SetPoints and Calibrations give the logbook per fixture and
//     sensor.
//
// A question about one fixture costs what concerns that fixture: the register
// keeps an index of its tables, made at the first question.
//
// Days are calendar days of the site's zone; the caller supplies the zone.
// Nothing here reads a file or a clock.
package fleet
