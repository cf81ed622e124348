package fleet

import (
	"fmt"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// Few names, some of them of two kinds of thing, so that rows meet.
var (
	someFixtures = []string{"f1", "f2", "f3", "f4", "a"}
	someNames    = []string{"", "a", "b", "c", "d", "f1", "f2"}
	someSensors  = []string{"s1", "s2", "s3"}
	someAmounts  = []Quantity{PPFD, SupplyV, Energy, ""}
)

func someDay(t *rapid.T) time.Time {
	if rapid.IntRange(0, 4).Draw(t, "always") == 0 {
		return time.Time{}
	}
	return date("2024-01-01").AddDate(0, 0, rapid.IntRange(0, 30).Draw(t, "day"))
}

func someFixture(t *rapid.T) Fixture {
	name := rapid.SampledFrom(someNames)
	return Fixture{ID: rapid.SampledFrom(someFixtures).Draw(t, "fixture"), Room: name.Draw(t, "room"),
		Bay: name.Draw(t, "bay"), Circuit: name.Draw(t, "circuit"),
		Cohort: "lot", Installed: someDay(t), HoursAtInstall: 7, Line: rapid.IntRange(1, 99).Draw(t, "line")}
}

func somePeriod(t *rapid.T) SensorPeriod {
	return SensorPeriod{Sensor: rapid.SampledFrom(someSensors).Draw(t, "sensor"),
		Channel:  rapid.SampledFrom(someSensors).Draw(t, "channel"),
		Quantity: rapid.SampledFrom(someAmounts).Draw(t, "quantity"),
		Watches:  rapid.SampledFrom(append(someNames, someFixtures...)).Draw(t, "watches"),
		From:     someDay(t), To: someDay(t), Line: rapid.IntRange(1, 99).Draw(t, "line")}
}

func someEntry(t *rapid.T) Entry {
	e := Entry{At: someDay(t), What: rapid.SampledFrom(append(Whats, Move, Move)).Draw(t, "what"),
		Scope: rapid.SampledFrom(append(Scopes, "other")).Draw(t, "scope"),
		Value: rapid.SampledFrom(append(someNames, "sensor")).Draw(t, "value"), Number: 0.9, Until: someDay(t),
		Line: rapid.IntRange(1, 99).Draw(t, "line")}
	e.ID = rapid.SampledFrom(append(append(someNames, someFixtures...), someSensors...)).Draw(t, "id")
	return e
}

func someRegister(t *rapid.T) *Register {
	r := &Register{}
	r.Fixtures = rapid.SliceOfN(rapid.Custom(someFixture), 0, 8).Draw(t, "fixtures")
	r.Sensors = rapid.SliceOfN(rapid.Custom(somePeriod), 0, 12).Draw(t, "sensors")
	r.Logbook = rapid.SliceOfN(rapid.Custom(someEntry), 0, 14).Draw(t, "logbook")
	return r
}

func wantSame(t *rapid.T, what string, want, got any) {
	t.Helper()
	if d := cmp.Diff(want, got); d != "" {
		t.Fatalf("%s (-plain +index):\n%s", what, d)
	}
}

// askAll compares every answer about a fixture with the plain one.
func askAll(t *rapid.T, r *Register, f *Fixture) {
	p := plain{r}
	if p.Fixture(f.ID) != r.Fixture(f.ID) {
		t.Fatalf("fixture %q", f.ID)
	}
	wantSame(t, "events", p.Events(f), r.Events(f))
	wantSame(t, "lives", p.Lives(f), r.Lives(f))
	wantSame(t, "retired", p.Retired(f), r.Retired(f))
	wantSame(t, "set points", p.SetPoints(f), r.SetPoints(f))
	wantSame(t, "outages", p.Outages(f), r.Outages(f))
	for i := range r.Logbook {
		if e := &r.Logbook[i]; p.Covers(e, f) != r.Covers(e, f) {
			t.Fatalf("%+v covers %+v", e, f)
		}
	}
	for range 8 {
		at := someDay(t)
		wantSame(t, "place", p.PlaceAt(f, at), r.PlaceAt(f, at))
		for _, q := range someAmounts {
			if p.Watch(f, q, at) != r.Watch(f, q, at) {
				t.Fatalf("%s at %v: %+v, want %+v", q, at, r.Watch(f, q, at), p.Watch(f, q, at))
			}
		}
	}
	for _, s := range someSensors {
		wantSame(t, "calibrations", p.Calibrations(s), r.Calibrations(s))
		for _, c := range someSensors {
			wantSame(t, "known", p.Known(s, c), r.Known(s, c))
		}
	}
}

// askInOrder compares what asks for a sorted logbook.
func askInOrder(t *rapid.T, r *Register, f *Fixture) {
	p := plain{r}
	wantSame(t, "chain", p.Chain(f), r.Chain(f))
	changes := r.WatchChanges(f)
	if !slices.IsSortedFunc(changes, time.Time.Compare) {
		t.Fatalf("out of order: %v", changes)
	}
	now := 0
	for _, at := range p.WatchChanges(f) { // of all rows, whomever they watch
		for now+1 < len(changes) && !changes[now+1].After(at) {
			now++
		}
		for _, q := range someAmounts {
			if p.Watch(f, q, at) != p.Watch(f, q, changes[now]) {
				t.Fatalf("%s changes at %v, which is not among %v", q, at, changes)
			}
		}
	}
}

// The index answers as the tables read through do, also after rows were added,
// after Sort, and as of a day.
func TestTheIndexAnswersAsTheTablesDo(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := someRegister(t)
		strange := someFixture(t) // may be of no register
		every := func(r *Register, ask func(*rapid.T, *Register, *Fixture)) {
			for i := range r.Fixtures {
				ask(t, r, &r.Fixtures[i])
			}
			ask(t, r, &strange)
			for i := range r.Sensors {
				wantSame(t, "rows before", plain{r}.RowsBefore(i), r.RowsBefore(i))
			}
		}
		every(r, askAll)
		r.Sort()
		every(r, askAll)
		every(r, askInOrder)
		past := r.AsOf(someDay(t))
		every(past, askAll)
		every(past, askInOrder)
		r.Fixtures = append(r.Fixtures, someFixture(t))
		every(r, askAll)
		r.Sensors = append(r.Sensors, somePeriod(t))
		every(r, askAll)
		r.Logbook = append(r.Logbook, someEntry(t))
		every(r, askAll)
		r.Sort()
		every(r, askInOrder)
		r.Logbook = slices.Clone(r.Logbook)
		slices.Reverse(r.Logbook)
		every(r, askAll)
	})
}

func TestManyMayAskAtOnce(t *testing.T) {
	r := greatRegister(40)
	var wg sync.WaitGroup
	for range 4 {
		wg.Go(func() {
			for i := range r.Fixtures {
				f := &r.Fixtures[i]
				if len(r.Chain(f)) == 0 || r.Watch(f, PPFD, date("2023-01-01")) == nil || r.Fixture(f.ID) != f ||
					len(r.Lives(f)) == 0 {
					t.Error(f.ID)
				}
			}
		})
	}
	wg.Wait()
}

// greatRegister hangs twenty fixtures in a bay and ten bays in a room, each
// fixture under a sensor of its own that was exchanged once, with a relamp, a
// cleaning of the room twice a year and a recalibration of each logger a year.
func greatRegister(n int) *Register {
	r := &Register{}
	begun, changed := date("2021-01-01"), date("2023-06-01")
	for i := range n {
		id, room, logger := fmt.Sprintf("f%05d", i), fmt.Sprintf("room%03d", i/200), fmt.Sprintf("log%04d", i/20)
		r.Fixtures = append(r.Fixtures, Fixture{ID: id, Room: room, Bay: fmt.Sprintf("%s-%02d", room, i/20%10),
			Circuit: fmt.Sprintf("c%d", i/40), Installed: begun.AddDate(0, 0, i%30)})
		for k, from := range []time.Time{begun, changed} {
			p := SensorPeriod{Sensor: logger, Channel: fmt.Sprint(k*20 + i%20), Quantity: PPFD, Watches: id, From: from}
			if k == 0 {
				p.To = changed
			}
			r.Sensors = append(r.Sensors, p)
		}
		r.Logbook = append(r.Logbook, Entry{At: begun.AddDate(3, 0, i%300), What: Relamp, Scope: OfFixture, ID: id,
			Value: "lot-2"})
	}
	for k := range 10 {
		for i := 0; i < n; i += 200 {
			room := fmt.Sprintf("room%03d", i/200)
			if k == 0 {
				r.Sensors = append(r.Sensors, SensorPeriod{Sensor: room, Channel: "v", Quantity: SupplyV, Watches: room})
			}
			r.Logbook = append(r.Logbook, Entry{At: begun.AddDate(0, 6*k+3, 0), What: Clean, Scope: OfRoom, ID: room,
				Value: "all"})
		}
		for i := 0; i < n && k%2 == 0; i += 20 {
			r.Logbook = append(r.Logbook, Entry{At: begun.AddDate(0, 6*k, 9), What: Recalibrate, Scope: OfSensor,
				ID: fmt.Sprintf("log%04d", i/20), Number: 0.98})
		}
	}
	r.Sort()
	return r
}

// asker is what a Register and a plain one have in common.
type asker interface {
	Chain(*Fixture) []Epoch
	Watch(*Fixture, Quantity, time.Time) *SensorPeriod
	Events(*Fixture) []Entry
	Lives(*Fixture) []Life
}

// askFleet asks about fixtures as a night's forecast does, every nth of them.
func askFleet(a asker, r *Register, nth int) (answers int) {
	at := date("2024-06-01")
	for i := 0; i < len(r.Fixtures); i += nth {
		f := &r.Fixtures[i]
		answers += len(a.Chain(f)) + len(a.Events(f)) + len(a.Lives(f))
		for _, q := range Quantities {
			if a.Watch(f, q.Name, at) != nil {
				answers++
			}
		}
	}
	return answers
}

// BenchmarkRegister asks about all of 2,000 fixtures, the making of the index
// included. ratio is how many times as long the plain way takes, measured on
// every 200th fixture.
func BenchmarkRegister(b *testing.B) {
	const nth = 200
	r := greatRegister(2000)
	before := time.Now()
	want := askFleet(plain{r}, r, nth)
	slow := time.Since(before) * nth
	if got := askFleet(r, r, nth); got != want {
		b.Fatalf("%d answers, want %d", got, want)
	}
	b.ReportAllocs()
	for b.Loop() {
		r.Sort() // throws the index away
		askFleet(r, r, 1)
	}
	b.ReportMetric(float64(slow)/(float64(b.Elapsed())/float64(b.N)), "ratio")
}
