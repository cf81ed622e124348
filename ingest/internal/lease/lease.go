// Package lease asks the system for read leases: who has one of a file knows
// that nobody has it open for writing, and that whoever opens it so waits.
package lease

import "errors"

// ErrWriter says that someone has the file open for writing.
var ErrWriter = errors.New("open for writing")
