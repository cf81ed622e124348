// Package surveys holds all canopy surveys of a site and asks package survey
// what they say of each other.
//
//  1. Of takes the sheets, joins those that stand in several, adds what was
//     written down beside them and what the site declares of conditions
//     and geometry, flags what is off the declared conditions, and corrects by
//     the declared rules and no others.
//  2. Surveys are grouped into visits to the rig; the reference fixture of a
//     visit is kept apart.
//  3. Changes, Chart, Slope, SideBySide and ByAge are the questions; each says
//     whether the rig held.
//  4. References turns changes into reference readings for the forecast.
//
// Nothing here reads a clock or writes a file. The package knows neither run-
// hours nor levels: who asks hands them in, so that package derive may ask.
package surveys
