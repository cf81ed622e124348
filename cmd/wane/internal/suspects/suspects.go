// Package suspects holds the latest readings of every series of the register
// against its own past and the rooms' programmes (transform/suspect), for check
// and for the nightly batch.
//
//  1. The readings of the last days come out of the archive sensor by sensor, so
//     that those of one instrument only are in memory (stream.go).
//  2. What they are held against is the daily roll-up of the weeks before
//     (past.go).
//
// A night costs the reading of two weeks, of which one or two sensors' are held.
package suspects

import (
	"runtime"
	"sync"
	"time"

	"wane/cmd/wane/internal/sitefolder"
	"wane/ingest/archive"
	"wane/ingest/reading"
	"wane/transform/calendar"
	"wane/transform/daily"
	"wane/transform/fleet"
	"wane/transform/suspect"
)

// Days is how many days of readings are looked at, unless more are asked for.
const Days = 14

// Find looks at the given days up to last, two weeks at a time counted from the
// last day back, and gives what was found, the latest weeks last.
func Find(a *archive.Archive, s sitefolder.Site, last int32, days int) ([]suspect.Finding, error) {
	var out []suspect.Finding
	for after := (int32(days) - 1) / Days * Days; after >= 0; after -= Days {
		end := last - after
		got, err := window(a, s, max(end-Days, last-int32(days))+1, end)
		if err != nil {
			return nil, err
		}
		out = append(out, got...)
	}
	return out, nil
}

// window looks at the days first to last.
func window(a *archive.Archive, s sitefolder.Site, first, last int32) ([]suspect.Finding, error) {
	loc := s.Config.Location
	var days []daily.Bound
	for d := first; d <= last; d++ {
		days = append(days, daily.Bound{Day: d, From: calendar.Start(d, loc).UnixMicro(),
			To: calendar.Start(d+1, loc).UnixMicro()})
	}
	rows := rowsAt(s, calendar.Start(last, loc).Add(12*time.Hour))
	if err := addPast(rows, a, s, first); err != nil {
		return nil, err
	}
	scan := suspect.NewScan(days, programmes(s), suspect.Defaults())
	var sensor suspect.Sensor
	var wg sync.WaitGroup
	free := make(chan struct{}, runtime.GOMAXPROCS(0)) // so many sensors are in memory besides the one being read
	flush := func() {
		if len(sensor.Channels) > 0 {
			whole := sensor
			free <- struct{}{}
			wg.Go(func() {
				scan.Add(&whole)
				<-free
			})
		}
		sensor = suspect.Sensor{}
	}
	err := eachSeries(a, days[0].From, days[len(days)-1].To, func(name reading.Series, t daily.Track) {
		r := rows[name]
		if r == nil {
			return
		}
		if name.Sensor != sensor.Name {
			flush()
			sensor.Name = name.Sensor
		}
		c := r.channel
		c.Track = r.scaled(t)
		sensor.Channels = append(sensor.Channels, c)
	})
	flush()
	wg.Wait()
	if err != nil {
		return nil, err
	}
	return scan.Findings(), nil
}

// row is a series of the register and what it is held against.
type row struct {
	period  *fleet.SensorPeriod
	channel suspect.Channel
}

// scaled gives the readings that the row speaks of, in its unit.
func (r *row) scaled(t daily.Track) daily.Track {
	lo := 0
	if from := r.period.From; !from.IsZero() {
		for lo < t.Len() && t.Time[lo] < from.UnixMicro() {
			lo++
		}
	}
	t.Time, t.Value = t.Time[lo:], t.Value[lo:]
	for i := range t.Value {
		t.Value[i] *= r.period.Factor
	}
	return t
}

// rowsAt gives the rows of the register that hold at a time.
func rowsAt(s sitefolder.Site, at time.Time) map[reading.Series]*row {
	out := map[reading.Series]*row{}
	for i := range s.Register.Sensors {
		p := &s.Register.Sensors[i]
		if !p.Holds(at) {
			continue
		}
		r := &row{period: p, channel: suspect.Channel{Name: p.Channel, Quantity: p.Quantity}}
		if f := anyWatched(s.Register, p.Watches, at); f != nil {
			r.channel.Room = s.Register.PlaceAt(f, at).Room
			r.channel.Daylight = s.Config.Rooms[r.channel.Room].Daylight
			if f.ID == p.Watches {
				r.channel.Touched = touched(s, f, p.Sensor)
			}
		}
		out[reading.Series{Sensor: p.Sensor, Channel: p.Channel}] = r
	}
	return out
}

// anyWatched gives the first fixture that a name stands for.
func anyWatched(r *fleet.Register, name string, at time.Time) *fleet.Fixture {
	if name == "" {
		return nil
	}
	if f := r.Fixture(name); f != nil {
		return f
	}
	for i := range r.Fixtures {
		if f := &r.Fixtures[i]; name == f.Bay || name == f.Circuit || name == f.Room {
			return f
		}
	}
	return nil
}

// touched gives the days on which the logbook has something about the fixture or
// its sensor.
func touched(s sitefolder.Site, f *fleet.Fixture, sensor string) []int32 {
	var out []int32
	for i := range s.Register.Logbook {
		e := &s.Register.Logbook[i]
		if e.Scope == fleet.OfSensor && e.ID == sensor || e.Scope != fleet.OfSensor && e.Scope != fleet.OfSite &&
			s.Register.Covers(e, f) {
			out = append(out, calendar.DayOf(e.At, s.Config.Location))
		}
	}
	return out
}

// programmes gives the rooms' lighting programmes.
func programmes(s sitefolder.Site) map[string]suspect.Room {
	out := map[string]suspect.Room{}
	for name, r := range s.Config.Rooms {
		on, err := time.Parse("15:04", r.On)
		if err != nil {
			continue // none declared
		}
		out[name] = suspect.Room{OnMinute: float64(60*on.Hour() + on.Minute()), Hours: r.Hours}
	}
	return out
}
