package derive

import (
	"math"
	"runtime"
	"slices"
	"sort"
	"sync"
	"sync/atomic"
	"time"

	"wane/ingest/reading"
	"wane/transform/daily"
	"wane/transform/fleet"
)

// DailyRow is one row of table daily.
type DailyRow struct {
	Fixture         string
	Sensor, Channel string // of the light
	Conflicting     int
	daily.Day
}

// rollDays rolls the days, which are in order, up for every fixture, on all
// cores; the rows are in order of fixture and day.
func rollDays(t *tracks, s Site, days []int32) []DailyRow {
	fixtures := byName(s.Register)
	at := bounds(days, s.Config.Location)
	out := make([][]DailyRow, len(fixtures))
	each(len(fixtures), func(i int) { out[i] = rollFixture(t, s, fixtures[i], at) })
	return slices.Concat(out...)
}

// byName gives the register's fixtures in order of their names, in which every
// table holds them.
func byName(r *fleet.Register) []*fleet.Fixture {
	out := make([]*fleet.Fixture, len(r.Fixtures))
	for i := range out {
		out[i] = &r.Fixtures[i]
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].ID < out[j].ID })
	return out
}

// each calls fn for 0 to n-1, on all cores; fn writes only what is its own.
func each(n int, fn func(i int)) {
	var wg sync.WaitGroup
	var next atomic.Int64
	for range min(n, runtime.GOMAXPROCS(0)) {
		wg.Go(func() {
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				fn(i)
			}
		})
	}
	wg.Wait()
}

// watched are the quantities that the roll-up reads, and how long before a day
// each can count for it.
var watched = [...]struct {
	quantity fleet.Quantity
	before   int64 // microseconds; all: the run-in
}{
	{fleet.PPFD, all}, {fleet.SupplyV, daily.Nearby}, {fleet.AmbientC, daily.Nearby}, {fleet.DimPct, daily.DimHolds},
	{fleet.PowerW, all}, {fleet.CurrentA, all}, {fleet.RunHours, 0}, {fleet.Energy, 0},
}

const all = math.MaxInt64 / 2

// wantedSeries gives the series of the register that the roll-up reads.
func wantedSeries(r *fleet.Register) wanted {
	out := wanted{}
	for i := range r.Sensors {
		p := &r.Sensors[i]
		for _, w := range watched {
			if w.quantity == p.Quantity {
				name := reading.Series{Sensor: p.Sensor, Channel: p.Channel}
				out[name] = max(out[name], w.before)
			}
		}
	}
	return out
}

// witnesses is what tells of a fixture on a day: the row of the register for
// each watched quantity, by noon, and whether daylight reaches its sensors
// where it hangs as the day begins.
type witnesses struct {
	rows     [len(watched)]*fleet.SensorPeriod
	daylight bool
}

func witnessesOf(s Site, f *fleet.Fixture, day daily.Bound) (out witnesses) {
	noon := time.UnixMicro(day.From).Add(12 * time.Hour)
	for i, w := range watched {
		out.rows[i] = s.Register.Watch(f, w.quantity, noon)
	}
	out.daylight = s.Config.Rooms[s.Register.PlaceAt(f, time.UnixMicro(day.From)).Room].Daylight
	return out
}

// rollFixture cuts the days where the fixture's witnesses change and rolls each
// piece up with its own series.
func rollFixture(t *tracks, s Site, f *fleet.Fixture, days []daily.Bound) []DailyRow {
	loc := s.Config.Location
	if born := DayOf(f.Installed, loc); !f.Installed.IsZero() {
		days = days[sort.Search(len(days), func(i int) bool { return days[i].Day >= born }):]
	}
	if len(days) == 0 {
		return nil // it was hung later
	}
	var rows []DailyRow
	who := witnessesOf(s, f, days[0])
	lo := 0
	for _, i := range changes(s.Register.WatchChanges(f), days) {
		if next := witnessesOf(s, f, days[i]); next != who {
			rows = append(rows, rollPiece(t, s, f, who, days[lo:i])...)
			who, lo = next, i
		}
	}
	return append(rows, rollPiece(t, s, f, who, days[lo:])...)
}

// changes gives, in order, the days after the first, as their index, on which
// something that changed at one of the moments may hold for the first time: the
// first day that begins at the moment or later, and the one whose noon does.
func changes(at []time.Time, days []daily.Bound) []int {
	var out []int
	for _, t := range at {
		for _, begun := range [...]int64{t.UnixMicro(), t.Add(-12 * time.Hour).UnixMicro()} {
			if i := sort.Search(len(days), func(i int) bool { return days[i].From >= begun }); i > 0 && i < len(days) {
				out = append(out, i)
			}
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

func rollPiece(t *tracks, s Site, f *fleet.Fixture, who witnesses, days []daily.Bound) []DailyRow {
	back, to := reach{days[0].Since, days[0].From}, days[len(days)-1].To
	in := daily.Input{LampType: f.LampType}
	if who.daylight {
		in.Sky = &daily.Sky{Latitude: *s.Config.Latitude, Longitude: *s.Config.Longitude}
	}
	var conflicts []int64
	var light reading.Series
	for i, into := range []*daily.Track{&in.Light, &in.Supply, &in.Ambient, &in.Dim, &in.Power, &in.Current, &in.Counter, &in.Energy} {
		p := who.rows[i]
		if p == nil {
			continue
		}
		name := reading.Series{Sensor: p.Sensor, Channel: p.Channel}
		since := max(back.floor(watched[i].before), p.From.UnixMicro()) // the run-in is the same instrument under the same factor
		track, odd := t.span(name, since, to, p.Factor)
		*into = track
		if watched[i].quantity == fleet.PPFD {
			light, conflicts = name, odd
		}
	}
	for _, p := range s.Register.SetPoints(f) {
		in.SetPoints = append(in.SetPoints, daily.SetPoint{At: p.At.UnixMicro(), Percent: p.Percent})
	}
	var rows []DailyRow
	k := 0
	for _, d := range daily.Roll(in, days, s.Config.Gate) {
		for days[k].Day < d.Day {
			k++
		}
		clo, chi := between(conflicts, days[k].From, days[k].To)
		rows = append(rows, DailyRow{Fixture: f.ID, Sensor: light.Sensor, Channel: light.Channel, Conflicting: chi - clo, Day: d})
	}
	return rows
}
