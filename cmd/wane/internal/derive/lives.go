package derive

import (
	"math"
	"slices"
	"sort"
	"time"

	"wane/ingest/archive"
	"wane/transform/calendar"
	"wane/transform/estimate"
	"wane/transform/fleet"
	"wane/transform/forecast"
	"wane/transform/hours"
	"wane/transform/level"
	"wane/transform/robust"
	"wane/transform/sensitivity"
)

// Life is one lamp life as it is known at the end of a day: a row of table lives.
// Its hours and levels day by day, Totals, Days and Levels, come from WithSeries.
type Life struct {
	fleet.Life
	Key        int64 // of table lives
	Fixture    *fleet.Fixture
	Place      fleet.Place // on the day asked for
	Totals     []hours.Total
	Days       []level.Day // of the roll-up, with run-hours; days with no light included
	Levels     []level.Level
	Base       level.Result // baseline and reference voltage; its Levels are not set
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

	Weeks  []forecast.Block // of table weeks
	Burned []monthBurn      // of table burning
	total  hours.Total      // at the last day
	first  baseDays
	shelf  *shelf // where the series are; nil: they are at hand
}

// baseDays is the days that a life's baseline rests on.
type baseDays struct {
	from, to int32
	n        int
	hours    float64 // run-hours on the first; NaN: none
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
	if n := len(l.Totals); n > 0 {
		return l.Totals[n-1], true
	}
	return l.total, l.total.Day != 0
}

// InService says whether the lamp hangs and has not failed.
func (l *Life) InService() bool { return l.End == "" }

// Dark says whether the lamp failed and nothing has replaced it.
func (l *Life) Dark() bool { return l.End == fleet.Fail && l.Latest }

// readFrom is the first day whose light is this lamp's alone: on the day of a
// relamp the old one burned too.
func (l *Life) readFrom() int32 {
	if l.N > 1 {
		return l.FirstDay + 1
	}
	return l.FirstDay
}

// seasonHours is how long the lamp burns before there is a level.
func (l *Life) seasonHours(s Site) float64 {
	if l.LampType.Discharge() {
		return s.Config.Baseline.SeasoningHours
	}
	return 0
}

// lifeAt is a lamp life without what table daily says of it. begun is the first
// day of the fixture in it, if there is any.
func lifeAt(f *fleet.Fixture, fl fleet.Life, begun int32, read bool, loc *time.Location, asOf int32) *Life {
	l := &Life{Life: fl, Fixture: f, LastDay: asOf, first: baseDays{hours: math.NaN()}}
	if !fl.To.IsZero() {
		l.LastDay = min(asOf, calendar.DayOf(fl.To, loc)-1)
	}
	switch {
	case !fl.From.IsZero():
		l.FirstDay = calendar.DayOf(fl.From, loc)
	case read:
		l.FirstDay = begun
	default:
		l.FirstDay = l.LastDay
	}
	l.HungDay = l.FirstDay
	if !f.Installed.IsZero() {
		l.HungDay = calendar.DayOf(f.Installed, loc)
	} else if read {
		l.HungDay = begun
	}
	if l.LastDay < l.FirstDay {
		l.LastDay = l.FirstDay - 1
	}
	return l
}

// addRecord joins a lamp life with its share of the fixture's days; its hours
// day by day are in Totals.
func (l *Life) addRecord(rows []DailyRow, outages []fleet.Span, read []fleet.HandRead, s Site) {
	if l.LastDay < l.FirstDay {
		return
	}
	lo := sort.Search(len(rows), func(i int) bool { return rows[i].Day.Day >= l.FirstDay })
	hi := sort.Search(len(rows), func(i int) bool { return rows[i].Day.Day > l.LastDay })
	rows = rows[lo:hi]
	l.addHours(rows, outages, read, s)
	l.addLight(rows)
	l.addBase(rows, s)
	if len(rows) > 0 {
		l.RecordFrom = rows[0].Day.Day
	}
}

func (l *Life) addHours(rows []DailyRow, outages []fleet.Span, read []fleet.HandRead, s Site) {
	start := hours.Start{Hours: l.StartHours, Day: l.FirstDay, First: l.N == 1}
	loc := s.Config.Location
	days := withReadByHand(l.evidence(rows, outages, loc), read, l.FirstDay, l.LastDay, loc)
	l.Totals, l.Warnings = hours.Add(days, start, l.LastDay, l.habit(s))
	if n := len(l.Totals); n > 0 {
		l.total = l.Totals[n-1]
	}
}

// habit is what the site declares of the room's photoperiod.
func (l *Life) habit(s Site) hours.Habit {
	if r, ok := s.Config.Rooms[l.Fixture.Room]; ok && r.Hours > 0 {
		return hours.Habit(r.Hours)
	}
	return hours.Habit(-1)
}

// evidence is what the days say of burning.
func (l *Life) evidence(rows []DailyRow, outages []fleet.Span, loc *time.Location) []hours.Day {
	days := make([]hours.Day, 0, len(rows))
	for i := range rows {
		r := &rows[i]
		days = append(days, hours.Day{
			Day: r.Day.Day, Length: r.Hours, LitH: r.LitH, EdgeH: r.EdgeH, GapH: r.GapH,
			MeterAt: r.Counter.LastAt, Meter: r.Counter.Last, FirstAt: r.Counter.FirstAt, First: r.Counter.First,
		})
	}
	return withOutages(days, outages, l.FirstDay, l.LastDay, loc)
}

// withReadByHand adds the meter readings that the logbook holds, making a row for
// a day that nothing else was read on. A logger's own reading of the day stays.
func withReadByHand(days []hours.Day, read []fleet.HandRead, first, last int32, loc *time.Location) []hours.Day {
	for _, r := range read {
		d := calendar.DayOf(r.At, loc)
		if d < first || d > last {
			continue
		}
		i := sort.Search(len(days), func(i int) bool { return days[i].Day >= d })
		if i == len(days) || days[i].Day != d {
			length := calendar.Start(d+1, loc).Sub(calendar.Start(d, loc)).Hours()
			days = slices.Insert(days, i, hours.Day{Day: d, Length: length, GapH: length})
		}
		if days[i].MeterAt == 0 {
			at := r.At.UnixMicro()
			days[i].MeterAt, days[i].Meter, days[i].FirstAt, days[i].First = at, r.Hours, at, r.Hours
		}
	}
	return days
}

// withOutages adds to each day the hours of its gap that were without power,
// making a row for a day of outage that nothing was read on.
func withOutages(days []hours.Day, outages []fleet.Span, first, last int32, loc *time.Location) []hours.Day {
	for _, o := range outages {
		for d := max(first, calendar.DayOf(o.From, loc)); d <= min(last, calendar.DayOf(o.To.Add(-time.Microsecond), loc)); d++ {
			from, to := calendar.Start(d, loc), calendar.Start(d+1, loc)
			length := to.Sub(from).Hours()
			dark := min(to.Unix(), o.To.Unix()) - max(from.Unix(), o.From.Unix())
			i := sort.Search(len(days), func(i int) bool { return days[i].Day >= d })
			if i == len(days) || days[i].Day != d {
				days = slices.Insert(days, i, hours.Day{Day: d, Length: length, GapH: length})
			}
			days[i].OutageH = min(days[i].GapH, days[i].OutageH+float64(dark)/3600)
		}
	}
	return days
}

// addLight notes who read the life's light, and when last.
func (l *Life) addLight(rows []DailyRow) {
	for i := range rows {
		r := &rows[i]
		if r.Readings == 0 {
			continue
		}
		l.LastRead = r.Day.Day
		if r.Sensor != l.SensorLast {
			l.SensorLast = r.Sensor
			if !slices.Contains(l.Light, r.Sensor) {
				l.Light = append(l.Light, r.Sensor)
			}
		}
	}
}

// addBase finds the days that the baseline rests on, the first with a level
// after the seasoning, and the voltage to which light is brought.
func (l *Life) addBase(rows []DailyRow, s Site) {
	l.Base.ReferenceV = l.Fixture.RatedV
	if l.Base.ReferenceV <= 0 {
		var v []float64
		for i := range rows {
			if rows[i].SupplyV > 0 && len(v) < level.ReferenceDays {
				v = append(v, rows[i].SupplyV)
			}
		}
		l.Base.ReferenceV = robust.Median(v)
	}
	season, from := l.seasonHours(s), l.readFrom()
	for i := range rows {
		r := &rows[i]
		if r.Day.Day < from || !(r.PPFD > 0 && r.DimPct > 0) || l.hoursOn(r.Day.Day) < season {
			continue
		}
		if l.first.n == 0 {
			l.first.from, l.first.hours = r.Day.Day, l.hoursOn(r.Day.Day)
		}
		l.first.to = r.Day.Day
		if l.first.n++; l.first.n == s.Config.Baseline.Days {
			break
		}
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

// swings gives days as the estimation of the coefficients takes them: undimmed,
// since a dimmed lamp answers the voltage by its driver.
func (l *Life) swings(rows []DailyRow) []sensitivity.Day {
	var out []sensitivity.Day
	from := l.readFrom()
	for i := range rows {
		d := &rows[i]
		if d.Day.Day < from || d.Day.Day > l.LastDay || !(d.PPFD > 0) || d.DimPct != 100 {
			continue
		}
		out = append(out, sensitivity.Day{Day: d.Day.Day, Out: math.Log(d.PPFD), Supply: math.Log(d.SupplyV),
			Ambient: d.AmbientC})
	}
	return out
}

// record is what the pass over table daily gives.
type record struct {
	lives []*Life
	reg   *fleet.Register  // as of the day
	begun map[string]int32 // first day of each light sensor
	swing [][]sensitivity.Day
}

// readRecord goes through table daily once: every lamp life as of the end of the
// day asOf, in order of fixture and life. keep takes the hours of each.
func readRecord(a *archive.Archive, s Site, asOf int32, keep func(*Life)) (*record, error) {
	loc := s.Config.Location
	out := &record{reg: s.Register.AsOf(calendar.End(asOf, loc)), begun: map[string]int32{}}
	meters, sampled := meteredBy(out.reg), sample(byName(out.reg))
	columns := lifeColumns
	if len(meters) > 0 {
		columns = append(slices.Clone(columns), "energy_first", "energy_last")
	}
	type made struct {
		lives []*Life
		begun map[string]int32
		swing [][]sensitivity.Day
	}
	err := eachFixture(a, partsWithin(a, TableDaily, math.MinInt32, asOf), out.reg, asOf, columns,
		func(f *fleet.Fixture, rows []DailyRow) made {
			m := made{begun: recordBegins(rows)}
			place, outages, lives, read := out.reg.PlaceAt(f, calendar.End(asOf,
				loc)), out.reg.Outages(f), out.reg.Lives(f), out.reg.HoursReadByHand(f)
			for k, fl := range lives {
				first := int32(0)
				if len(rows) > 0 {
					first = rows[0].Day.Day
				}
				l := lifeAt(f, fl, first, len(rows) > 0, loc, asOf)
				l.addRecord(rows, outages, read, s)
				l.Place, l.Latest = place, k == len(lives)-1
				l.EnergyH = energyHours(out.reg, meters, f, rows, l.FirstDay, l.LastDay)
				l.Burned = addBurn(nil, l.Totals, habitFrom(asOf))
				var swing []sensitivity.Day
				if sampled[f] {
					swing = l.swings(rows)
				}
				m.lives, m.swing = append(m.lives, l), append(m.swing, swing)
			}
			return m
		}, func(m made) {
			for sensor, day := range m.begun {
				if d, ok := out.begun[sensor]; !ok || day < d {
					out.begun[sensor] = day
				}
			}
			for k, l := range m.lives {
				l.Key = int64(len(out.lives)) + 1
				keep(l)
				l.Totals = nil
				out.lives, out.swing = append(out.lives, l), append(out.swing, m.swing[k])
			}
		})
	return out, err
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

// manyLamps is of how many fixtures of a kind the coefficients are estimated at
// most, taken evenly: their interval rests on the number of fortnights, and
// hardly on that of lamps.
const manyLamps = 500

// sample tells of which fixtures the days go into the site's own coefficients.
func sample(fixtures []*fleet.Fixture) map[*fleet.Fixture]bool {
	byGear, byType := map[fleet.Gear]int{}, map[fleet.LampType]int{}
	for _, f := range fixtures {
		byGear[f.Gear]++
		byType[f.LampType]++
	}
	every := func(n int) int { return (n + manyLamps - 1) / manyLamps }
	gear, typ := map[fleet.Gear]int{}, map[fleet.LampType]int{}
	out := map[*fleet.Fixture]bool{}
	for _, f := range fixtures {
		if gear[f.Gear]%every(byGear[f.Gear]) == 0 || typ[f.LampType]%every(byType[f.LampType]) == 0 {
			out[f] = true
		}
		gear[f.Gear]++
		typ[f.LampType]++
	}
	return out
}
