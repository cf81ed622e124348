// Ingest measures the taking in of a night against plain DuckDB on the same
// files, in one run and on the same machine:
//
//	go run ./testdata/bench/ingest [-fixtures 1000] [-days 1] [-runs 5] [-year]
//
// The night is invented: a line for every fixture and five minutes with seven
// values, in 40 CSV files. DuckDB does COPY (SELECT … FROM read_csv(…) ORDER BY
// fixture, time) TO … (FORMAT parquet, COMPRESSION zstd) with FLOAT columns;
// wane keeps the originals, checks every value, looks for duplicates among what
// is stored, and writes its archive with every fsync. Each run is a process of
// its own, so that peak memory is its own too; the two take turns. Best and
// median times are printed with their ratio, and the bytes of the sorted zstd
// file against those of the archive's compacted parts.
//
// With -year it tells instead how fast wane takes in many days at one go. The
// sample is 30 days unless -days says otherwise; -days 365 is the year itself,
// for which it needs 15 GB of disk.
package main

import (
	"bufio"
	"context"
	"flag"
	"fmt"
	"log"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime/pprof"
	"slices"
	"strconv"
	"strings"
	"time"

	"wane/ingest"
	"wane/ingest/archive"
	"wane/ingest/site"
	"wane/testdata/bench/beside"
)

const files = 40

var (
	fixtures = flag.Int("fixtures", 1000, "fixtures")
	days     = flag.Int("days", 1, "days of five-minute rows in the files")
	runs     = flag.Int("runs", 5, "runs of each")
	year     = flag.Bool("year", false, "the rate of taking in a year, from a sample of days")
	keep     = flag.String("dir", "", "work here and leave everything, instead of in a temporary folder")
	profile  = flag.String("cpuprofile", "", "write profiles of wane here, with the number of the run appended")
	child    = flag.String("child", "", "what a child process does; not for people")
)

var start = time.Date(2026, 11, 2, 0, 0, 0, 0, time.UTC)

func main() {
	flag.Parse()
	log.SetFlags(0)
	if *child != "" {
		if err := runChild(*child, flag.Arg(0)); err != nil {
			log.Fatal(err)
		}
		return
	}
	if err := run(); err != nil {
		log.Fatal(err)
	}
}

// sampleDays is how many days stand for a year unless -days is given.
const sampleDays = 30

// runYear takes the days in on their own, without COPY.
func runYear(dir string) error {
	var all []float64
	for i := range *runs {
		if _, err := measured("prepare", dir); err != nil {
			return err
		}
		t, err := measured("take", dir)
		if err != nil {
			return err
		}
		all = append(all, t.ms)
		fmt.Printf("run %d: %6.1f s (cpu %6.1f s) %4d MiB\n", i+1, t.ms/1000, t.cpu/1000, t.mib)
	}
	slices.Sort(all)
	rows := float64(*fixtures * 288 * *days)
	rate := rows / all[len(all)/2] / 1000
	fmt.Printf("median %.2f M rows/s", rate)
	if *days == 365 {
		fmt.Println(", the whole year")
	} else {
		fmt.Printf(", a sample of %d days; at this rate 365 days take %.0f s\n", *days, float64(*fixtures*288*365)/rate/1e6)
	}
	return nil
}

func run() error {
	if *year && !given("days") {
		*days = sampleDays
	}
	dir := *keep
	if dir == "" {
		var err error
		if dir, err = os.MkdirTemp("", "bench"); err != nil {
			return err
		}
		defer os.RemoveAll(dir)
	}
	if err := generate(dir); err != nil {
		return err
	}
	rows := *fixtures * 288 * *days
	fmt.Printf("%d rows of 7 values in %d files\n", rows, files)
	if *year {
		return runYear(dir)
	}
	var copied, taken []measure
	for i := range *runs {
		c, err := measured("copy", dir)
		if err != nil {
			return err
		}
		copied = append(copied, c)
		if _, err := measured("prepare", dir); err != nil {
			return err
		}
		args := []string{}
		if *profile != "" {
			args = append(args, "-cpuprofile", fmt.Sprintf("%s.%d", *profile, i+1))
		}
		t, err := measured("take", dir, args...)
		if err != nil {
			return err
		}
		taken = append(taken, t)
		fmt.Printf("run %d: copy %6.0f ms (cpu %5.0f) %4d MiB   wane %6.0f ms (cpu %5.0f) %4d MiB\n", i+1, c.ms, c.cpu, c.mib, t.ms, t.cpu, t.mib)
	}
	b := func(m []measure) (best, median float64, mib int) {
		slices.SortFunc(m, func(a, b measure) int { return int(a.ms*1000) - int(b.ms*1000) })
		for _, x := range m {
			mib = max(mib, x.mib)
		}
		return m[0].ms, m[len(m)/2].ms, mib
	}
	cb, cm, cmem := b(copied)
	tb, tm, tmem := b(taken)
	fmt.Printf("time   wane/copy: best %.2f, median %.2f (%.2f M rows/s)\n", tb/cb, tm/cm, float64(rows)/tb/1000)
	fmt.Printf("memory wane/copy: %.2f\n", float64(tmem)/float64(cmem))
	if err := os.WriteFile(filepath.Join(dir, "site", "inbox", "later.csv"), []byte("time,sensor,channel,value\n2026-12-01T00:00:00Z,f0000,ppfd,1\n"), 0o644); err != nil {
		return err
	}
	daily, err := bytesOf(dir)
	if err != nil {
		return err
	}
	if _, err := measured("take", dir); err != nil {
		return err
	}
	whole, err := bytesOf(dir)
	if err != nil {
		return err
	}
	st, err := os.Stat(filepath.Join(dir, "copy.parquet"))
	if err != nil {
		return err
	}
	fmt.Printf("bytes  a row: copy %.2f, archive by day %.2f, compacted %.2f; compacted/copy %.2f\n", float64(st.Size())/float64(rows),
		float64(daily)/float64(rows), float64(whole)/float64(rows), float64(whole)/float64(st.Size()))
	return nil
}

// given says whether a flag stands on the command line.
func given(name string) (found bool) {
	flag.Visit(func(f *flag.Flag) { found = found || f.Name == name })
	return found
}

type measure struct {
	ms  float64
	cpu float64 // ms of processor time, which neighbours disturb less
	mib int
}

// measured runs a child and reads its time and peak memory.
func measured(what, dir string, args ...string) (measure, error) {
	out, c, err := beside.Child(append(args, "-fixtures", fmt.Sprint(*fixtures), "-days", fmt.Sprint(*days), "-child", what, dir)...)
	if err != nil {
		return measure{}, err
	}
	ms, err := strconv.ParseFloat(strings.TrimSpace(out), 64)
	return measure{ms, c.CPU, c.MiB}, err
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
	var err error
	switch what {
	case "copy":
		err = beside.CopyNight(dir+"/files/*.csv", dir+"/copy.parquet")
	case "prepare":
		err = prepare(dir)
	default:
		err = take(dir)
	}
	fmt.Println(float64(time.Since(begin).Microseconds()) / 1000)
	return err
}

const description = `name: rig
files: "night*.csv"
zone: UTC
time: {columns: time, format: yyyy-MM-dd HH:mm:ss}
sensorFrom: {column: fixture}
columns:
  - {name: ppfd, channel: ppfd}
  - {name: run_hours, channel: run_hours}
  - {name: supply_v, channel: supply_v}
  - {name: current_a, channel: current_a}
  - {name: power_w, channel: power_w}
  - {name: ambient_c, channel: ambient_c}
  - {name: dim_pct, channel: dim_pct}
`

// prepare makes a site that holds the evening before already and has the night
// in its inbox.
func prepare(dir string) error {
	s := filepath.Join(dir, "site")
	if err := os.RemoveAll(s); err != nil {
		return err
	}
	for _, d := range []string{"inbox", "sources"} {
		if err := os.MkdirAll(filepath.Join(s, d), 0o755); err != nil {
			return err
		}
	}
	if err := os.WriteFile(filepath.Join(s, "sources", "rig.yaml"), []byte(description), 0o644); err != nil {
		return err
	}
	// The first hour of the night is stored before: the check has work to do.
	if err := fill(filepath.Join(s, "inbox"), dir, 12); err != nil {
		return err
	}
	if err := take(dir); err != nil {
		return err
	}
	return fill(filepath.Join(s, "inbox"), dir, 0)
}

// fill copies the files, or the first moments of each, into the inbox.
func fill(inbox, dir string, moments int) error {
	names, err := filepath.Glob(filepath.Join(dir, "files", "*.csv"))
	if err != nil {
		return err
	}
	for _, n := range names {
		b, err := os.ReadFile(n)
		if err != nil {
			return err
		}
		if moments > 0 {
			lines := strings.SplitAfterN(string(b), "\n", 2+moments*(*fixtures/files))
			b = []byte(strings.Join(lines[:len(lines)-1], ""))
		}
		if err := os.WriteFile(filepath.Join(inbox, filepath.Base(n)), b, 0o644); err != nil {
			return err
		}
	}
	return nil
}

func take(dir string) error {
	s := filepath.Join(dir, "site")
	l, err := archive.Acquire(filepath.Join(s, "archive"), archive.Holder{PID: os.Getpid(), What: "bench"})
	if err != nil {
		return err
	}
	sum, err := ingest.Import(context.Background(), l, ingest.Options{Site: site.Folder(s), Now: time.Date(2027, 12, 1, 0, 0, 0, 0, time.UTC)})
	if err != nil {
		return err
	}
	if sum.All.Quarantined > 0 || !sum.All.Lawful() || len(sum.Left) > 0 {
		return fmt.Errorf("%+v", sum)
	}
	return l.Release()
}

func bytesOf(dir string) (int64, error) {
	a, err := archive.Open(filepath.Join(dir, "site", "archive"))
	if err != nil {
		return 0, err
	}
	var n int64
	for _, p := range a.Parts(archive.Readings) {
		n += p.Bytes
	}
	return n, nil
}

// generate writes the files: each of the 40 loggers has its fixtures.
func generate(dir string) error {
	if err := os.MkdirAll(filepath.Join(dir, "files"), 0o755); err != nil {
		return err
	}
	for f := range files {
		if err := generateFile(filepath.Join(dir, "files", fmt.Sprintf("night-%02d.csv", f)), f); err != nil {
			return err
		}
	}
	return nil
}

func generateFile(path string, logger int) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	w := bufio.NewWriterSize(f, 1<<20)
	fmt.Fprintln(w, "time,fixture,ppfd,run_hours,supply_v,current_a,power_w,ambient_c,dim_pct")
	rng := rand.New(rand.NewPCG(uint64(logger), 1))
	per := *fixtures / files
	hours := make([]float64, per)
	for i := range hours {
		hours[i] = rng.Float64() * 20000
	}
	for m := range 288 * *days {
		at := start.Add(time.Duration(m) * 5 * time.Minute).Format("2006-01-02 15:04:05")
		on := m%288 < 192
		for i := range per {
			ppfd, amps, watts, dim := 0.0, 0.0, 0.0, 0
			if on {
				hours[i] += 1.0 / 12
				ppfd = 800 + 60*float64(i%7) + 2*rng.NormFloat64()
				amps = 4.5 + 0.02*rng.NormFloat64()
				watts = 1010 + 3*rng.NormFloat64()
				dim = 100
			}
			fmt.Fprintf(w, "%s,f%04d,%.1f,%.2f,%.1f,%.2f,%.1f,%.1f,%d\n", at, logger*per+i, ppfd, hours[i], 231+rng.NormFloat64(), amps, watts, 24+0.3*rng.NormFloat64(), dim)
		}
	}
	if err := w.Flush(); err != nil {
		return err
	}
	return f.Close()
}
