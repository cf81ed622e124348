package archive

import (
	"os"
	"syscall"
)

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
