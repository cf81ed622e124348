package main

import (
	"fmt"
	"runtime"
	"sync/atomic"
	"time"

	"wane/transform/forecast"
	"wane/transform/simfleet"
)

// memory fits about so many lamps, in sites of 1,000 fixtures, each invented again
// whenever it is read, and says the greatest heap seen and the rate. One site's fit
// stands beside it.
func memory(lamps int) error {
	site := func(i int) *forecast.Input {
		return &simfleet.New(simfleet.Options{Seed: uint64(100 + i%7), Fixtures: 1000, Days: 3 * 365}).Input
	}
	var most atomic.Uint64
	stop := make(chan struct{})
	go func() {
		var m runtime.MemStats
		for {
			select {
			case <-stop:
				return
			case <-time.After(50 * time.Millisecond):
				runtime.ReadMemStats(&m)
				most.Store(max(most.Load(), m.HeapInuse))
			}
		}
	}()
	kept := make([]*forecast.Input, 7)
	for i := range kept {
		kept[i] = site(i)
	}
	began := time.Now()
	one, err := forecast.Run(kept[0], forecast.Options{})
	if err != nil {
		return err
	}
	alone := time.Since(began).Seconds() / float64(len(kept[0].Lamps))
	runtime.KeepAlive(one)
	fmt.Printf("one site alone: %d lamp lives, %.2f ms each, heap up to %d MB\n", len(kept[0].Lamps), 1e3*alone, most.Load()>>20)
	n, lives := 0, 0
	for lives < lamps {
		lives += len(kept[n%7].Lamps)
		n++
	}
	one = nil
	runtime.GC()
	most.Store(0)
	began = time.Now()
	answers := 0
	sites := forecast.Sites{N: n, Open: func(i int) (*forecast.Input, error) { return kept[i%7], nil }}
	_, err = forecast.RunPool(sites, func(_ int, f *forecast.Fit) error { answers += len(f.Posteriors()); return nil })
	close(stop)
	if err != nil {
		return err
	}
	took := time.Since(began).Seconds()
	fmt.Printf("%d sites as one: %d lamp lives, %.2f ms each (%.1f times one site's), heap up to %d MB, %d answers\n", n, lives,
		1e3*took/float64(lives), took/float64(lives)/alone, most.Load()>>20, answers)
	return nil
}
