package main

import (
	"bufio"
	"encoding/gob"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"sync/atomic"
	"syscall"
	"time"

	"wane/transform/forecast"
	"wane/transform/simfleet"
)

// kinds is how many invented sites are told apart; a greater group has them again.
const kinds = 7

// memory fits about so many lamp lives, in sites of 1,000 fixtures that lie on disk and
// are read whenever they are needed, and says the greatest heap seen and the rate. One
// site's fit stands beside it.
func memory(lives int) (err error) {
	dir, err := os.MkdirTemp("", "wane-group-")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	path := func(i int) string { return filepath.Join(dir, fmt.Sprint(i%kinds)) }
	var size [kinds]int
	for i := range kinds {
		in := simfleet.New(simfleet.Options{Seed: uint64(100 + i), Fixtures: 1000, Days: 3 * 365}).Input
		for k := range in.Lamps {
			in.Lamps[k].Make = "make of " + in.Lamps[k].Class
		}
		size[i] = len(in.Lamps)
		if err := save(path(i), &in); err != nil {
			return err
		}
	}
	heap := watch()
	in, err := load(path(0))
	if err != nil {
		return err
	}
	began := cpu()
	if _, err := forecast.Run(in, forecast.Options{}); err != nil {
		return err
	}
	alone := (cpu() - began).Seconds() / float64(size[0])
	fmt.Printf("one site alone: %d lamp lives, %.2f ms of processor each, heap up to %d MB\n", size[0], 1e3*alone, heap())
	n, all := 0, 0
	for all < lives {
		all += size[n%kinds]
		n++
	}
	in = nil
	runtime.GC()
	heap = watch()
	began = cpu()
	answers := 0
	sites := forecast.Sites{N: n, Open: func(i int) (*forecast.Input, error) { return load(path(i)) }}
	_, err = forecast.RunPool(sites, func(_ int, f *forecast.Fit) error { answers += len(f.Posteriors()); return nil })
	if err != nil {
		return err
	}
	each := (cpu() - began).Seconds() / float64(all)
	fmt.Printf("%d sites as one: %d lamp lives, %.2f ms of processor each (%.1f times one site's), heap up to %d MB, %d answers\n", n, all,
		1e3*each, each/alone, heap(), answers)
	return nil
}

// cpu is the processor time of this process: on a shared machine the clock tells less.
func cpu() time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

func save(path string, in *forecast.Input) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	w := bufio.NewWriter(f)
	return errors.Join(gob.NewEncoder(w).Encode(in), w.Flush(), f.Close())
}

func load(path string) (*forecast.Input, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	in := &forecast.Input{}
	return in, errors.Join(gob.NewDecoder(bufio.NewReader(f)).Decode(in), f.Close())
}

// watch looks at the heap until its answer is asked for: the greatest seen, MB.
func watch() func() uint64 {
	var most atomic.Uint64
	stop := make(chan struct{})
	look := func() {
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		most.Store(max(most.Load(), m.HeapInuse))
	}
	go func() {
		for {
			select {
			case <-stop:
				return
			case <-time.After(50 * time.Millisecond):
				look()
			}
		}
	}()
	return func() uint64 { close(stop); return most.Load() >> 20 }
}
