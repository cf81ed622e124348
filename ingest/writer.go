package ingest

import (
	"errors"
	"os"
	"syscall"
	"time"

	"wane/ingest/internal/lease"
)

// openElsewhere says whether some process has the file open for writing: the
// system grants a read lease on no such file. Where it grants none for another
// reason, such as on a network's disk, it is taken for finished, and the archive
// looks at size and time of change as ever.
//
// A program that starts another one holds each of its open files twice for a
// moment, even one that it closes meanwhile, so a busy file is asked again.
func openElsewhere(path string) bool {
	for range 5 {
		if !leaseRefused(path) {
			return false
		}
		time.Sleep(20 * time.Millisecond)
	}
	return true
}

func leaseRefused(path string) bool {
	f, err := os.OpenFile(path, os.O_RDONLY|syscall.O_NOFOLLOW|syscall.O_NONBLOCK, 0)
	if err != nil {
		return false
	}
	defer f.Close() // a lease that was granted ends with it
	return errors.Is(lease.Take(f), lease.ErrWriter)
}
