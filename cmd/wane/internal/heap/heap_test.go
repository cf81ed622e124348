package heap

import (
	"runtime"
	"runtime/debug"
	"testing"
)

var sink []byte

// What is made below the floor is not collected, and what is made above it is.
func TestFloor(t *testing.T) {
	t.Setenv("GOGC", "")
	t.Setenv("GOMEMLIMIT", "")
	defer debug.SetGCPercent(debug.SetGCPercent(100))
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

// Who has set the collector has it his way.
func TestFloorGivesWay(t *testing.T) {
	defer func(b []byte) { ballast = b }(ballast)
	for _, name := range []string{"GOGC", "GOMEMLIMIT"} {
		ballast = nil
		t.Run(name, func(t *testing.T) {
			t.Setenv(name, "100")
			if Floor(); ballast != nil {
				t.Error("the heap has a floor")
			}
		})
	}
}
