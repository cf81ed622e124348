// Package source reads the descriptions in a site's sources/ folder: where the
// files of one kind of logger come from and how they read.
//
// A description is data for the decoders. This package checks that it makes
// sense, with file, line, column and remedy for every mistake, and fills in the
// defaults; it opens no file.
//
// Key names are those of the W3C CSVW dialect (Model for Tabular Data and
// Metadata on the Web) and of Frictionless Table Dialect and Schema where one
// of them has the idea; Keys lists them all. A wide file:
//
//	name: bay-logger
//	files: ["bay*.csv"]
//	delimiter: ";"
//	decimalChar: ","
//	encoding: windows-1252
//	skipRows: 2
//	headerRowCount: 2
//	unitRow: 2
//	missingValues: [-9999, NAN]
//	zone: Europe/Amsterdam
//	time: {columns: [Date, Time], format: dd.MM.yyyy HH:mm:ss}
//	sensor: "bay-{1}"
//	sensorFrom: {fileName: '^bay(\d+)_'}
//	columns:
//	  - {name: PAR, channel: ppfd, unit: umol/m2/s}
//	  - {position: 5, channel: supply, unit: V}
//	  - {match: '^F(\d+) PPFD$', sensor: "f{1}", channel: ppfd}
//
// A long file, one value a line:
//
//	name: export
//	files: ["export_*.csv"]
//	zone: "+01:00"
//	time: {columns: [Stamp], format: M/d/yyyy h:mm a}
//	layout: long
//	long: {sensor: Logger, channel: Parameter, value: Reading, flag: Status, goodFlags: ["", OK]}
//
// A day a line, a quarter of an hour a column:
//
//	name: grid-meter
//	files: ["grid_*.csv"]
//	zone: Europe/Rome
//	time: {columns: [Giorno], format: dd/MM/yyyy}
//	layout: days
//	sensor: grid
//	channel: energy
//	days: {first: "00:00-00:15", count: 96}
//
// A wide file with a sensor's name on each line sets sensorFrom: {column: Logger}.
package source
