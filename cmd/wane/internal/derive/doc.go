// Package derive makes the archive's derived tables: it reads what was taken
// in, calls the pure functions of transform and the statements of queries, and
// writes what they give.
//
//  1. Daily: readings and register -> table daily, by transform/daily.
//  2. Make, everything behind it, as of a day:
//     hours      run-hours of each lamp life (transform/lamp), and lives, gains,
//     sensor_periods, placements, chains, coefficients: what the register says
//     baselines  what 100 % is of each life          (baselines.sql)
//     levels     output against the own baseline     (levels.sql)
//     weeks      weekly bins that the forecast sees  (weeks.sql)
//     due        when each lamp is due               (transform/due)
//  3. Ask: a question about another day, threshold or interval. Where the tables
//     are not of that day they are made beside the archive, in the same way.
//
// This is where "as of" happens: nothing dated later is read.
//
// A part's key is made from the names of the parts that it was made from, what
// the register says of its days, and Version; a part whose key is still the same
// is kept. That is the only cache. Everything written is a function of
// originals, register and site.yaml, so that deriving again changes no byte.
package derive
