package derive

import (
	"context"
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"wane/cmd/wane/internal/sitefolder"
	"wane/ingest"
	"wane/ingest/archive"
	"wane/ingest/register"
	"wane/ingest/site"
	"wane/queries"
	"wane/transform/calendar"
	"wane/transform/daily"
	"wane/transform/fleet"
)

// counterSite is a lamp lit 12 h a day from 2024-03-01 for 60 days, with an hour
// meter and an energy meter read at the end of each day. The hour meter is
// replaced after day 20 and the lamp after day 40; the energy meter runs over
// the top of its face after day 30.
func counterSite(t *testing.T) (site.Folder, sitefolder.Site) {
	t.Helper()
	folder := site.Folder(t.TempDir())
	put := func(name, text string) {
		path := folder.Path(strings.Split(name, "/")...)
		if err := os.MkdirAll(path[:strings.LastIndexByte(path, os.PathSeparator)], 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	put("register/fixtures.csv", strings.Join(register.FixtureColumns, ",")+
		"\nf1,veg,a,c1,hps-de,x,,1000,230,magnetic,2024-03-01,0\n")
	put("register/sensors.csv", strings.Join(register.SensorColumns, ",")+
		"\nlog,1,ppfd,umol/m2/s,f1,1,,\nhm,h,run_hours,h,f1,1,,\nem,e,energy_kwh,kWh,f1,1,,\n")
	put("register/logbook.csv", strings.Join(register.LogbookColumns, ",")+"\n2024-04-10,relamp,fixture,f1,y,\n")
	var b strings.Builder
	b.WriteString("time,sensor,channel,value\n")
	start := time.Date(2024, 3, 1, 0, 0, 0, 0, time.UTC)
	for d := range 60 {
		for h := range 24 {
			v := 0.0
			if h >= 6 && h < 18 {
				v = 800 + float64(h%3)
			}
			fmt.Fprintf(&b, "%s,log,1,%.1f\n", start.AddDate(0, 0, d).Add(time.Duration(h)*time.Hour).Format(time.RFC3339), v)
		}
		stamp := start.AddDate(0, 0, d).Add(23*time.Hour + 30*time.Minute).Format(time.RFC3339)
		face := 31_000 + 12*float64(d+1)
		if d >= 20 {
			face = 3 + 12*float64(d-19)
		}
		fmt.Fprintf(&b, "%s,hm,h,%.1f\n%s,em,e,%.1f\n", stamp, face, stamp, math.Mod(99_640+12*float64(d), 100_000))
	}
	put("inbox/all.csv", b.String())
	reg, err := register.Load(string(folder), time.UTC)
	if err != nil {
		t.Fatal(err)
	}
	cfg := site.Defaults()
	cfg.Location = time.UTC
	return folder, sitefolder.Site{Config: cfg, Register: reg}
}

// The faces of the meters stay what they were read as; the lamp's total is its
// own. A replaced hour meter and a replaced lamp change the one, not the other.
func TestLifeTotalIsApartFromTheFace(t *testing.T) {
	ctx := context.Background()
	folder, s := counterSite(t)
	l, err := archive.Acquire(folder.Path("archive"), archive.Holder{})
	if err != nil {
		t.Fatal(err)
	}
	defer l.Release()
	if _, err := ingest.Import(ctx, l, ingest.Options{Site: folder, Register: s.Register,
		Now: time.Date(2024, 6, 1, 0, 0, 0, 0, time.UTC)}); err != nil {
		t.Fatal(err)
	}
	a, err := Daily(ctx, l, s)
	if err != nil {
		t.Fatal(err)
	}
	last, _ := LastDay(a, s)
	made, err := Make(ctx, l, a, s, Making{})
	if err != nil {
		t.Fatal(err)
	}
	a = made.Archive
	lives := made.Result.Lives
	if len(lives) != 2 {
		t.Fatalf("%d lives, %v", len(lives), err)
	}
	// By hand: 40 days of the first lamp, 20 of the second, 12 h each; the hour
	// in which a lamp is switched is shared, so the lamp-on time is 12 h too.
	for k, want := range []float64{480, 240} {
		if got := lives[k].HoursNow(); math.Abs(got-want) > 1 {
			t.Errorf("life %d: %.2f h, want %.0f", k+1, got, want)
		}
		if e := lives[k].EnergyH; !e.Known() || math.Abs(e.Centre-12) > 0.01 {
			t.Errorf("life %d burned %+v h a day by its energy meter, want 12", k+1, e)
		}
	}
	if said := strings.Join(lives[0].Warnings, "; "); !strings.Contains(said, "fell back 1 time without a rollover") {
		t.Errorf("the replaced meter: %q", said)
	}
	db, err := queries.Open(ctx, Tables(a), queries.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	var rows []daily.Row
	keep := func(_ *fleet.Fixture, days []daily.Row) []daily.Row { return slices.Clone(days) }
	err = eachFixture(a, partsWithin(a, TableDaily, math.MinInt32, last), s.Register, last, nil, keep,
		func(days []daily.Row) { rows = append(rows, days...) })
	if err != nil || len(rows) != 60 {
		t.Fatalf("%d days, %v", len(rows), err)
	}
	for d, want := range map[int]float64{0: 31_012, 19: 31_240, 20: 15, 39: 243, 40: 255, 59: 483} {
		if rows[d].Counter.Last != want {
			t.Errorf("day %d: face %v, want %v", d, rows[d].Counter.Last, want)
		}
	}
	use, err := queries.YearUse(ctx, db, calendar.Date(last-59), calendar.Date(last))
	if err != nil || len(use) != 1 || math.Abs(use[0].EnergyKWh.V-59*12) > 1e-6 {
		t.Errorf("energy over the rollover: %+v, %v; want %d kWh", use, err, 59*12)
	}
}
