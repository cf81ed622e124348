// Package archive keeps everything that was ever imported, and what was made
// of it, in plain files that anyone can read. LAYOUT.md describes them.
//
// What happens to a file of a logger:
//
//  1. Acquire takes the lock of the one writer; Begin starts an Import.
//  2. Import.Keep copies the file, byte for byte, and hashes it. A file that is
//     already kept goes no further: all its rows are duplicates.
//  3. Import.Sink receives what a decoder makes of the file: readings, and
//     rejects for the quarantine.
//  4. Import.Commit merges the new readings into the partitions that they touch,
//     writes those as new parts, and swaps the manifest, which is the instant
//     at which all of it counts. Then the files that were imported are removed
//     from where they came from, and the parts that no manifest names.
//
// Readers Open a view: one manifest and the parts it names, all of them
// write-once. A view stays whole while the next import commits; if one of its
// parts has gone (ErrGone), open a new view.
//
// An archive may be in a bucket, with a copy in the folder (Place): each file goes
// to the bucket before it gets its name in the folder, the manifest by a
// conditional put, and what a reader lacks is fetched.
//
// Check verifies all of it, Repair and Rebuild make it anew from the originals.
//
// Derived tables are written by Derive, kept or replaced by the key of what
// they were made from.
//
// Promises:
//
//   - rows = stored + duplicate + quarantined, for each file and for all.
//   - The parts of readings, their names and bytes depend on nothing but the set
//     of readings imported: not on order, splits, overlaps, repeats or crashes.
//   - Two values of one series at one moment are both kept, marked as a
//     conflict, and listed by Conflicts.
//   - Killed at any instant, the archive is as before the import or as after it;
//     the next Begin sweeps and tells what was left over.
//   - An import that brought nothing changes no byte.
//
// The archive knows nothing of the register: a series is a sensor and a
// channel, whatever they may mean.
package archive
