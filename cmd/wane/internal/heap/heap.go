// Package heap keeps the garbage collector from working on a heap so small that
// there is nothing to win.
//
// A command of wane lives for a fraction of a second or some seconds, and a heap
// that begins at 4 MiB is collected at each doubling on the way to its size: for
// a night of 1,000 fixtures six times, a tenth of the night's processor time.
package heap

import "os"

// floor is how far the heap grows before it is collected first, bytes. It is
// also what a large heap may hold above twice what is in use.
const floor = 80 << 20

// ballast counts as in use, so that the collector's goal is twice its size and
// more. It is address space only: nobody touches it, so that no memory stands
// behind it.
var ballast []byte

// Floor lets the heap grow to 80 MiB before it is collected, unless somebody has
// said by GOGC or GOMEMLIMIT how it is to be. A command calls it as it begins;
// called again, it does nothing.
func Floor() {
	if ballast == nil && os.Getenv("GOGC") == "" && os.Getenv("GOMEMLIMIT") == "" {
		ballast = make([]byte, floor)
	}
}
