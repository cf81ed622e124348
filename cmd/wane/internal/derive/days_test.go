package derive

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"wane/cmd/wane/internal/sitefolder"
	"wane/ingest"
	"wane/ingest/archive"
	"wane/ingest/site"
	"wane/transform/calendar"
	"wane/transform/daily"
	"wane/transform/fleet"
)

// nights is a small site that grows by a night, a late file, a correction, a
// decision or a change of the register at a time.
type nights struct {
	t      *rapid.T
	folder site.Folder
	lock   *archive.Lock
	site   sitefolder.Site
	start  int32 // first day
	days   int   // nights so far
	files  int
	spoken map[int32]bool // days with readings
	whole  map[int32]bool // those whose night's file came
	fewest int            // fixtures from which on days are parts
}

func newNights(t *rapid.T, dir string) *nights {
	n := &nights{t: t, folder: site.Folder(dir), spoken: map[int32]bool{}, whole: map[int32]bool{}}
	if err := os.MkdirAll(n.folder.Path("inbox"), 0o755); err != nil {
		t.Fatal(err)
	}
	loc, err := time.LoadLocation("Europe/Amsterdam")
	if err != nil {
		t.Fatal(err)
	}
	// A month ends here, and summer time begins.
	n.start = calendar.DayOf(time.Date(2024, 3, rapid.IntRange(22, 29).Draw(t, "first day"), 12, 0, 0, 0, loc), loc)
	cfg := site.Defaults()
	cfg.Location = loc
	lat, lon := 52.0, 5.0
	cfg.Latitude, cfg.Longitude = &lat, &lon
	cfg.Rooms = map[string]site.Room{"glass": {Daylight: true}}
	n.fewest = rapid.IntRange(2, 6).Draw(t, "fewest")
	n.site = sitefolder.Site{Config: cfg, Register: &fleet.Register{
		Fixtures: []fleet.Fixture{
			{ID: "f1", Room: "veg", Bay: "a", Circuit: "c1", LampType: fleet.HPSDE},
			{ID: "f2", Room: "veg", Bay: "a", Circuit: "c1", LampType: fleet.LED},
			{ID: "f3", Room: "glass", Bay: "g", Circuit: "c2", LampType: fleet.CMH},
		},
		Sensors: []fleet.SensorPeriod{
			{Sensor: "s", Channel: "0", Quantity: fleet.PPFD, Watches: "f1", Factor: 1},
			{Sensor: "s", Channel: "1", Quantity: fleet.PPFD, Watches: "a", Factor: 1},
			{Sensor: "s", Channel: "2", Quantity: fleet.PPFD, Watches: "glass", Factor: 2},
			{Sensor: "s", Channel: "3", Quantity: fleet.PowerW, Watches: "c2", Factor: 1},
			{Sensor: "s", Channel: "4", Quantity: fleet.PowerW, Watches: "f1", Factor: 1},
			{Sensor: "s", Channel: "5", Quantity: fleet.CurrentA, Watches: "a", Factor: 1},
		},
	}}
	if n.lock, err = archive.Acquire(n.folder.Path("archive"), archive.Holder{}); err != nil {
		t.Fatal(err)
	}
	return n
}

// file takes in readings of a day at some minute of some hours.
func (n *nights) file(day int32, minute, shift int, hour func(int) bool) {
	text := "time,sensor,channel,value\n"
	rng := rand.New(rand.NewPCG(uint64(day), uint64(shift)))
	for h := range 24 {
		if !hour(h) {
			continue
		}
		at := calendar.Start(day, n.site.Config.Location).Add(time.Duration(h)*time.Hour + time.Duration(minute)*time.Minute)
		if calendar.DayOf(at, n.site.Config.Location) != day {
			continue
		}
		n.spoken[day] = true
		for ch := range 6 {
			v := 0.3
			if (h+6*ch)%24 < 15 {
				v = 700 + float64(rng.IntN(60))/10
			}
			every := 60
			if ch < 2 { // so often that the day before tells all that a day takes over
				every = 15
			}
			for m := 0; m < 60; m += every {
				text += fmt.Sprintf("%s,s,%d,%.*f\n", at.Add(time.Duration(m)*time.Minute).UTC().Format(time.RFC3339), ch, 1+ch%2,
					v+float64(shift)+float64(m%7)/10)
			}
		}
	}
	n.files++
	if err := os.WriteFile(n.folder.Path("inbox", fmt.Sprintf("%03d.csv", n.files)), []byte(text), 0o644); err != nil {
		n.t.Fatal(err)
	}
	now := time.Date(2024, 5, 1, 0, 0, n.files, 0, time.UTC)
	if _, err := ingest.Import(context.Background(), n.lock,
		ingest.Options{Site: n.folder, Register: n.site.Register, Now: now}); err != nil {
		n.t.Fatal(err)
	}
}

// touched says which days a step has to do with: those with readings must be
// rolled up again, or may be.
type touched struct {
	day func(int32) bool
	may bool
}

// step changes something.
func (n *nights) step() touched {
	reg := n.site.Register
	none := touched{day: func(int32) bool { return false }}
	from := func(at time.Time) touched {
		return touched{day: func(day int32) bool { return calendar.Start(day+1, n.site.Config.Location).After(at) }}
	}
	after := func(first, last int32) touched {
		return touched{day: func(day int32) bool { return day >= first && day <= last+runIn }}
	}
	what := "night"
	if n.days > 0 {
		what = rapid.SampledFrom([]string{"night", "night", "night", "late", "again", "correction", "decision", "sensor",
			"closed", "dim", "move", "hung", "cohort", "factor"}).Draw(n.t, "what")
	}
	day := n.start + int32(rapid.IntRange(0, max(0, n.days-1)).Draw(n.t, "day"))
	at := calendar.Start(day, n.site.Config.Location).Add(time.Duration(rapid.IntRange(0, 30).Draw(n.t,
		"hours")) * time.Hour)
	defer reg.Sort()
	switch what {
	case "night":
		day = n.start + int32(n.days)
		n.days += rapid.SampledFrom([]int{1, 1, 1, 3, 7}).Draw(n.t, "silence")
		n.whole[day] = true
		n.file(day, 0, 0, func(h int) bool { return true })
		return after(day, day)
	case "late":
		n.file(day, n.files%60, 0, func(h int) bool { return h%5 == n.files%5 })
		return after(day, day)
	case "again": // the same readings, unless the day was silent
		had := n.whole[day]
		n.whole[day] = true
		n.file(day, 0, 0, func(h int) bool { return true })
		if had {
			return none
		}
		return after(day, day)
	case "correction":
		n.file(day, 0, n.files, func(h int) bool { return h > 5 && h < 5+n.files%15 })
		return touched{after(day, day).day, true} // or the same once more
	case "decision":
		to := at.Add(time.Duration(rapid.IntRange(0, 40).Draw(n.t, "long")) * time.Hour)
		keep := rapid.SampledFrom([]fleet.Keep{fleet.KeepLowest, fleet.KeepHighest, fleet.KeepNone}).Draw(n.t, "keep")
		reg.Decisions = append(reg.Decisions, fleet.Decision{Sensor: "s", Channel: "1", From: at, To: to, Keep: keep})
		return after(calendar.DayOf(at, n.site.Config.Location), calendar.DayOf(to, n.site.Config.Location))
	case "sensor": // first in the file, so that it counts from then on
		row := fleet.SensorPeriod{Sensor: "s", Channel: "1", Quantity: fleet.PPFD, Watches: "f1", Factor: 1.5, From: at}
		reg.Sensors = append([]fleet.SensorPeriod{row}, reg.Sensors...)
	case "closed":
		p := &reg.Sensors[rapid.IntRange(0, len(reg.Sensors)-1).Draw(n.t, "row")]
		if !p.To.IsZero() || !p.From.Before(at) {
			return none
		}
		p.To = at
	case "dim":
		reg.Logbook = append(reg.Logbook, fleet.Entry{At: at, What: fleet.Dim, Scope: fleet.OfRoom, ID: "veg", Number: 80})
	case "move":
		bay := rapid.SampledFrom([]string{"a", "g"}).Draw(n.t, "bay")
		reg.Logbook = append(reg.Logbook, fleet.Entry{At: at, What: fleet.Move, Scope: fleet.OfFixture, ID: "f2", Value: bay})
	case "hung":
		if len(reg.Logbook) > 0 { // a bay that something moved to is spoken of from then on
			return none
		}
		reg.Fixtures = append(reg.Fixtures, fleet.Fixture{ID: fmt.Sprintf("e%d", len(reg.Fixtures)), Room: "veg", Bay: "a",
			Circuit: "c1", LampType: fleet.MH, Installed: at})
	case "cohort":
		reg.Fixtures[0].Cohort += "x"
		return none
	case "factor":
		p := &reg.Sensors[rapid.IntRange(0, len(reg.Sensors)-1).Draw(n.t, "row")]
		p.Factor *= 1.1
		return from(p.From)
	}
	return from(at)
}

// rollUp derives and gives the days rolled up and the manifest, which names all
// parts by their content.
func (n *nights) rollUp() ([]int32, string) {
	_, rolled, err := rollUp(context.Background(), n.lock, n.site, n.fewest)
	if err != nil {
		n.t.Fatal(err)
	}
	m, err := os.ReadFile(n.folder.Path("archive", "manifest.json"))
	if err != nil {
		n.t.Fatal(err)
	}
	return rolled, string(m)
}

// rows gives table daily in order of fixture and day, whatever its parts.
func (n *nights) rows() string {
	a, err := archive.Open(n.lock.Dir())
	if err != nil {
		n.t.Fatal(err)
	}
	var rows []daily.Row
	for _, p := range a.Parts(TableDaily) {
		cols, err := a.ReadTable(p)
		if err != nil {
			n.t.Fatal(err)
		}
		rows = appendRows(rows, cols)
	}
	slices.SortFunc(rows, func(a, b daily.Row) int {
		return cmp.Or(cmp.Compare(a.Fixture, b.Fixture), cmp.Compare(a.Day.Day, b.Day.Day))
	})
	return fmt.Sprintf("%+v", rows)
}

// However a site grew, its tables are byte for byte what they are when made at
// once; days that something touched are rolled up again, and where nothing
// changed, none.
func TestDaysOneByOneAreDaysAtOnce(t *testing.T) {
	dir := t.TempDir()
	runs := 0
	rapid.Check(t, func(t *rapid.T) {
		runs++
		n := newNights(t, filepath.Join(dir, fmt.Sprint(runs)))
		defer func() {
			if err := n.lock.Release(); err != nil {
				t.Error(err)
			}
			os.RemoveAll(string(n.folder))
		}()
		steps := rapid.IntRange(3, 8).Draw(t, "steps")
		var done []touched
		for i := range steps {
			done = append(done, n.step())
			if rapid.IntRange(0, 4).Draw(t, "later") == 0 && i < steps-1 {
				continue // derived with the next step
			}
			rolled, _ := n.rollUp()
			for day := range n.spoken {
				must := false
				for _, d := range done {
					must = must || d.day(day) && !d.may
				}
				if must && !slices.Contains(rolled, day) {
					t.Fatalf("%s was not rolled up", calendar.Date(day).Format(time.DateOnly))
				}
			}
			done = nil
			if again, _ := n.rollUp(); len(again) > 0 {
				t.Fatalf("nothing changed, and %v were rolled up", again)
			}
		}
		_, step := n.rollUp()
		if err := archive.DropDerived(n.lock); err != nil {
			t.Fatal(err)
		}
		_, once := n.rollUp()
		if step != once {
			t.Fatalf("one by one:\n%s\nat once:\n%s", step, once)
		}
		n.fewest = 1
		n.rollUp()
		byDay := n.rows()
		n.fewest = math.MaxInt
		n.rollUp()
		if byMonth := n.rows(); byDay != byMonth {
			t.Fatalf("by day:\n%s\nby month:\n%s", byDay, byMonth)
		}
	})
}
