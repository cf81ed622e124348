package derive

import (
	"math"
	"slices"
	"sort"
	"sync"
	"time"

	"wane/ingest/archive"
	"wane/transform/estimate"
	"wane/transform/fleet"
	"wane/transform/hours"
	"wane/transform/level"
	"wane/transform/sensitivity"
)

// Life is one lamp life as it is known at the end of a day, with its hours and
// levels day by day: Totals, Days and Levels. A great fleet's lives have these
// from WithSeries only, and lives that were asked for without them, never.
type Life struct {
	fleet.Life
	Fixture    *fleet.Fixture
	Place      fleet.Place // on the day asked for
	Totals     []hours.Total
	Days       []level.Day // of the roll-up, with run-hours; days with no light included
	Levels     []level.Level
	Base       level.Result // baseline and reference voltage; its Levels are Levels
	Warnings   []string     // about the hours
	HungDay    int32        // when the fixture was hung, for its dirt
	FirstDay   int32        // of the life in the record
	LastDay    int32
	LastRead   int32 // last day with any reading of light; 0 = none
	Light      []string
	SensorLast string // sensor that read the light last
	RecordFrom int32  // first day of the record in this life; 0 = none
	Latest     bool   // no later lamp has been put into the fixture

	Chain     []fleet.Epoch     // the fixture's optical chain
	Supply    estimate.Estimate // % of light per % of voltage, from the site's own swings
	Ambient   estimate.Estimate // relative light per degree, the same
	Corrected level.Corrections // the coefficients that the levels were made with
	EnergyH   estimate.Estimate // run-hours a day by energy over rated power, a third witness

	lean   *lean             // set instead of the day-by-day series
	record *record           // and what they are made from again; nil: they are not
	swing  []sensitivity.Day // until the site's coefficients are estimated
	past   *settledLife      // what the days before those at hand came to; nil: there are none
	// stale says that the days at hand change those that past stands for.
	stale bool
}

// HoursNow is the life's run-hours at its last day.
func (l *Life) HoursNow() float64 {
	if t, ok := l.Total(); ok {
		return t.Hours
	}
	return l.StartHours
}

// Total is the run-hours at the life's last day, with what the witnesses allow;
// ok is false where it has no day.
func (l *Life) Total() (t hours.Total, ok bool) {
	switch {
	case l.lean != nil:
		return l.lean.total, l.lean.days
	case len(l.Totals) == 0:
		return t, false
	}
	return l.Totals[len(l.Totals)-1], true
}

// InService says whether the lamp hangs and has not failed.
func (l *Life) InService() bool { return l.End == "" }

// Dark says whether the lamp failed and nothing has replaced it.
func (l *Life) Dark() bool { return l.End == fleet.Fail && l.Latest }

// Lives makes every lamp life as of the end of the day asOf: nothing dated
// later is used. They are in order of fixture and life.
func Lives(a *archive.Archive, s Site, asOf int32) ([]*Life, *fleet.Register, error) {
	loc := s.Config.Location
	reg := s.Register.AsOf(endOf(asOf, loc))
	begun := map[string]int32{} // first day of each light sensor
	var out []*Life
	shared, sampled, great := meteredBy(reg), sample(byName(reg)), s.great(a)
	var records []*record
	type made struct {
		lives  []*Life
		begun  map[string]int32
		record *record
	}
	err := eachFixture(a, a.Parts(TableDaily), reg, asOf, nil, func(f *fleet.Fixture, rows []DailyRow) made {
		m := made{lives: livesOf(reg, f, nil, rows, s, asOf), begun: recordBegins(rows)}
		if great {
			m.record = &record{days: pack(rows), outages: reg.Outages(f), site: s, asOf: asOf}
		}
		for _, l := range m.lives {
			l.Chain, l.EnergyH = reg.Chain(f), energyHours(reg, shared, f, rows, l.FirstDay, l.LastDay)
			if sampled[f] {
				l.swing = l.swings()
			}
			if great {
				l.drop(s, asOf)
				l.record = m.record
			}
		}
		return m
	}, func(m made) {
		for sensor, day := range m.begun {
			if d, ok := begun[sensor]; !ok || day < d {
				begun[sensor] = day
			}
		}
		out = append(out, m.lives...)
		if m.record != nil {
			records = append(records, m.record)
		}
	})
	if err != nil {
		return nil, nil, err
	}
	gains := map[string]level.Gain{}
	for sensor, first := range begun {
		gains[sensor] = gainOf(reg, sensor, first, loc)
	}
	coefficients(out, s.Config.Corrections)
	for _, r := range records {
		r.gains = gains
	}
	each(len(out), func(i int) {
		l := out[i]
		if l.record == nil {
			l.addLevels(gains, s)
			return
		}
		l.Base = l.WithSeries().Base
		l.Base.Levels = nil
	})
	return out, reg, nil
}

// endOf is the last moment of a day.
func endOf(day int32, loc *time.Location) time.Time {
	return Start(day+1, loc).Add(-time.Microsecond)
}

// livesOf makes the lives of one fixture, with hours and days but no levels. The
// rows go on from what is settled of it; nil: they are all there are.
func livesOf(reg *fleet.Register, f *fleet.Fixture, past settledFixture, rows []DailyRow, s Site, asOf int32) []*Life {
	place := reg.PlaceAt(f, endOf(asOf, s.Config.Location))
	outages := reg.Outages(f)
	lives := reg.Lives(f)
	out := make([]*Life, len(lives))
	for k, fl := range lives {
		out[k] = lifeOf(f, fl, past, rows, outages, s, asOf)
		out[k].Place, out[k].Latest = place, k == len(lives)-1
	}
	return out
}

// recordBegins gives the first day of each light sensor in a fixture's rows.
func recordBegins(rows []DailyRow) map[string]int32 {
	begun := map[string]int32{}
	last := ""
	for i := range rows { // days are in order
		if s := rows[i].Sensor; s != last {
			last = s
			if _, ok := begun[s]; !ok && s != "" {
				begun[s] = rows[i].Day.Day
			}
		}
	}
	return begun
}

func gainOf(reg *fleet.Register, sensor string, first int32, loc *time.Location) level.Gain {
	var cals []level.Calibration
	for _, c := range reg.Calibrations(sensor) {
		cals = append(cals, level.Calibration{Day: DayOf(c.At, loc), AsFound: c.AsFound})
	}
	return level.NewGain(first, cals)
}

// lifeOf joins a lamp life with its share of the fixture's days. The day of a
// relamp belongs to neither lamp's level: it shows both.
func lifeOf(f *fleet.Fixture, fl fleet.Life, past settledFixture, rows []DailyRow, outages []fleet.Span, s Site, asOf int32) *Life {
	loc := s.Config.Location
	l := &Life{Life: fl, Fixture: f, LastDay: asOf, past: past.life(fl.N)}
	begun, read := past.begun(rows)
	if !fl.To.IsZero() {
		l.LastDay = min(asOf, DayOf(fl.To, loc)-1)
	}
	switch {
	case !fl.From.IsZero():
		l.FirstDay = DayOf(fl.From, loc)
	case read:
		l.FirstDay = begun
	default:
		l.FirstDay = l.LastDay
	}
	l.HungDay = l.FirstDay
	if !f.Installed.IsZero() {
		l.HungDay = DayOf(f.Installed, loc)
	} else if read {
		l.HungDay = begun
	}
	if l.LastDay < l.FirstDay {
		l.LastDay = l.FirstDay - 1
		return l
	}
	lo := sort.Search(len(rows), func(i int) bool { return rows[i].Day.Day >= l.FirstDay })
	hi := sort.Search(len(rows), func(i int) bool { return rows[i].Day.Day > l.LastDay })
	rows = rows[lo:hi]
	l.addHours(rows, outages, s)
	l.addDays(rows)
	return l
}

// dayRooms is memory for the days of one life at a time.
var dayRooms = sync.Pool{New: func() any { return new([]hours.Day) }}

func (l *Life) addHours(rows []DailyRow, outages []fleet.Span, s Site) {
	room := dayRooms.Get().(*[]hours.Day)
	defer dayRooms.Put(room)
	*room = l.witnessed((*room)[:0], rows, outages, l.LastDay, s.Config.Location)
	sum := l.sum()
	l.stale = !sum.Holds(*room)
	l.Totals, l.Warnings = sum.Add(*room, l.LastDay, l.habit(s))
	if l.past != nil {
		l.Totals = append([]hours.Total{sum.Total()}, l.Totals...)
	}
}

// sum is where the life's hours stand before the days at hand.
func (l *Life) sum() hours.Sum {
	if l.past != nil {
		return l.past.Sum
	}
	return hours.Begin(hours.Start{Hours: l.StartHours, Day: l.FirstDay, First: l.N == 1})
}

// habit is what the site declares of the room's photoperiod.
func (l *Life) habit(s Site) hours.Habit {
	if r, ok := s.Config.Rooms[l.Fixture.Room]; ok && r.Hours > 0 {
		return hours.Habit(r.Hours)
	}
	return hours.Habit(-1)
}

// witnessed appends what the days witnessed of burning, from the one after the
// sum's to last.
func (l *Life) witnessed(days []hours.Day, rows []DailyRow, outages []fleet.Span, last int32, loc *time.Location) []hours.Day {
	first := l.FirstDay
	if l.past != nil {
		first = l.past.Sum.Day + 1
	}
	days = slices.Grow(days, len(rows))
	for i := range rows {
		r := &rows[i]
		if r.Day.Day < first || r.Day.Day > last {
			continue
		}
		days = append(days, hours.Day{
			Day: r.Day.Day, Length: r.Hours, LitH: r.LitH, EdgeH: r.EdgeH, GapH: r.GapH,
			MeterAt: r.Counter.LastAt, Meter: r.Counter.Last, FirstAt: r.Counter.FirstAt, First: r.Counter.First,
		})
	}
	return withOutages(days, outages, first, last, loc)
}

// withOutages adds to each day the hours of its gap that were without power,
// making a row for a day of outage that nothing was read on.
func withOutages(days []hours.Day, outages []fleet.Span, first, last int32, loc *time.Location) []hours.Day {
	for _, o := range outages {
		for d := max(first, DayOf(o.From, loc)); d <= min(last, DayOf(o.To.Add(-time.Microsecond), loc)); d++ {
			from, to := Start(d, loc), Start(d+1, loc)
			length := to.Sub(from).Hours()
			dark := min(to.Unix(), o.To.Unix()) - max(from.Unix(), o.From.Unix())
			i := sort.Search(len(days), func(i int) bool { return days[i].Day >= d })
			if i == len(days) || days[i].Day != d {
				days = append(days, hours.Day{})
				copy(days[i+1:], days[i:])
				days[i] = hours.Day{Day: d, Length: length, GapH: length}
			}
			days[i].OutageH = min(days[i].GapH, days[i].OutageH+float64(dark)/3600)
		}
	}
	return days
}

func (l *Life) addDays(rows []DailyRow) {
	if l.past != nil {
		l.LastRead, l.SensorLast = l.past.LastRead, l.past.Sensor
	}
	used := map[string]bool{}
	l.Days = make([]level.Day, 0, len(rows))
	for i := range rows {
		r := &rows[i]
		if r.Readings > 0 {
			l.LastRead = r.Day.Day
			l.SensorLast = r.Sensor
			if !used[r.Sensor] {
				used[r.Sensor] = true
				l.Light = append(l.Light, r.Sensor)
			}
		}
		d := level.Day{
			Day: r.Day.Day, RunHours: l.hoursOn(r.Day.Day), PPFD: r.PPFD, Spread: r.Spread, Usable: r.Usable,
			DimPct: r.DimPct, SupplyV: r.SupplyV, AmbientC: r.AmbientC, Sensor: r.Sensor,
		}
		if r.Day.Day == l.FirstDay && l.N > 1 { // the old lamp burned on this day too
			d.PPFD = math.NaN()
		}
		l.Days = append(l.Days, d)
	}
}

// hoursOn gives the run-hours at the end of a day; every day from the first has
// its total.
func (l *Life) hoursOn(day int32) float64 {
	if len(l.Totals) == 0 || day < l.Totals[0].Day || int(day-l.Totals[0].Day) >= len(l.Totals) {
		return 0
	}
	return l.Totals[day-l.Totals[0].Day].Hours
}

// DayAt gives the roll-up of a day, nil where nothing spoke.
func (l *Life) DayAt(day int32) *level.Day {
	i := sort.Search(len(l.Days), func(i int) bool { return l.Days[i].Day >= day })
	if i == len(l.Days) || l.Days[i].Day != day {
		return nil
	}
	return &l.Days[i]
}

func (l *Life) addLevels(gains map[string]level.Gain, s Site) {
	l.Base = level.Of(l.Days, level.Life{LampType: l.LampType, Gear: l.Gear, RatedV: l.Fixture.RatedV, Gains: gains}, l.Corrected, s.Config.Baseline)
	l.Levels = l.Base.Levels
}
