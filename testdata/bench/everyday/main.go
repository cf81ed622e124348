// Command everyday judges the whole program on small invented sites at which
// something everyday happens, with known truth: it writes each site's files,
// runs `wane nightly` on them, asks `wane due` as of two days, and prints, by situation, how
// many lamps were answered, how often the 80 % interval holds, the median error of
// the due hours, and how many lamps were falsely called under. From the module's root:
//
//	go run ./testdata/bench/everyday
//
// Lamps, sensors, dirt and supply are drawn by this command's own laws; it shares no code
// with the program it judges. Seeds 1 to 5 are for working with, the rest for judging.
package main

import (
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"sync"
)

func main() {
	if err := run(); err != nil {
		fmt.Fprintln(os.Stderr, "everyday:", err)
		os.Exit(1)
	}
}

func run() error {
	wane := flag.String("wane", "", "the program to judge; empty: built from ./cmd/wane")
	from := flag.Uint64("from", 1, "first seed")
	seeds := flag.Int("seeds", 5, "seeds a situation")
	only := flag.String("only", "", "situations whose name holds one of these, between bars: clean|daylight")
	unseen := flag.Bool("further", false, "only those that were written before anyone had seen how they fare")
	keep := flag.String("keep", "", "write sites below this folder and leave them there")
	workers := flag.Int("workers", runtime.GOMAXPROCS(0), "sites at a time")
	each := flag.Bool("each", false, "print every lamp")
	flag.Parse()
	base := *keep
	if base == "" {
		dir, err := os.MkdirTemp("", "everyday")
		if err != nil {
			return err
		}
		defer os.RemoveAll(dir)
		base = dir
	}
	if *wane == "" {
		*wane = filepath.Join(base, "wane")
		out, err := exec.Command("go", "build", "-o", *wane, "./cmd/wane").CombinedOutput()
		if err != nil {
			return fmt.Errorf("build: %w: %s", err, out)
		}
	}
	var chosen []situation
	all := situations()
	if *unseen {
		all = further()
	}
	for _, s := range all {
		if named(s.name, *only) {
			chosen = append(chosen, s)
		}
	}
	scores := make([]score, len(chosen))
	var wg sync.WaitGroup
	var mu sync.Mutex
	var first error
	slots := make(chan struct{}, *workers)
	for k, s := range chosen {
		for n := 0; n < *seeds; n++ {
			wg.Add(1)
			slots <- struct{}{}
			seed := *from + uint64(n)
			dir := filepath.Join(base, fmt.Sprintf("%02d-%d", k, seed))
			w := s.world(seed + 1000*hash(s.name))
			go func() {
				defer func() { <-slots; wg.Done() }()
				cases, err := judge(*wane, dir, w)
				if *keep == "" {
					os.RemoveAll(dir)
				}
				mu.Lock()
				defer mu.Unlock()
				if err != nil && first == nil {
					first = fmt.Errorf("%s, seed %d: %w", s.name, seed, err)
				}
				for _, c := range cases {
					scores[k].add(c)
					if *each {
						fmt.Printf("%s %d %s\n", s.name, seed, c)
					}
				}
			}()
		}
	}
	wg.Wait()
	if first != nil {
		return first
	}
	return table(chosen, scores)
}

// world makes the situation's site.
func (s situation) world(seed uint64) *world {
	p := ordinary()
	if s.plan != nil {
		s.plan(&p)
	}
	w := newWorld(seed, p)
	if s.make != nil {
		s.make(w)
	}
	return w
}

// hash keeps a situation's sites as they are when others are added.
func hash(name string) uint64 {
	h := uint64(14695981039346656037)
	for _, c := range name {
		h = (h ^ uint64(c)) * 1099511628211
	}
	return h % 1_000_003
}
