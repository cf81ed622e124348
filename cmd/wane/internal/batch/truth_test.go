package batch

import (
	"context"
	"math"
	"testing"
	"time"

	"wane/cmd/wane/internal/demo"
	"wane/cmd/wane/internal/derive"
	"wane/cmd/wane/internal/sitefolder"
	"wane/ingest/archive"
	"wane/ingest/register"
	"wane/ingest/site"
	"wane/transform/calendar"
	"wane/transform/due"
	"wane/transform/lamp"
	"wane/transform/robust"
)

// truthDays is long enough for recalibrations, relamps, an outage and cleanings
// in every room.
const truthDays = 500

// today is when the invented sites' records end.
var today = time.Date(2025, 6, 1, 0, 0, 0, 0, time.UTC)

// invent writes an invented site of so many days, and reads what people wrote of
// it.
func invent(t *testing.T, seed uint64, days int) (site.Folder, sitefolder.Site, *demo.Truth) {
	t.Helper()
	dir := t.TempDir()
	truth, err := demo.WriteDays(dir, seed, today, days, nil)
	if err != nil {
		t.Fatal(err)
	}
	folder := site.Folder(dir)
	config, err := folder.Load(func(string) error { return nil })
	if err != nil {
		t.Fatal(err)
	}
	reg, err := register.Load(dir, config.Location)
	if err != nil {
		t.Fatal(err)
	}
	return folder, sitefolder.Site{Config: config, Register: reg}, truth
}

// loadDemo invents a site, runs the ordinary batch on it, and gives what wane
// made of it beside what is true.
func loadDemo(t *testing.T) (*demo.Truth, sitefolder.Site, *archive.Archive, *Outcome) {
	t.Helper()
	folder, s, truth := invent(t, 11, truthDays)
	out, err := Run(context.Background(), Options{Folder: folder, Site: s, Now: today.Add(3 * time.Hour)})
	if err != nil {
		t.Fatal(err)
	}
	a, err := archive.Open(folder.Path("archive"))
	if err != nil {
		t.Fatal(err)
	}
	return truth, s, a, out
}

// Levels, run-hours and unlogged relamps of an invented site against its truth.
// The invention has its own physics and does not know wane's formulas.
func TestInventedSiteAgainstItsTruth(t *testing.T) {
	truth, s, a, out := loadDemo(t)
	last, _ := derive.LastDay(a, s)
	r, err := derive.Know(context.Background(), a, s, last)
	if err != nil {
		t.Fatal(err)
	}
	lives, reg := r.Lives, r.Register
	type key struct {
		fixture string
		n       int
	}
	known := map[key]*lamp.Life{}
	for _, l := range lives {
		known[key{l.Fixture.ID, l.N}] = l.WithSeries()
	}
	hidden := map[string]time.Time{} // relamps that nobody logged
	logged := map[string]int{}
	var levelErrors, hourErrors []float64
	for _, l := range truth.Lives {
		if !l.Logged {
			hidden[l.Fixture] = l.From
			continue
		}
		logged[l.Fixture]++
		got := known[key{l.Fixture, logged[l.Fixture]}]
		if got == nil {
			t.Fatalf("no life %d of %s", logged[l.Fixture], l.Fixture)
		}
		if !hidden[l.Fixture].IsZero() || got.SensorLast == "" {
			continue
		}
		le, he := compare(truth, l, got, s)
		hourErrors = append(hourErrors, he...)
		for _, c := range reg.Calibrations(got.SensorLast) {
			if c.AsFound > 0 { // the drift of this sensor is known
				levelErrors = append(levelErrors, le...)
				break
			}
		}
	}
	if len(levelErrors) < 5000 || len(hourErrors) < 10000 {
		t.Fatalf("%d levels and %d hours compared: too few", len(levelErrors), len(hourErrors))
	}
	level, hour := robust.Median(levelErrors), robust.Median(hourErrors)
	t.Logf("median absolute error: level %.2f %% of %d days, run-hours %.2f %%", 100*level, len(levelErrors), 100*hour)
	if level > 0.015 {
		t.Errorf("levels are off by %.2f %% (median), want at most 1.5 %%", 100*level)
	}
	if hour > 0.005 {
		t.Errorf("run-hours are off by %.2f %% (median)", 100*hour)
	}
	foundHidden(t, hidden, out.Result, s)
}

// compare gives the relative errors of a life's levels and run-hours. Dirt is
// still on a level, so the true one has it too, both against the same baseline
// days.
func compare(truth *demo.Truth, l demo.Life, got *lamp.Life, s sitefolder.Site) (levels, hours []float64) {
	first := calendar.DayOf(truth.First, s.Config.Location)
	light, burned := map[int32]float64{}, map[int32]float64{}
	for _, d := range l.Records {
		light[first+int32(d.Day)] = d.Level * d.Dirt * d.Gear
		burned[first+int32(d.Day)] = d.Hours
	}
	var base []float64
	for _, v := range got.Levels {
		if !math.IsNaN(v.Level) && len(base) < s.Config.Baseline.Days {
			base = append(base, light[v.Day])
		}
	}
	if len(base) == 0 {
		return nil, nil
	}
	one := robust.Median(base)
	for _, v := range got.Levels {
		if want := light[v.Day] / one; !math.IsNaN(v.Level) && want > 0 {
			levels = append(levels, math.Abs(v.Level/want-1))
		}
	}
	for _, v := range got.Totals {
		if want := burned[v.Day]; want > 300 {
			hours = append(hours, math.Abs(v.Hours/want-1))
		}
	}
	return levels, hours
}

// foundHidden wants every hidden relamp asked about within four days, as near as weeks tell, and few
// other questions.
func foundHidden(t *testing.T, hidden map[string]time.Time, r *due.Result, s sitefolder.Site) {
	t.Helper()
	wrong := 0
	found := map[string]bool{}
	for _, q := range r.Questions {
		right := false
		for _, f := range q.Fixtures {
			if at, ok := hidden[f]; ok {
				if d := q.Day - calendar.DayOf(at, s.Config.Location); d >= -4 && d <= 4 {
					found[f], right = true, true
				}
			}
		}
		if !right {
			wrong++
			t.Logf("not hidden: %s", q)
		}
	}
	for f := range hidden {
		if !found[f] {
			t.Errorf("the unlogged lamp of %s was not asked about: %v", f, r.Questions)
		}
	}
	if limit := len(r.Due) * truthDays / 1825; wrong > limit {
		t.Errorf("%d false questions, want at most one a fixture and five years (%d)", wrong, limit)
	}
	if len(hidden) == 0 {
		t.Error("the invented site hides no relamp: nothing was tested")
	}
}
