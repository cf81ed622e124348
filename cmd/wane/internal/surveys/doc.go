// Package surveys gathers the canopy surveys that were taken in and asks
// transform/survey what they say.
//
//  1. Gather reads the sheets from the archive, joins those that stand in
//     several, adds what register/surveys.csv and site.yaml say of conditions
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
