package ingest

import (
	"errors"
	"os"
	"syscall"
	"time"
)

// openElsewhere says whether some process has the file open for writing, so that
// removing it would lose what is still to come. Where the system does not tell,
// such as on a network's disk, the file is taken for finished, and the archive
// looks at size and time of change as ever.
//
// A program that starts another one holds each of its open files twice for a
// moment, even one that it closes meanwhile, so a busy file is asked again.
func openElsewhere(path string) bool {
	for range 5 {
		if !hasWriter(path) {
			return false
		}
		time.Sleep(20 * time.Millisecond)
	}
	return true
}

func hasWriter(path string) bool {
	f, err := os.OpenFile(path, os.O_RDONLY|syscall.O_NOFOLLOW|syscall.O_NONBLOCK, 0)
	if err != nil {
		return false
	}
	defer f.Close()
	return errors.Is(askWriter(f), errHasWriter)
}

// errHasWriter says that some process has the file open for writing.
var errHasWriter = errors.New("open for writing elsewhere")
