package derive

import (
	"math"
	"slices"
	"sort"
	"time"

	"wane/cmd/wane/internal/sitefolder"
	"wane/ingest/reading"
	"wane/transform/calendar"
	"wane/transform/daily"
	"wane/transform/fleet"
	"wane/transform/parallel"
)

// rollDays rolls the days, which are in order, up for the fixtures, on all
// cores; the rows are in order of fixture and day. Of a few days the run-in is
// read only where the readings since the day before are not enough.
func rollDays(t *tracks, s sitefolder.Site, fixtures []*fleet.Fixture, days []int32) ([]daily.Row, error) {
	loc := s.Config.Location
	first, end := calendar.Start(days[0], loc), calendar.Start(days[len(days)-1]+1, loc)
	since := calendar.Start(days[0]-runIn, loc)
	if len(days) <= runIn {
		since = first.Add(-daily.Near * time.Microsecond)
	}
	if err := t.load(since, first, end); err != nil {
		return nil, err
	}
	at := bounds(days, loc)
	out := make([][]daily.Row, len(fixtures))
	lacks := make([]wanted, len(fixtures))
	parallel.By(len(fixtures), func() func(i int) {
		r := &roller{t: t, s: s, known: since.UnixMicro()}
		return func(i int) { out[i], lacks[i] = r.fixture(fixtures[i], at) }
	})
	missing := wanted{}
	for _, l := range lacks {
		for name, wish := range l {
			missing.add(name, wish.before)
		}
	}
	if len(missing) > 0 {
		whole := newTracks(t.archive, t.reg, missing)
		since = calendar.Start(days[0]-runIn, loc)
		if err := whole.load(since, first, end); err != nil {
			return nil, err
		}
		parallel.By(len(fixtures), func() func(i int) {
			r := &roller{t: whole, s: s, known: since.UnixMicro()}
			return func(i int) {
				if lacks[i] != nil {
					out[i], _ = r.fixture(fixtures[i], at)
				}
			}
		})
	}
	return slices.Concat(out...), nil
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
	out := make(wanted, len(r.Sensors))
	for i := range r.Sensors {
		p := &r.Sensors[i]
		for _, w := range watched {
			if w.quantity == p.Quantity {
				out.add(reading.Series{Sensor: p.Sensor, Channel: p.Channel}, w.before)
			}
		}
	}
	return out
}

// watchers is what tells of a fixture on a day: the row of the register for
// each watched quantity, by noon, and whether daylight reaches its sensors
// where it hangs as the day begins.
type watchers struct {
	rows     [len(watched)]*fleet.SensorPeriod
	daylight bool
}

func watchersOf(s sitefolder.Site, f *fleet.Fixture, day daily.Bound) (out watchers) {
	noon := time.UnixMicro(day.From).Add(12 * time.Hour)
	for i, w := range watched {
		out.rows[i] = s.Register.Watch(f, w.quantity, noon)
	}
	out.daylight = s.Config.Rooms[s.Register.PlaceAt(f, time.UnixMicro(day.From)).Room].Daylight
	return out
}

// roller rolls up one fixture after the other, in memory that is used again.
type roller struct {
	t     *tracks
	s     sitefolder.Site
	known int64 // from when on readings are at hand
	in    [len(watched)]daily.Track
	days  daily.Roller
}

// fixture cuts the days where the fixture's watchers change and rolls each
// piece up with its own series. Where the readings before those at hand may
// change a row, lacks gives all of its series.
func (r *roller) fixture(f *fleet.Fixture, days []daily.Bound) (rows []daily.Row, lacks wanted) {
	lacking := false
	eachWatch(r.s, f, days, func(who *watchers, days []daily.Bound) {
		some, lack := r.piece(f, who, days)
		rows, lacking = append(rows, some...), lacking || lack
	})
	if lacking {
		lacks = wanted{}
		eachWatch(r.s, f, days, func(who *watchers, _ []daily.Bound) { who.series(lacks, r.t.wanted) })
	}
	return rows, lacks
}

// eachWatch cuts the days since the fixture was hung where its watchers change.
func eachWatch(s sitefolder.Site, f *fleet.Fixture, days []daily.Bound, do func(*watchers, []daily.Bound)) {
	if born := calendar.DayOf(f.Installed, s.Config.Location); !f.Installed.IsZero() {
		days = days[sort.Search(len(days), func(i int) bool { return days[i].Day >= born }):]
	}
	if len(days) == 0 {
		return // it was hung later
	}
	who, lo := watchersOf(s, f, days[0]), 0
	for _, i := range changes(s.Register.WatchChanges(f), days) {
		if next := watchersOf(s, f, days[i]); next != who {
			do(&who, days[lo:i])
			who, lo = next, i
		}
	}
	do(&who, days[lo:])
}

// series adds the watchers' series to those of out, as far back as from says.
func (w *watchers) series(out, from wanted) {
	for _, p := range w.rows {
		if p != nil {
			name := reading.Series{Sensor: p.Sensor, Channel: p.Channel}
			out.add(name, from[name].before)
		}
	}
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

// Where the quantities stand in watched of which readings far back may count.
const (
	atLight   = 0
	atPower   = 4
	atCurrent = 5
)

func (r *roller) piece(f *fleet.Fixture, who *watchers, days []daily.Bound) (rows []daily.Row, lacking bool) {
	back, to := reach{max(days[0].Since, r.known), days[0].From}, days[len(days)-1].To
	var conflicts []int64
	var light reading.Series
	for i := range r.in {
		in := &r.in[i]
		in.Time, in.Value = in.Time[:0], in.Value[:0]
		p := who.rows[i]
		if p == nil {
			continue
		}
		name := reading.Series{Sensor: p.Sensor, Channel: p.Channel}
		since := max(back.floor(watched[i].before),
			p.From.UnixMicro()) // the run-in is the same instrument under the same factor
		odd := r.t.span(in, name, since, to, p.Factor)
		if i == atLight {
			light, conflicts = name, odd
		}
	}
	in := daily.Input{
		LampType: f.LampType, Light: r.in[atLight], Supply: r.in[1], Ambient: r.in[2], Dim: r.in[3],
		Power: r.in[atPower], Current: r.in[atCurrent], Counter: r.in[6], Energy: r.in[7],
	}
	if who.daylight {
		in.Sky = &daily.Sky{Latitude: *r.s.Config.Latitude, Longitude: *r.s.Config.Longitude}
	}
	for _, p := range r.s.Register.SetPoints(f) {
		in.SetPoints = append(in.SetPoints, daily.SetPoint{At: p.At.UnixMicro(), Percent: p.Percent})
	}
	rolled, lacks := r.days.RollNear(in, days, r.known, r.s.Config.Gate)
	lacking = lacks.Light && who.rows[atLight] != nil || lacks.Power && who.rows[atPower] != nil || lacks.Current &&
		who.rows[atCurrent] != nil
	k := 0
	for _, d := range rolled {
		for days[k].Day < d.Day {
			k++
		}
		clo, chi := between(conflicts, days[k].From, days[k].To)
		rows = append(rows, daily.Row{Fixture: f.ID, Sensor: light.Sensor, Channel: light.Channel,
			Conflicting: chi - clo, Day: d})
	}
	return rows, lacking
}
