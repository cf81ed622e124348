//go:build !linux

package lease

import (
	"errors"
	"os"
)

// Only Linux tells who has a file open: elsewhere no lease is granted.
func Take(*os.File) error { return errors.ErrUnsupported }

// Release does nothing.
func Release(*os.File) {}

// Holds is false.
func Holds(*os.File) bool { return false }
