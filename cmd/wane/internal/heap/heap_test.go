package heap

import (
	"runtime"
	"testing"
)

var sink []byte

// What is made below the floor is not collected, and what is made above it is.
func TestFloor(t *testing.T) {
	Floor()
	runtime.GC()
	fill := func(mib int) (collections uint32) {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		for range mib {
			sink = make([]byte, 1<<20)
		}
		runtime.ReadMemStats(&after)
		return after.NumGC - before.NumGC
	}
	if n := fill(48); n != 0 {
		t.Errorf("%d collections for 48 MiB, want none", n)
	}
	if n := fill(400); n == 0 || n > 20 {
		t.Errorf("%d collections for 400 MiB, want about 6", n)
	}
}
