// Package yearly writes the reliability summary of a year into the site's
// reports folder.
//
//  1. gather reads the register, the logbook and the derived tables into the plain facts
//     of transform/yearly, and asks the forecasts of both ends of the year.
//  2. transform/yearly makes the statistics.
//  3. Make lays them out as files: a page, CSV tables, JSON, and a bundle a warranty
//     claim, each with the SHA-256 of every file.
//  4. Write puts them in place.
//
// Promises: the same archive, register and site.yaml give the same bytes; no
// clock is read: the report's date is the end of the year, or the last day with
// a reading where that is earlier.
package yearly
