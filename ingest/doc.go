// Package ingest imports files: what loggers, meters and people drop into a
// site folder becomes readings in the archive, and nothing of it is lost.
//
//  1. Find lists the inbox, what was collected (package collect) and the
//     folders of the configured sources, in a fixed order.
//  2. Each file is kept byte for byte, recognised (a plain form, a survey
//     sheet, or the one description in sources/ that fits its name), and
//     decoded, file by file on all cores.
//  3. What does not pass goes to quarantine with file, line and reason. A file
//     that nothing describes stays where it is and is named.
//  4. One commit makes all of it count (package archive).
//
// The parts: problem (how mistakes are told), site and register (what people
// write), source (descriptions of logger files), collect (what fetches them), decode (bytes to readings),
// reading (what passes between them), archive (what is kept).
package ingest
