// Package circuits asks the archive what the logged voltages of a site's
// circuits say.
//
//  1. Gather finds the voltage series of the register and what each watches,
//     and the fixtures that hang on it.
//  2. The counting is done in SQL by UTC hour and half-volt bin; the site's
//     clock is put on here, where zones belong.
//  3. transform/supply says what the voltages mean: profile by season and hour,
//     service most likely, events, ratings, and how much of each fixture's
//     change of output the supply accounts for.
//
// Nothing here is advice to open gear; supply.Cautions stands wherever a
// finding is shown.
package circuits
