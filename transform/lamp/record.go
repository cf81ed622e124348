package lamp

import (
	"math"
	"slices"
	"sort"
	"time"
	"wane/transform/calendar"
	"wane/transform/daily"
	"wane/transform/fleet"
	"wane/transform/level"
	"wane/transform/robust"
	"wane/transform/sensitivity"
)

// Record is every lamp life of a site as it is known at the end of a day, made
// from the daily roll-up of one fixture after the other.
type Record struct {
	Lives    []*Life          // in order of fixture and life
	Register *fleet.Register  // as of the day
	Begun    map[string]int32 // first day of each light sensor
	Swings   [][]sensitivity.Day

	rules   Rules
	asOf    int32
	meters  metered
	sampled map[*fleet.Fixture]bool
}

// NewRecord begins a record as of the end of a day.
func NewRecord(reg *fleet.Register, rules Rules, asOf int32) *Record {
	r := &Record{Register: reg.AsOf(calendar.End(asOf, rules.Location)), Begun: map[string]int32{}, rules: rules,
		asOf: asOf}
	r.meters, r.sampled = meteredBy(r.Register), sample(r.Register.ByName())
	return r
}

// HasEnergy says whether the days' energy readings are asked for.
func (r *Record) HasEnergy() bool { return len(r.meters) > 0 }

// Share is one fixture's share of a record.
type Share struct {
	lives  []*Life
	begun  map[string]int32
	swings [][]sensitivity.Day
}

// Fixture gives the share of a fixture from its days, which are in order and are
// not kept. It may be called from several goroutines.
func (r *Record) Fixture(f *fleet.Fixture, rows []daily.Row) Share {
	out := Share{begun: recordBegins(rows)}
	lives, outages, read := r.Register.Lives(f), r.Register.Outages(f), r.Register.HoursReadByHand(f)
	place := r.Register.PlaceAt(f, calendar.End(r.asOf, r.rules.Location))
	for k, fl := range lives {
		first := int32(0)
		if len(rows) > 0 {
			first = rows[0].Day.Day
		}
		l := lifeAt(f, fl, first, len(rows) > 0, r.rules.Location, r.asOf)
		l.addRecord(rows, outages, read, r.rules)
		l.Place, l.Latest = place, k == len(lives)-1
		l.sun = l.sunlight(rows, r.rules)
		l.EnergyH = energyHours(r.Register, r.meters, f, rows, l.FirstDay, l.LastDay)
		l.Burned = addBurn(nil, l.Totals, habitFrom(r.asOf))
		var swing []sensitivity.Day
		if r.sampled[f] {
			swing = l.swings(rows)
		}
		out.lives, out.swings = append(out.lives, l), append(out.swings, swing)
	}
	return out
}

// Add takes the share of the next fixture in order of name, and gives its lives.
func (r *Record) Add(s Share) []*Life {
	for sensor, day := range s.begun {
		if d, ok := r.Begun[sensor]; !ok || day < d {
			r.Begun[sensor] = day
		}
	}
	for i, l := range s.lives {
		l.Key = int64(len(r.Lives)) + 1
		r.Lives, r.Swings = append(r.Lives, l), append(r.Swings, s.swings[i])
	}
	return s.lives
}

// recordBegins gives the first day of each light sensor in a fixture's rows.
func recordBegins(rows []daily.Row) map[string]int32 {
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

// lifeAt is a lamp life without what table daily says of it. begun is the first
// day of the fixture in it, if there is any.
func lifeAt(f *fleet.Fixture, fl fleet.Life, begun int32, read bool, loc *time.Location, asOf int32) *Life {
	l := &Life{Life: fl, Fixture: f, LastDay: asOf, BaseDays: BaseDays{Hours: math.NaN()}}
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
func (l *Life) addRecord(rows []daily.Row, outages []fleet.Span, read []fleet.HandRead, rules Rules) {
	if l.LastDay < l.FirstDay {
		return
	}
	lo := sort.Search(len(rows), func(i int) bool { return rows[i].Day.Day >= l.FirstDay })
	hi := sort.Search(len(rows), func(i int) bool { return rows[i].Day.Day > l.LastDay })
	rows = rows[lo:hi]
	l.addHours(rows, outages, read, rules)
	l.addLight(rows)
	l.addBase(rows, rules)
	if len(rows) > 0 {
		l.RecordFrom = rows[0].Day.Day
	}
}

// addLight notes who read the life's light, when last, and on which days it stood
// still.
func (l *Life) addLight(rows []daily.Row) {
	from := l.ReadFrom()
	for i := range rows {
		r := &rows[i]
		if i > 0 && rows[i-1].Day.Day == r.Day.Day-1 && r.Day.Day > from {
			v, before := atFullPower(r), atFullPower(&rows[i-1])
			if v == before { // NaN equals nothing
				l.Repeats = append(l.Repeats, r.Day.Day)
			}
		}
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

// atFullPower is a day's light as read, brought to full power; NaN: none. It is
// what view lit of package queries calls output_raw.
func atFullPower(r *daily.Row) float64 {
	if r.PPFD > 0 && r.DimPct > 0 {
		return r.PPFD / (r.DimPct / 100)
	}
	return math.NaN()
}

// addBase finds the days that the baseline rests on, the first with a level
// after the seasoning, and the voltage to which light is brought.
func (l *Life) addBase(rows []daily.Row, rules Rules) {
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
	season, from := l.SeasonHours(rules), l.ReadFrom()
	for i := range rows {
		r := &rows[i]
		if r.Day.Day < from || math.IsNaN(atFullPower(r)) || l.hoursOn(r.Day.Day) < season {
			continue
		}
		if l.BaseDays.N == 0 {
			l.BaseDays.From, l.BaseDays.Hours = r.Day.Day, l.hoursOn(r.Day.Day)
		}
		l.BaseDays.To = r.Day.Day
		if l.BaseDays.N++; l.BaseDays.N == rules.Baseline.Days {
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
