package ingest

import (
	"os"
	"syscall"
)

// askWriter asks whether anyone has the file open for writing: Linux refuses a
// read lease on such a file. The answer is all that is wanted; one that is
// granted is given back at once, and ends with the descriptor in any case.
func askWriter(f *os.File) error {
	c, err := f.SyscallConn()
	if err != nil {
		return err
	}
	var refused syscall.Errno
	err = c.Control(func(fd uintptr) {
		_, _, refused = syscall.Syscall(syscall.SYS_FCNTL, fd, syscall.F_SETLEASE, syscall.F_RDLCK)
		if refused == 0 {
			_, _, _ = syscall.Syscall(syscall.SYS_FCNTL, fd, syscall.F_SETLEASE, syscall.F_UNLCK)
		}
	})
	switch {
	case err != nil:
		return err
	case refused == syscall.EAGAIN:
		return errHasWriter
	}
	return nil
}
