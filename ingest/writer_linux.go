package ingest

import (
	"errors"

	"golang.org/x/sys/unix"
)

// openElsewhere says whether some process has the file open for writing: the
// system grants a read lease on no such file. Where it grants none for another
// reason, such as on a network's disk, it is taken for finished, and the archive
// looks at size and time of change as ever.
func openElsewhere(path string) bool {
	fd, err := unix.Open(path, unix.O_RDONLY|unix.O_NOFOLLOW|unix.O_NONBLOCK|unix.O_CLOEXEC, 0)
	if err != nil {
		return false
	}
	defer unix.Close(fd)
	_, err = unix.FcntlInt(uintptr(fd), unix.F_SETLEASE, unix.F_RDLCK)
	if err == nil {
		_, _ = unix.FcntlInt(uintptr(fd), unix.F_SETLEASE, unix.F_UNLCK) // closing ends it too
	}
	return errors.Is(err, unix.EAGAIN)
}
