package main

import (
	"bufio"
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"time"

	"wane/ingest/register"
)

const files = 40

// first is the first night's midnight.
var first = time.Date(2026, 11, 2, 0, 0, 0, 0, time.UTC)

var channels = []struct{ name, unit string }{
	{"ppfd", "umol/m2/s"}, {"run_hours", "h"}, {"supply_v", "V"}, {"current_a", "A"}, {"power_w", "W"}, {"ambient_c", "degC"}, {"dim_pct", "%"},
}

// morning is when the nightly takes the n-th night in.
func morning(n int) time.Time { return first.AddDate(0, 0, n+1).Add(time.Hour) }

// prepare makes the site as it is before the night, and the night's files.
func prepare(dir string) error {
	base := filepath.Join(dir, "base")
	for _, d := range []string{"inbox", "sources", "register"} {
		if err := os.MkdirAll(filepath.Join(base, d), 0o755); err != nil {
			return err
		}
	}
	source := "name: rig\nfiles: \"night*.csv\"\nzone: UTC\ntime: {columns: time, format: yyyy-MM-dd HH:mm:ss}\nsensorFrom: {column: fixture}\ncolumns:\n"
	hung := strings.Join(register.FixtureColumns, ",") + "\n"
	sensors := strings.Join(register.SensorColumns, ",") + "\n"
	for _, c := range channels {
		source += fmt.Sprintf("  - {name: %s, channel: %s}\n", c.name, c.name)
	}
	for i := range *fixtures {
		id := fmt.Sprintf("f%04d", i)
		hung += fmt.Sprintf("%s,room%d,bay%d,c%d,hps-de,lot%d,,1000,230,magnetic,2026-10-01,0\n", id, i/250, i/25, i/50, i%3)
		for _, c := range channels {
			sensors += fmt.Sprintf("%s,%s,%s,%s,%s,1,,\n", id, c.name, c.name, c.unit, id)
		}
	}
	for name, text := range map[string]string{
		"sources/rig.yaml": source, "register/fixtures.csv": hung, "register/sensors.csv": sensors,
		"register/logbook.csv": strings.Join(register.LogbookColumns, ",") + "\n",
	} {
		if err := os.WriteFile(filepath.Join(base, filepath.FromSlash(name)), []byte(text), 0o644); err != nil {
			return err
		}
	}
	for n := range *before {
		if err := invent(filepath.Join(base, "inbox"), n, 288); err != nil {
			return err
		}
		if _, _, err := night(base, morning(n)); err != nil {
			return err
		}
	}
	// The first hour of the night is stored before: the check has work to do.
	if err := invent(filepath.Join(base, "inbox"), *before, 12); err != nil {
		return err
	}
	if _, _, err := night(base, first.AddDate(0, 0, *before).Add(time.Hour)); err != nil {
		return err
	}
	return invent(filepath.Join(dir, "files"), *before, 288)
}

// fresh puts the site back as it was before the night, the files in its inbox.
func fresh(dir string) error {
	s := filepath.Join(dir, "site")
	// The last site is put away, not removed: for a minute a file system that has
	// just lost a thousand files looks at each of them when it makes a new one.
	err := os.Rename(s, filepath.Join(dir, fmt.Sprintf("site-%d", time.Now().UnixNano())))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if err := os.CopyFS(s, os.DirFS(filepath.Join(dir, "base"))); err != nil {
		return err
	}
	inbox := filepath.Join(s, "inbox")
	if err := os.CopyFS(inbox, os.DirFS(filepath.Join(dir, "files"))); err != nil {
		return err
	}
	return lain(inbox)
}

// invent writes the first moments of night n: each of the 40 loggers has its
// fixtures.
func invent(folder string, n, moments int) error {
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return err
	}
	for f := range files {
		if err := inventFile(filepath.Join(folder, fmt.Sprintf("night-%03d-%02d.csv", n, f)), f, n, moments); err != nil {
			return err
		}
	}
	return nil
}

func inventFile(path string, logger, n, moments int) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	w := bufio.NewWriterSize(f, 1<<20)
	fmt.Fprintln(w, "time,fixture,ppfd,run_hours,supply_v,current_a,power_w,ambient_c,dim_pct")
	rng := rand.New(rand.NewPCG(uint64(logger), uint64(n)))
	per := *fixtures / files
	for m := range moments {
		at := first.AddDate(0, 0, n).Add(time.Duration(m) * 5 * time.Minute).Format("2006-01-02 15:04:05")
		for i := range per {
			hours := float64(1000+37*i+16*n) + float64(min(m, 192))/12
			ppfd, amps, watts, dim := 0.0, 0.0, 0.0, 0
			if m < 192 {
				ppfd = 800 + 60*float64(i%7) + 2*rng.NormFloat64()
				amps = 4.5 + 0.02*rng.NormFloat64()
				watts = 1010 + 3*rng.NormFloat64()
				dim = 100
			}
			fmt.Fprintf(w, "%s,f%04d,%.1f,%.2f,%.1f,%.2f,%.1f,%.1f,%d\n", at, logger*per+i, ppfd, hours, 231+rng.NormFloat64(), amps, watts, 24+0.3*rng.NormFloat64(), dim)
		}
	}
	if err := w.Flush(); err != nil {
		return err
	}
	return f.Close()
}

// lain gives files the age of a night's, most of which lie in the inbox for hours
// before they are taken in. What has been written a moment ago is taken in with
// more caution.
func lain(folder string) error {
	names, err := os.ReadDir(folder)
	if err != nil {
		return err
	}
	then := time.Now().Add(-time.Hour)
	for _, e := range names {
		if err := os.Chtimes(filepath.Join(folder, e.Name()), then, then); err != nil {
			return err
		}
	}
	return nil
}
