package lease

import (
	"os"
	"syscall"
)

// Take asks that nobody opens the file for writing before this process lets go
// of it. The error is ErrWriter if someone has it open for writing, and another
// where the system grants no such lease: of another's file, on a network's disk.
// A lease ends with its file; the system ends it after 45 s if someone waits.
func Take(f *os.File) error {
	_, err := lease(f, syscall.F_SETLEASE, syscall.F_RDLCK)
	if err == syscall.EAGAIN {
		return ErrWriter
	}
	return err
}

// Release lets go of a file, which stays open.
func Release(f *os.File) { _, _ = lease(f, syscall.F_SETLEASE, syscall.F_UNLCK) }

// Holds says whether the lease still stands and nobody waits for its end.
func Holds(f *os.File) bool {
	kind, err := lease(f, syscall.F_GETLEASE, 0)
	return err == nil && kind == syscall.F_RDLCK
}

func lease(f *os.File, what, kind int) (answer int, err error) {
	c, err := f.SyscallConn()
	if err != nil {
		return 0, err
	}
	cerr := c.Control(func(fd uintptr) {
		r, _, errno := syscall.Syscall(syscall.SYS_FCNTL, fd, uintptr(what), uintptr(kind))
		answer = int(r)
		if errno != 0 {
			err = errno
		}
	})
	if cerr != nil {
		return 0, cerr
	}
	return answer, err
}
