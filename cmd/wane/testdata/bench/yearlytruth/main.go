// Command yearlytruth holds the yearly summary of an invented site against what
// the site truly did: the levels of the warranty claims and the crossings of the
// scorecard.
//
// Run from the repository's root:
//
//	go run ./cmd/wane/testdata/bench/yearlytruth -seed 1
//
// Rooms with a threshold in PPFD are left out of the crossings: what light their
// sensors would have read of a clean lamp is not in the truth.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"time"

	"wane/cmd/wane/internal/batch"
	"wane/cmd/wane/internal/demo"
	"wane/cmd/wane/internal/derive"
	"wane/cmd/wane/internal/pages/yearly"
	"wane/cmd/wane/internal/sitefolder"
	"wane/ingest/archive"
	"wane/ingest/register"
	"wane/ingest/site"
	"wane/queries"
	"wane/transform/calendar"
	"wane/transform/fleet"
)

func main() {
	seed := flag.Uint64("seed", 1, "of the invented site")
	flag.Parse()
	if err := run(context.Background(), *seed); err != nil {
		fmt.Fprintln(os.Stderr, "bench:", err)
		os.Exit(1)
	}
}

// today is a day on which the record ends; the year before it is summed up.
var today = time.Date(2026, 11, 25, 0, 0, 0, 0, time.UTC)

type key struct {
	fixture string
	n       int
}

func run(ctx context.Context, seed uint64) error {
	tmp, err := os.MkdirTemp("", "bench-truth-*")
	if err != nil {
		return err
	}
	defer os.RemoveAll(tmp)
	dir := filepath.Join(tmp, "site")
	truth, err := demo.Write(dir, seed, today, nil)
	if err != nil {
		return err
	}
	lives := map[key]*demo.Life{}
	for i := range truth.Lives {
		if l := &truth.Lives[i]; l.Logged {
			lives[key{l.Fixture, l.N}] = l
		}
	}
	made, config, err := summary(ctx, site.Folder(dir))
	if err != nil {
		return err
	}
	held, claims := 0, 0
	for _, c := range made.Summary.Claims {
		l := lives[key{c.Fixture, c.LampLife}]
		if c.Dark || l == nil || !c.Level.Bounded() {
			continue
		}
		claims++
		level := l.Law.Level(c.AtHours)
		in := level >= c.Level.Lo && level <= c.Level.Hi
		if in {
			held++
		}
		fmt.Printf("claim   %-9s %d at %6.0f h: %.4f (%.4f to %.4f), truly %.4f, %s\n", c.Fixture, c.LampLife, c.AtHours, c.Level.Centre, c.Level.Lo, c.Level.Hi, level, c.Verdict)
	}
	alike, judged := 0, 0
	for _, s := range made.Summary.Score.List {
		l := lives[key{s.Fixture, s.LampLife}]
		if l == nil || s.Status == "under" || s.By == "nobody" {
			continue
		}
		threshold := config.Thresholds.Of(l.Room, l.LampType).Level
		if threshold == 0 {
			continue
		}
		judged++
		crossed := int32(0)
		for _, d := range l.Records {
			if day := calendar.DayOf(truth.First.AddDate(0, 0, d.Day), config.Location); d.Level < threshold && day <= made.Summary.AsOf {
				crossed = day
				break
			}
		}
		if (crossed != 0) == s.Crossed.Known() {
			alike++
		} else {
			fmt.Printf("differs %-9s %d: truly %v, judged %v\n", s.Fixture, s.LampLife, crossed != 0, s.Crossed.Known())
		}
		if crossed != 0 && s.Crossed.Known() {
			fmt.Printf("crossed %-9s %d: judged %+.0f days from the truth\n", s.Fixture, s.LampLife, s.Crossed.Centre-float64(crossed))
		}
	}
	fmt.Printf("levels of claims: %d of %d intervals hold the truth (95 %% were to); crossings: %d of %d judged as they were\n", held, claims, alike, judged)
	return nil
}

func summary(ctx context.Context, folder site.Folder) (*yearly.Made, site.Config, error) {
	config, err := folder.Load(func(string) error { return nil })
	if err != nil {
		return nil, config, err
	}
	config.Warranty = site.Warranty{LampTypes: map[fleet.LampType]site.WarrantyTerms{}}
	for _, t := range fleet.LampTypes {
		config.Warranty.LampTypes[t] = site.WarrantyTerms{Hours: 15000, Level: 0.95, Description: "invented"}
	}
	reg, err := register.Load(string(folder), config.Location)
	if err != nil {
		return nil, config, err
	}
	s := sitefolder.Site{Config: config, Register: reg}
	if _, err := batch.Run(ctx, batch.Options{Folder: folder, Site: s, Now: today}); err != nil {
		return nil, config, err
	}
	a, err := archive.Open(folder.Path("archive"))
	if err != nil {
		return nil, config, err
	}
	files := func(table string) (out []string) {
		for _, p := range a.Parts(table) {
			out = append(out, a.Path(p))
		}
		return out
	}
	db, err := queries.Open(ctx, queries.Tables{derive.TableDaily: files(derive.TableDaily), derive.TableLevels: files(derive.TableLevels)}, queries.Limits{Threads: runtime.NumCPU()})
	if err != nil {
		return nil, config, err
	}
	made, err := yearly.Make(ctx, a, db, yearly.Options{Folder: folder, Site: s, Year: today.Year() - 1, Forecasts: true})
	return made, config, errors.Join(err, db.Close())
}
