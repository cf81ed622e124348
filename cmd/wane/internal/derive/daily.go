package derive

import (
	"context"
	"fmt"
	"runtime"
	"sort"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"wane/ingest/archive"
	"wane/ingest/reading"
	"wane/transform/daily"
	"wane/transform/fleet"
)

// runIn is how many days before a month are read with it: a lamp burning over
// midnight is warm, and a slow logger's cadence shows. One more than a long
// weekend without light.
const runIn = 4

// Daily brings table daily up to what was taken in.
func Daily(ctx context.Context, l *archive.Lock, s Site) (*archive.Archive, error) {
	d, err := archive.Derive(l, TableDaily)
	if err != nil {
		return nil, err
	}
	a := d.Archive()
	wanted := map[reading.Series]bool{}
	for _, p := range s.Register.Sensors {
		wanted[reading.Series{Sensor: p.Sensor, Channel: p.Channel}] = true
	}
	first, last, any := extent(a, s.Config.Location)
	if !any {
		return d.Commit()
	}
	t := newTracks(a, s.Register, wanted)
	for m := first; m <= last; m++ {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if err := dailyMonth(d, t, s, m); err != nil {
			return nil, fmt.Errorf("roll up %s: %w", m, err)
		}
	}
	return d.Commit()
}

// extent gives the local months that readings fall in.
func extent(a *archive.Archive, loc *time.Location) (first, last month, any bool) {
	for _, p := range a.Parts(archive.Readings) {
		lo, hi := monthOf(p.First.In(loc)), monthOf(p.Last.In(loc))
		if !any || lo < first {
			first = lo
		}
		if !any || hi > last {
			last = hi
		}
		any = true
	}
	return first, last, any
}

func dailyMonth(d *archive.Derivation, t *tracks, s Site, m month) error {
	loc := s.Config.Location
	from, to := m.first(loc), (m + 1).first(loc)
	since := from.AddDate(0, 0, -runIn)
	utcFirst, utcLast := monthOf(since.UTC()), monthOf(to.Add(-time.Microsecond).UTC())
	partition := "month=" + m.String()
	key := archive.Key(partsOf(t.archive, utcFirst, utcLast), TableDaily, Version, partition, loc.String(),
		fmt.Sprintf("%+v", s.Config.Gate), sky(s), registerFacts(s.Register, to)+decisionFacts(s.Register, since, to))
	if d.Keep(TableDaily, partition, key) {
		return nil
	}
	if err := t.load(utcFirst, utcLast, since.UnixMicro()); err != nil {
		return err
	}
	rows := rollMonth(t, s, from, to)
	if len(rows) == 0 {
		return nil
	}
	_, err := d.Write(TableDaily, partition, key, dailyColumns(rows))
	return err
}

// sky is what the roll-up depends on in a greenhouse.
func sky(s Site) string {
	text := ""
	for name, r := range s.Config.Rooms {
		if r.Daylight {
			text += name + " "
		}
	}
	if text == "" {
		return ""
	}
	names := strings.Fields(text)
	sort.Strings(names)
	return fmt.Sprintf("%v at %v %v", names, *s.Config.Latitude, *s.Config.Longitude)
}

// registerFacts is all of the register that a month's roll-up depends on.
func registerFacts(r *fleet.Register, before time.Time) string {
	var b strings.Builder
	for _, f := range r.Fixtures {
		f.Line = 0
		fmt.Fprintf(&b, "%+v\n", f)
	}
	for _, p := range r.Sensors {
		if p.From.Before(before) {
			p.Line = 0
			fmt.Fprintf(&b, "%+v\n", p)
		}
	}
	for _, e := range r.Logbook {
		switch e.What {
		case fleet.Move, fleet.Dim, fleet.Install, fleet.Retire:
			if e.At.Before(before) {
				e.Line, e.Note = 0, ""
				fmt.Fprintf(&b, "%+v\n", e)
			}
		}
	}
	return b.String()
}

// decisionFacts is what was decided about readings of the month and its run-in;
// "" where nothing was.
func decisionFacts(r *fleet.Register, since, to time.Time) string {
	var b strings.Builder
	for _, d := range r.Decisions {
		if d.From.Before(to) && !d.To.Before(since) {
			d.Line = 0
			d.From, d.To = d.From.UTC(), d.To.UTC()
			fmt.Fprintf(&b, "%+v\n", d)
		}
	}
	return b.String()
}

// DailyRow is one row of table daily.
type DailyRow struct {
	Fixture         string
	Sensor, Channel string // of the light
	Conflicting     int
	daily.Day
}

// rollMonth rolls every fixture up, on both cores; the rows are in order of
// fixture and day.
func rollMonth(t *tracks, s Site, from, to time.Time) []DailyRow {
	fixtures := make([]*fleet.Fixture, len(s.Register.Fixtures))
	for i := range fixtures {
		fixtures[i] = &s.Register.Fixtures[i]
	}
	sort.Slice(fixtures, func(i, j int) bool { return fixtures[i].ID < fixtures[j].ID })
	out := make([][]DailyRow, len(fixtures))
	each(len(fixtures), func(i int) { out[i] = rollFixture(t, s, fixtures[i], from, to) })
	var rows []DailyRow
	for _, r := range out {
		rows = append(rows, r...)
	}
	return rows
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

// watched are the quantities that the roll-up reads.
var watched = [...]fleet.Quantity{fleet.PPFD, fleet.SupplyV, fleet.AmbientC, fleet.DimPct, fleet.PowerW, fleet.CurrentA, fleet.RunHours, fleet.Energy}

// rollFixture cuts the month where the fixture's sensors change and rolls each
// piece up with its own series.
func rollFixture(t *tracks, s Site, f *fleet.Fixture, from, to time.Time) []DailyRow {
	loc := s.Config.Location
	first, last := DayOf(from, loc), DayOf(to.Add(-time.Hour), loc)
	if born := DayOf(f.Installed, loc); !f.Installed.IsZero() && born > first {
		first = born
	}
	if first > last {
		return nil // it was hung later
	}
	cuts := []int32{first}
	for _, at := range s.Register.WatchChanges(f) {
		if d := DayOf(at.Add(12*time.Hour), loc); d > cuts[len(cuts)-1] && d <= last { // a day is its noon's
			cuts = append(cuts, d)
		}
	}
	cuts = append(cuts, last+1)
	var rows []DailyRow
	for i := 0; i+1 < len(cuts); {
		who := watchers(s.Register, f, Start(cuts[i], loc).Add(12*time.Hour))
		end := i + 1
		for end+1 < len(cuts) && watchers(s.Register, f, Start(cuts[end], loc).Add(12*time.Hour)) == who {
			end++
		}
		rows = append(rows, rollPiece(t, s, f, who, cuts[i], cuts[end]-1)...)
		i = end
	}
	return rows
}

// watchers is which row of the register tells of each watched quantity.
func watchers(r *fleet.Register, f *fleet.Fixture, at time.Time) (out [len(watched)]*fleet.SensorPeriod) {
	for i, q := range watched {
		out[i] = r.Watch(f, q, at)
	}
	return out
}

func rollPiece(t *tracks, s Site, f *fleet.Fixture, who [len(watched)]*fleet.SensorPeriod, lo, hi int32) []DailyRow {
	loc := s.Config.Location
	days := bounds(lo, hi, loc)
	from, to := Start(lo-runIn, loc).UnixMicro(), days[len(days)-1].To
	in := daily.Input{LampType: f.LampType}
	if s.Config.Rooms[s.Register.PlaceAt(f, Start(lo, loc)).Room].Daylight {
		in.Sky = &daily.Sky{Latitude: *s.Config.Latitude, Longitude: *s.Config.Longitude}
	}
	var conflicts []int64
	var light reading.Series
	for i, into := range []*daily.Track{&in.Light, &in.Supply, &in.Ambient, &in.Dim, &in.Power, &in.Current, &in.Counter, &in.Energy} {
		p := who[i]
		if p == nil {
			continue
		}
		name := reading.Series{Sensor: p.Sensor, Channel: p.Channel}
		since := max(from, p.From.UnixMicro()) // the run-in is the same instrument under the same factor
		if p.From.IsZero() {
			since = from
		}
		track, odd := t.span(name, since, to, p.Factor)
		*into = track
		if watched[i] == fleet.PPFD {
			light, conflicts = name, odd
		}
	}
	for _, p := range s.Register.SetPoints(f) {
		in.SetPoints = append(in.SetPoints, daily.SetPoint{At: p.At.UnixMicro(), Percent: p.Percent})
	}
	var rows []DailyRow
	for _, d := range daily.Roll(in, days, s.Config.Gate) {
		b := days[d.Day-lo]
		clo, chi := between(conflicts, b.From, b.To)
		rows = append(rows, DailyRow{Fixture: f.ID, Sensor: light.Sensor, Channel: light.Channel, Conflicting: chi - clo, Day: d})
	}
	return rows
}
