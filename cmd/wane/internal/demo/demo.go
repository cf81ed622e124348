package demo

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"sort"
	"sync"
	"time"
	_ "time/tzdata" // the site's zone, on a machine that has none

	"wane/transform/fleet"
)

// SiteName is the invented site's name, as it stands on every report.
const SiteName = "Invented demo site: Hollow Fen Growers"

// zoneName is where the invented site is.
const zoneName = "Europe/Amsterdam"

// years is how long the record of Write is.
const years = 3

// referenceLot is the lamp of the reference fixture.
var referenceLot = lot{"K-LE-r", "Invented-K", led(0.028), 0}

// Write writes a complete site folder into dir: three years of readings that
// end with the day before today (of which only the calendar day counts). dir is
// made where it is not there; it must be empty. progress, if any, is told a
// line at a time; from one goroutine at a time.
//
// The batch is not run: that is the caller's, by the ordinary path.
func Write(dir string, seed uint64, today time.Time, progress func(string)) (*Truth, error) {
	y, m, d := today.Date()
	end := time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
	days := int(end.Sub(end.AddDate(-years, 0, 0)).Hours() / 24)
	return WriteDays(dir, seed, today, days, progress)
}

// fewestDays is the shortest record in which the whole story fits.
const fewestDays = 60

// WriteDays is Write with a record of so many days: the same story, squeezed.
// Lamps age no faster in a short record, so few are due in it.
func WriteDays(dir string, seed uint64, today time.Time, days int, progress func(string)) (*Truth, error) {
	if days < fewestDays {
		return nil, fmt.Errorf("a demo of %d days is too short for its story; ask for %d or more", days, fewestDays)
	}
	zone, err := time.LoadLocation(zoneName)
	if err != nil {
		return nil, fmt.Errorf("demo site's zone: %w", err)
	}
	if err := MakeFolder(dir); err != nil {
		return nil, err
	}
	var mu sync.Mutex
	tell := func(line string) {
		mu.Lock()
		defer mu.Unlock()
		if progress != nil {
			progress(line)
		}
	}
	c := newCalendar(zone, today, days)
	rs := rooms()
	happened := happenings(c, rs)
	results, err := playAll(dir, seed, c, rs, happened, tell)
	if err != nil {
		return nil, err
	}
	truth := gather(c, seed, rs, results)
	if err := writeSheets(filepath.Join(dir, "inbox"), c, seed, results, truth); err != nil {
		return nil, err
	}
	if err := writeFolder(dir, seed, c, rs, happened); err != nil {
		return nil, err
	}
	if err := put(surveyNotes(seed), dir, "register", "surveys.csv"); err != nil {
		return nil, err
	}
	return truth, nil
}

// MakeFolder makes the empty folders of a site.
func MakeFolder(dir string) error {
	entries, err := os.ReadDir(dir)
	if err != nil && !os.IsNotExist(err) {
		return fmt.Errorf("look into demo folder: %w", err)
	}
	if len(entries) > 0 {
		return fmt.Errorf("%s is not empty: name a new folder for the demo, or empty this one", dir)
	}
	for _, sub := range []string{"register", "sources", "inbox"} {
		if err := os.MkdirAll(filepath.Join(dir, sub), 0o755); err != nil {
			return fmt.Errorf("make demo folder: %w", err)
		}
	}
	return nil
}

// playAll plays the rooms, two at a time. What a room draws depends on the seed
// and its own names only, so the order does not matter.
func playAll(dir string, seed uint64, c *calendar, rs []room, happened []happening,
	tell func(string)) ([]played, error) {
	results := make([]played, len(rs))
	errs := make([]error, len(rs))
	turn := make(chan int, len(rs))
	for i := range rs {
		turn <- i
	}
	close(turn)
	var wg sync.WaitGroup
	for range 2 {
		wg.Go(func() {
			for i := range turn {
				r := &rs[i]
				var events []*happening
				for k := range happened {
					if happened[k].room == r.id {
						events = append(events, &happened[k])
					}
				}
				p := newPlay(c, rs, r, seed, events, func(place string, channels int) *record {
					return &record{
						c: c, dir: filepath.Join(dir, "inbox"), place: place, channels: channels,
						w: writerOf(r.dialect, place), mishaps: mishaps(c, seed, place, channels),
					}
				})
				errs[i] = p.run()
				results[i] = p.out
				tell(fmt.Sprintf("invented room %s (%s): %d fixtures, %d logger files, %.1f MB", r.id, r.title, len(p.fixtures),
					p.out.files, float64(p.out.bytes)/1e6))
			}
		})
	}
	wg.Wait()
	for _, err := range errs {
		if err != nil {
			return nil, err
		}
	}
	return results, nil
}

// writeSheets writes the small files of the inbox.
func writeSheets(inbox string, c *calendar, seed uint64, results []played, truth *Truth) error {
	counters := map[string][]float64{}
	var sheets []sheet
	for i, p := range results {
		for place, daily := range p.counters {
			counters[place] = daily
		}
		if len(p.meters) > 0 {
			sheets = append(sheets, meterSheets(c, sheetRoom, results[i].meters)...)
		}
		if len(p.panel) > 0 {
			sheets = append(sheets, panelSheets(meteredRoom, results[i].panel)...)
		}
	}
	sheets = append(sheets, counterSheets(c, counters)...)
	sheets = append(sheets, surveySheets(c, seed, truth.Lives)...)
	for _, s := range sheets {
		if err := put(s.data, inbox, s.name); err != nil {
			return err
		}
	}
	return nil
}

// gather puts the rooms' truths together, fixtures in register order.
func gather(c *calendar, seed uint64, rs []room, results []played) *Truth {
	t := &Truth{Seed: seed, First: c.first, Days: c.days}
	for _, p := range results {
		lives := slices.Clone(p.lives)
		sort.SliceStable(lives, func(i, j int) bool { return lives[i].Fixture < lives[j].Fixture })
		t.Lives = append(t.Lives, lives...)
		t.Gains = append(t.Gains, p.gains...)
	}
	t.Lives = append(t.Lives, labLives(c)...)
	t.Lives = append(t.Lives, Life{
		Fixture: reference, Room: "STORE", Make: referenceLot.make, Cohort: referenceLot.name, LampType: fleet.LED,
		N: 1, Logged: true, Law: referenceLot.law, From: c.first,
	})
	return t
}
