// Package demo invents a grower: a whole site folder with three years of logger
// files, written so that the ordinary batch can be run on it and the answers
// held against what is true.
//
//  1. The scenario (scenario.go, happenings.go) lays out rooms, bays, fixtures,
//     lots of lamps, and what people did when.
//  2. The nature (nature.go, room.go) ages each lamp, lets dirt fall, sensors
//     drift, line voltage swing and rooms warm up.
//  3. The loggers (record.go, mishap.go) print that with few digits every
//     quarter of an hour and have their mishaps.
//  4. The dialects (dialect.go, meters.go, survey.go) are how each kind of
//     logger or sheet writes its files.
//  5. The folder (folder.go, register.go) is what a person at the site would
//     have set up: site.yaml, register, source descriptions, README.txt.
//
// Promises: the same seed, day and scale give the same bytes; no clock, no
// network, no other source of chance is used. Nothing here is measured: every
// file that allows a remark says that it is invented. What is true is returned
// as Truth, for tests; it is never written into the site folder.
package demo
