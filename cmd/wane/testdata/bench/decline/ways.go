package main

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"time"

	_ "github.com/marcboeker/go-duckdb"

	"wane/cmd/wane/internal/derive"
	"wane/cmd/wane/internal/pages/report"
	"wane/cmd/wane/internal/sitefolder"
	"wane/ingest/archive"
	"wane/ingest/site"
	"wane/transform/due"
)

func plain() (string, time.Duration, error) {
	a, err := archive.Open(filepath.Join(*dir, "archive"))
	if err != nil {
		return "", 0, err
	}
	var files []string
	for _, p := range a.Parts(derive.TableDaily) {
		files = append(files, "'"+a.Path(p)+"'")
	}
	db, err := sql.Open("duckdb", "?threads=2&autoinstall_known_extensions=false&autoload_known_extensions=false")
	if err != nil {
		return "", 0, err
	}
	defer db.Close()
	var n int
	var sum float64
	// The folder day=all must not stand for the column day.
	err = db.QueryRow(`WITH x AS (SELECT fixture, ppfd, dim_pct, sum(lit_h + edge_h / 2) OVER (PARTITION BY fixture ORDER BY day) AS hours
			FROM read_parquet([`+strings.Join(files, ",")+`], hive_partitioning = false)),
		y AS (SELECT fixture, regr_slope(ln(ppfd / dim_pct * 100), hours) AS slope FROM x WHERE ppfd > 0 GROUP BY fixture)
		SELECT count(*), sum(slope) FROM y`).Scan(&n, &sum)
	if err == nil && (n != *fixtures || sum >= 0) {
		err = fmt.Errorf("%d slopes, their sum %g", n, sum)
	}
	return "slopes", 0, err
}

// place is the invented site.
func place() sitefolder.Site {
	config := site.Defaults()
	config.Name, config.Zone, config.Location, config.Invented = "Invented great site", "UTC", time.UTC, true
	return sitefolder.Site{Config: config, Register: register(), Hash: "invented"}
}

func lastDay() int32 { return int32(begun.Unix()/86400) + int32(*through) }

// locked is the archive to be written to.
func locked() (*archive.Lock, *archive.Archive, error) {
	lock, err := archive.Acquire(filepath.Join(*dir, "archive"), archive.Holder{PID: os.Getpid(), What: "bench"})
	if err != nil {
		return nil, nil, err
	}
	a, err := archive.Open(filepath.Join(*dir, "archive"))
	return lock, a, err
}

// begins says when a step begins, where that is asked for.
func begins(step string) {
	if *steps {
		var u syscall.Rusage
		syscall.Getrusage(0, &u)
		cpu := time.Duration(u.Utime.Nano() + u.Stime.Nano())
		fmt.Fprintln(os.Stderr, time.Now().Format("15:04:05.000"), cpu.Round(10*time.Millisecond), step)
	}
}

// tables makes all tables behind daily that are not there, and gives what is
// said of the lamps; levels are timed apart.
func tables() (string, time.Duration, error) {
	lock, a, err := locked()
	if err != nil {
		return "", 0, err
	}
	var levels time.Duration
	var begun time.Time
	m, err := derive.Make(context.Background(), lock, a, place(), derive.Making{AsOf: lastDay(), Progress: func(step string) {
		begins(step)
		if !begun.IsZero() {
			levels, begun = time.Since(begun), time.Time{}
		}
		if step == "levels" {
			begun = time.Now()
		}
	}})
	if err != nil {
		return "", 0, err
	}
	if err := lock.Release(); err != nil {
		return "", 0, err
	}
	text, err := said(m.Result)
	return text, levels, err
}

// whole makes what a report reads the whole history for, but for the plan.
func whole() (string, time.Duration, error) {
	lock, a, err := locked()
	if err != nil {
		return "", 0, err
	}
	s := place()
	m, err := derive.Make(context.Background(), lock, a, s, derive.Making{AsOf: lastDay(), Progress: begins})
	if err != nil {
		return "", 0, err
	}
	r := m.Result
	begins("pages")
	if err := report.Write(filepath.Join(*dir, "reports"), report.Input{Config: s.Config, Result: r}); err != nil {
		return "", 0, err
	}
	begins("the end")
	if err := lock.Release(); err != nil {
		return "", 0, err
	}
	text, err := said(r)
	return text, 0, err
}

// said is a hash of the answers.
func said(r *due.Result) (string, error) {
	known := 0
	h := sha256.New()
	for _, l := range r.Lines() {
		if !math.IsNaN(l.DueHours) {
			known++
		}
		fmt.Fprintf(h, "%+v\n", l)
	}
	if len(r.Due) != *fixtures || known < len(r.Due)/2 {
		return "", fmt.Errorf("%d lamps, %d due dates", len(r.Due), known)
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

// forget removes what nights have left.
func forget() error {
	lock, err := archive.Acquire(filepath.Join(*dir, "archive"), archive.Holder{PID: os.Getpid(), What: "bench"})
	if err != nil {
		return err
	}
	d, err := archive.Derive(lock, derive.Behind()...)
	if err != nil {
		return err
	}
	if _, err := d.Commit(); err != nil {
		return err
	}
	return lock.Release()
}
