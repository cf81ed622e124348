package archive

import (
	"os"
	"syscall"
)

// hold asks that nobody opens the file for writing before this process lets go
// of it. It says no if someone has it open for writing, or where the system
// grants no such lease: to another's file, on a network's disk. A lease ends
// with its file; the system ends it after 45 s if someone waits.
func hold(f *os.File) bool { return lease(f, syscall.F_SETLEASE, syscall.F_RDLCK) == 0 }

// release lets go of a file, which stays open.
func release(f *os.File) { lease(f, syscall.F_SETLEASE, syscall.F_UNLCK) }

// held says whether the lease still stands and nobody waits for its end.
func held(f *os.File) bool { return lease(f, syscall.F_GETLEASE, 0) == syscall.F_RDLCK }

// lease gives what the system says, negative where it refuses.
func lease(f *os.File, what, kind int) (answer int) {
	answer = -1
	c, err := f.SyscallConn()
	if err != nil {
		return answer
	}
	_ = c.Control(func(fd uintptr) {
		if r, _, errno := syscall.Syscall(syscall.SYS_FCNTL, fd, uintptr(what), uintptr(kind)); errno == 0 {
			answer = int(r)
		}
	})
	return answer
}

// inode is what a file's information tells of it apart from its names.
type inode struct {
	device       uint64
	links, owner int
	changed      syscall.Timespec // content, names, owner or rights
}

func inodeOf(info os.FileInfo) (inode, bool) {
	st, ok := info.Sys().(*syscall.Stat_t)
	if !ok {
		return inode{}, false
	}
	return inode{uint64(st.Dev), int(st.Nlink), int(st.Uid), st.Ctim}, true
}
