// Package collect fetches what the sources in sources/*.yaml offer, on their
// schedules, and loses nothing of it.
//
//  1. Supervisor starts one runner a source, each on its own: a source that is
//     down, slow or answers garbage holds up no other. It reads the descriptions
//     again every minute.
//  2. A runner waits for the next slot of its source and has its kind fetch
//     (Poller), or has it listen all the time (Listener). The kinds are packages
//     below this one (http, mqtt, modbus, sftp, ftp, s3, push); package kinds
//     knows them all.
//  3. A kind hands what comes to its Box. Where Put or Append has returned nil the
//     bytes are on disk, synced (package spool), and only then does the kind
//     acknowledge them: it answers 2xx, sends PUBACK, or saves its cursor.
//  4. The spool seals what came into whole files, one rename each, in
//     spool/NAME. From there the next ingest or night takes them in like any
//     file: they become originals, are decoded by the description, and leave the
//     spool.
//  5. What became of each poll is kept as Status beside the spool: the last
//     success, the last error in words, and the gaps, which are never filled.
//
// # Contract of a kind
//
//   - One goroutine calls Poll or Listen, never both at once, again and again for
//     as long as the source is described. Each call gets a context that ends it:
//     a kind returns soon after, and leaves no goroutine and no connection behind
//     but what its package documents.
//   - A kind may deliver the same thing twice, and does so after a crash between 3
//     and the acknowledgement. Nothing is added twice by it: the archive knows a
//     file by its content and a reading by its series and time. What has no time
//     of its own is the kind's to recognise again (mqtt does by what it appended
//     last).
//   - State is saved after the bytes it stands for, so that a crash repeats and
//     never skips.
//   - It reads no clock but the one it is given, and takes secrets from its vault.
//   - An error says what is wrong and what to do, in lower case. Refused marks one
//     that trying again at once will not mend.
//
// A new kind is a package that passes collecttest.Run with its factory, a struct
// with its keys in ingest/source, and a line in package kinds.
package collect
