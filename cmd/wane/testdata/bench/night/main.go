// Night measures a whole night, taking in and roll-up, against plain DuckDB on
// the same files, in one run and on the same machine:
//
//	go run ./cmd/wane/testdata/bench/night [-fixtures 1000] [-before 10] [-runs 5]
//
// The night is invented: a line for every fixture and five minutes with seven
// values, in 40 CSV files. DuckDB does COPY (SELECT … FROM read_csv(…) ORDER BY
// fixture, time) TO … (FORMAT parquet, COMPRESSION zstd) with FLOAT columns.
// wane keeps the originals, checks every value, looks for duplicates among what
// is stored, writes its archive with every fsync, and rolls the night up into
// table daily by a register of all fixtures and channels. The site holds the
// nights before, rolled up, and the first hour of this one. Each run is a
// process of its own on a site of its own; the two take turns. Best and median
// are printed with their ratio, and the shares of the two steps of a night.
package main

import (
	"context"
	"flag"
	"fmt"
	"log"
	"os"
	"path/filepath"
	"runtime/debug"
	"runtime/pprof"
	"slices"
	"syscall"
	"time"

	"wane/cmd/wane/internal/derive"
	"wane/cmd/wane/internal/sitefolder"
	"wane/ingest"
	"wane/ingest/archive"
	"wane/ingest/register"
	"wane/ingest/site"
	"wane/testdata/bench/beside"
)

var (
	fixtures = flag.Int("fixtures", 1000, "fixtures")
	before   = flag.Int("before", 10, "nights that are stored and rolled up already")
	runs     = flag.Int("runs", 5, "runs of each")
	keep     = flag.String("dir", "", "work here and leave everything, instead of in a temporary folder")
	profile  = flag.String("cpuprofile", "", "write profiles of wane here, with the number of the run appended")
	child    = flag.String("child", "", "what a child process does; not for people")
)

func main() {
	flag.Parse()
	log.SetFlags(0)
	debug.SetGCPercent(200) // as the command does
	var err error
	if *child == "" {
		err = run()
	} else {
		err = runChild(*child, flag.Arg(0))
	}
	if err != nil {
		log.Fatal(err)
	}
}

func run() error {
	dir := *keep
	if dir == "" {
		var err error
		if dir, err = os.MkdirTemp("", "night"); err != nil {
			return err
		}
		defer os.RemoveAll(dir)
	}
	// In a process of its own: a child's peak memory starts at its parent's.
	if _, err := measured("prepare", dir); err != nil {
		return err
	}
	fmt.Printf("%d rows of 7 values in %d files, after %d nights\n", *fixtures*288, files, *before)
	var copied, ours []measure
	for i := range *runs {
		c, err := measured("copy", dir)
		if err != nil {
			return err
		}
		if err := fresh(dir); err != nil {
			return err
		}
		// What the copying above has left unwritten is not the night's: without this,
		// its first fsync would wait for all of it.
		syscall.Sync()
		args := []string{}
		if *profile != "" {
			args = append(args, "-cpuprofile", fmt.Sprintf("%s.%d", *profile, i+1))
		}
		w, err := measured("night", dir, args...)
		if err != nil {
			return err
		}
		copied, ours = append(copied, c), append(ours, w)
		fmt.Printf("run %d: copy %5.0f ms (cpu %5.0f) %4d MiB   wane %5.0f ms (cpu %5.0f) %4d MiB: taking in %.0f ms (cpu %.0f), roll-up %.0f ms (cpu %.0f)\n",
			i+1, c.ms, c.cpu, c.mib, w.ms, w.cpu, w.mib, w.take.ms, w.take.cpu, w.roll.ms, w.roll.cpu)
	}
	ratio := func(what string, of func(measure) float64) {
		best, median := func(m []measure) float64 { v := sorted(m, of); return v[0] }, func(m []measure) float64 { v := sorted(m, of); return v[len(v)/2] }
		fmt.Printf("%-9s wane/copy: best %.2f, median %.2f\n", what, best(ours)/best(copied), median(ours)/median(copied))
	}
	ratio("wall", func(m measure) float64 { return m.ms })
	ratio("processor", func(m measure) float64 { return m.cpu })
	ratio("peak", func(m measure) float64 { return float64(m.mib) })
	return nil
}

func sorted(m []measure, of func(measure) float64) []float64 {
	var v []float64
	for _, x := range m {
		v = append(v, of(x))
	}
	slices.Sort(v)
	return v
}

// measure is what one child took.
type measure struct {
	cost
	mib        int
	take, roll cost
}

type cost struct{ ms, cpu float64 } // cpu: ms of processor time, which neighbours disturb less

// spent is what this process has used since begin.
func spent(begin time.Time, used float64) cost {
	return cost{float64(time.Since(begin).Microseconds()) / 1000, processor() - used}
}

func processor() float64 {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		return 0
	}
	return float64(u.Utime.Nano()+u.Stime.Nano()) / 1e6
}

// measured runs a child and reads its time and peak memory.
func measured(what, dir string, args ...string) (m measure, err error) {
	out, c, err := beside.Child(append(args, "-fixtures", fmt.Sprint(*fixtures), "-before", fmt.Sprint(*before), "-child", what, dir)...)
	if err != nil {
		return m, err
	}
	m.cpu, m.mib = c.CPU, c.MiB
	_, err = fmt.Sscan(out, &m.ms, &m.take.ms, &m.take.cpu, &m.roll.ms, &m.roll.cpu)
	return m, err
}

func runChild(what, dir string) error {
	if *profile != "" {
		f, err := os.Create(*profile)
		if err != nil {
			return err
		}
		if err := pprof.StartCPUProfile(f); err != nil {
			return err
		}
		defer pprof.StopCPUProfile()
	}
	begin := time.Now()
	var took, rolled cost
	var err error
	switch what {
	case "prepare":
		err = prepare(dir)
	case "copy":
		err = beside.CopyNight(dir+"/files/*.csv", dir+"/copy.parquet")
	default:
		took, rolled, err = night(filepath.Join(dir, "site"), morning(*before))
	}
	fmt.Println(float64(time.Since(begin).Microseconds())/1000, took.ms, took.cpu, rolled.ms, rolled.cpu)
	return err
}

// night takes the inbox in at a time and brings table daily up to it.
func night(folder string, now time.Time) (took, rolled cost, err error) {
	l, err := archive.Acquire(filepath.Join(folder, "archive"), archive.Holder{PID: os.Getpid(), What: "benchmark"})
	if err != nil {
		return took, rolled, err
	}
	begin, used := time.Now(), processor()
	reg, err := register.Load(folder, time.UTC)
	if err != nil {
		return took, rolled, err
	}
	sum, err := ingest.Import(context.Background(), l, ingest.Options{Site: site.Folder(folder), Register: reg, Now: now})
	if err != nil {
		return took, rolled, err
	}
	if sum.All.Quarantined > 0 || !sum.All.Lawful() || len(sum.Left) > 0 {
		return took, rolled, fmt.Errorf("%+v", sum)
	}
	took = spent(begin, used)
	begin, used = time.Now(), processor()
	s := sitefolder.Site{Config: site.Defaults(), Register: reg}
	s.Config.Location = time.UTC
	if _, err := derive.Daily(context.Background(), l, s); err != nil {
		return took, rolled, err
	}
	rolled = spent(begin, used)
	return took, rolled, l.Release()
}
