package report

import (
	"errors"
	"os"

	"golang.org/x/sys/unix"
)

// fewFiles are flushed one by one: to flush all that a file system holds back
// takes longer.
const fewFiles = 50

// toDisk flushes files of a folder to the disk; many of them by one call for the
// file system that they are on.
func toDisk(dir string, list []pending) error {
	if len(list) <= fewFiles {
		return eachToDisk(list)
	}
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(unix.Syncfs(int(d.Fd())), d.Close())
}
