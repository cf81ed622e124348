// Command decline compares the forecast of a great fleet with the plain way in
// SQL, and a night's update with the forecast from the whole history, on the
// same daily values in one run:
//
//	go run ./cmd/wane/testdata/bench/decline -fixtures 10000 -years 5
//
// Plain: run-hours by sum() OVER (PARTITION BY fixture ORDER BY day), then
// regr_slope of ln(output) on hours for every fixture. Ours: derive.Make, from
// the same parts of table daily to every lamp's due date, everything afresh, with
// the levels timed apart. A night's update: the same, levels included, on an
// archive that the night before has left and that has a day more of table daily;
// of an ordinary night, of one on which a week ends, and of one on which a month
// begins. Its answers must be those of the whole history. Each is a process of its own, so that its peak
// memory is its own too. The daily values are invented: an exponential decline,
// a swing of the supply, a little noise.
package main

import (
	"errors"
	"flag"
	"fmt"
	"log"
	"os"
	"runtime/debug"
	"runtime/pprof"
	"time"

	"wane/testdata/bench/beside"
)

var (
	fixtures = flag.Int("fixtures", 10000, "how many")
	years    = flag.Int("years", 5, "how many")
	runs     = flag.Int("runs", 3, "runs of each; the best counts")
	dir      = flag.String("dir", "", "folder to work in, kept and used again; empty: a temporary one")
	profile  = flag.String("cpuprofile", "", "write a profile of our last run here")
	pages    = flag.Bool("report", false, "measure levels, steps and pages of all fixtures too: some minutes")
	steps    = flag.Bool("steps", false, "say on stderr when each step begins")
	part     = flag.String("part", "", "internal: make, forget, sql, afresh, night or report")
	through  = flag.Int("through", 0, "internal: the last day, counted from the record's first")
)

// begun is the record's first day.
var begun = time.Date(2021, 1, 1, 0, 0, 0, 0, time.UTC)

func main() {
	log.SetFlags(0)
	flag.Parse()
	debug.SetGCPercent(200) // as the command does
	debug.SetMemoryLimit(1280 << 20)
	var err error
	switch *part {
	case "":
		err = compare()
	case "make":
		err = generate()
	case "forget":
		err = forget()
	case "sql":
		err = timed(plain)
	case "report":
		err = timed(whole)
	case "afresh", "night":
		err = timed(tables)
	}
	if err != nil {
		log.Fatal(err)
	}
}

func compare() error {
	if *dir == "" {
		tmp, err := os.MkdirTemp("", "decline")
		if err != nil {
			return err
		}
		defer os.RemoveAll(tmp)
		*dir = tmp
	} else if err := os.MkdirAll(*dir, 0o755); err != nil {
		return err
	}
	first := int(begun.Unix() / 86400)
	ends := func(day int) bool { return (first+day+1)%7 == 0 } // a week of the blocks' grid
	ordinary := days() - 1
	for ends(ordinary) {
		ordinary--
	}
	turn := ordinary - 1
	for !ends(turn) {
		turn--
	}
	monthly := turn
	for begun.AddDate(0, 0, monthly).Day() != 1 || ends(monthly) {
		monthly--
	}

	full, err := best(ordinary, "sql", "afresh")
	if err != nil {
		return err
	}
	s, a := full["sql"], full["afresh"]
	fmt.Printf("%d fixtures x %d years: afresh/sql wall %.2f; levels besides %.1f s; peak %.2f GiB\n",
		*fixtures, *years, a.own()/s.wall, a.levels, float64(a.mib)/1024)
	for _, kind := range []struct {
		what string
		day  int
	}{{"an ordinary night", ordinary}, {"a night on which a week ends", turn}, {"a night on which a month begins", monthly}} {
		m, err := nightly(kind.day)
		if err != nil {
			return fmt.Errorf("%s: %w", kind.what, err)
		}
		fmt.Printf("%s: %.2f s (processor %.2f s), peak %d MiB: night/afresh wall %.2f\n", kind.what, m.wall, m.cpu, m.mib, m.wall/a.own())
	}
	if !*pages {
		return nil
	}
	if _, err := child("make", ordinary); err != nil {
		return err
	}
	m, err := child("report", ordinary)
	if err != nil {
		return err
	}
	fmt.Printf("levels and pages: %.0f s (processor %.0f s), peak %.2f GiB\n", m.wall, m.cpu, float64(m.mib)/1024)
	return nil
}

// best runs each of some parts on the whole history up to a day.
func best(day int, parts ...string) (map[string]measure, error) {
	if _, err := child("make", day); err != nil { // not here: what a child holds is counted from what its parent held
		return nil, err
	}
	out := map[string]measure{}
	for range *runs {
		for _, what := range parts {
			if _, err := child("forget", day); err != nil {
				return nil, err
			}
			m, err := child(what, day)
			if err != nil {
				return nil, err
			}
			fmt.Printf("%-4s %6.2f s (processor %6.2f s), peak %4d MiB\n", what, m.wall, m.cpu, m.mib)
			if b, ok := out[what]; !ok || m.wall < b.wall {
				out[what] = m
			}
		}
	}
	return out, nil
}

// nightly is the best of some nights, each after the night before.
func nightly(day int) (measure, error) {
	var out measure
	for i := range *runs {
		for _, before := range []struct {
			what string
			day  int
		}{{"make", day - 1}, {"forget", day - 1}, {"afresh", day - 1}, {"make", day}} {
			if _, err := child(before.what, before.day); err != nil {
				return out, err
			}
		}
		m, err := child("night", day)
		if err != nil {
			return out, err
		}
		if i == 0 || m.wall < out.wall {
			out = m
		}
	}
	if _, err := child("forget", day); err != nil {
		return out, err
	}
	whole, err := child("afresh", day)
	if err == nil && whole.said != out.said {
		err = errors.New("the answers differ from those of the whole history")
	}
	return out, err
}

type measure struct {
	wall, cpu float64 // s
	levels    float64 // s of wall, for making levels
	mib       int
	said      string // a hash of the answers
}

// own is the time without that for levels.
func (m measure) own() float64 { return m.wall - m.levels }

func child(what string, day int) (measure, error) {
	args := []string{"-part", what, "-dir", *dir, "-fixtures", fmt.Sprint(*fixtures), "-years", fmt.Sprint(*years), "-through", fmt.Sprint(day)}
	if *profile != "" {
		args = append(args, "-cpuprofile", *profile+"."+what)
	}
	out, c, err := beside.Child(args...)
	if err != nil {
		return measure{}, err
	}
	var m measure
	if out != "" {
		if _, err := fmt.Sscan(out, &m.wall, &m.levels, &m.said); err != nil {
			return m, fmt.Errorf("%s said %q: %w", what, out, err)
		}
	}
	m.cpu, m.mib = c.CPU/1000, c.MiB
	return m, nil
}

// timed prints how long a part took, and what it said.
func timed(f func() (string, time.Duration, error)) error {
	if *profile != "" {
		p, err := os.Create(*profile)
		if err != nil {
			return err
		}
		if err := pprof.StartCPUProfile(p); err != nil {
			return err
		}
		defer pprof.StopCPUProfile()
	}
	before := time.Now()
	said, levels, err := f()
	fmt.Println(time.Since(before).Seconds(), levels.Seconds(), said)
	return err
}
