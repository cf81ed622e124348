// Package parallel does things that do not depend on each other on all cores.
package parallel

import (
	"runtime"
	"sync"
	"sync/atomic"
)

// For calls fn for 0 to n-1; fn writes only what is its own.
func For(n int, fn func(i int)) { By(n, func() func(int) { return fn }) }

// By is For by workers who have things of their own.
func By(n int, worker func() func(i int)) {
	var wg sync.WaitGroup
	var next atomic.Int64
	for range min(n, runtime.GOMAXPROCS(0)) {
		wg.Go(func() {
			fn := worker()
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				fn(i)
			}
		})
	}
	wg.Wait()
}
