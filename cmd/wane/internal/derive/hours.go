package derive

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"wane/cmd/wane/internal/sitefolder"
	"wane/ingest/archive"
	"wane/transform/calendar"
	"wane/transform/fleet"
	"wane/transform/hours"
	"wane/transform/lamp"
	"wane/transform/parallel"
)

// hourTable is table hours in the making. Its parts are those of table daily, and
// of the months before them in which lamps burned already. Only the rows of
// parts that must be written are held.
type hourTable struct {
	d     *archive.Derivation
	key   func(span) string
	byDay calendar.Month // the month that has a part a day
	asOf  int32
	parts map[int32]*hourPart // by their first day
	spans map[calendar.Month][]span
	lives []lampLife

	fixtures int
}

// hourPart is a part's rows, in order of life and day.
type hourPart struct {
	span
	kept     bool
	life     []int32 // index in the lives
	day      []int32
	total    [3][]float64 // hours, lo, hi
	evidence []uint8
	repeats  []bool
	disagree []float64
}

// lampLife names a lamp life.
type lampLife struct {
	fixture string
	n       int
}

// evidences are the kinds of evidence, by the number that a row holds of its own.
var evidences = []hours.Method{hours.ByMeter, hours.ByLit, hours.ByHabit, hours.ByOutage}

// newHourTable begins table hours as of a day. A part is made from the days of
// its own and of those before; where hour meters are read, also from those after:
// what a face advanced is shared by the days since it was read last.
func newHourTable(d *archive.Derivation, daily []archive.Part, s sitefolder.Site, asOf int32) *hourTable {
	t := &hourTable{d: d, asOf: asOf, parts: map[int32]*hourPart{},
		spans: map[calendar.Month][]span{}, byDay: math.MinInt32, fixtures: len(s.Register.Fixtures)}
	if n := len(daily); n > 0 {
		if p, ok := spanOf(daily[n-1]); ok && p.first == p.last {
			t.byDay = calendar.MonthOf(calendar.Date(p.first))
		}
	}
	metered := metersRead(s.Register)
	chain, loc := chainOf(s.Register, toldOfHours), s.Config.Location
	t.key = func(p span) string {
		to := min(p.last, asOf)
		if metered {
			to = asOf
		}
		n := slices.IndexFunc(daily, func(q archive.Part) bool { s, ok := spanOf(q); return ok && s.first > to })
		if n < 0 {
			n = len(daily)
		}
		return archive.Key(daily[:n], TableHours, Version, s.Config.Zone, fmt.Sprint(to, s.Config.Rooms),
			fmt.Sprintf("%x", chain.before(calendar.Start(to+1, loc))))
	}
	return t
}

// add takes the hours of the next life. Of one whose beginning nobody knows they
// are not known either.
func (t *hourTable) add(l *lamp.Life) {
	t.lives = append(t.lives, lampLife{l.Fixture.ID, l.N})
	if l.From.IsZero() && l.RecordFrom == 0 {
		return
	}
	k := int32(len(t.lives) - 1)
	var p *hourPart
	repeats := l.Repeats
	for i := range l.Totals {
		x := &l.Totals[i]
		repeated := len(repeats) > 0 && repeats[0] == x.Day
		if repeated {
			repeats = repeats[1:]
		}
		if p == nil || !p.holds(x.Day) {
			p = t.partOf(x.Day)
		}
		if !p.kept {
			p.add(k, x, repeated)
		}
	}
}

func (t *hourTable) partOf(day int32) *hourPart {
	m := calendar.MonthOf(calendar.Date(day))
	spans, ok := t.spans[m]
	if !ok {
		spans = spansOf(m, m == t.byDay)
		t.spans[m] = spans
	}
	for _, s := range spans {
		if !s.holds(day) {
			continue
		}
		p := t.parts[s.first]
		if p == nil {
			s.key = t.key(s)
			p = &hourPart{span: s, kept: t.d.Keep(TableHours, s.partition, s.key)}
			if !p.kept {
				p.room(t.fixtures * len(s.days()))
			}
			t.parts[s.first] = p
		}
		return p
	}
	panic(fmt.Sprintf("day %d lies in no month", day))
}

// room makes room for so many rows at once: all parts of a great site are held
// while they fill, and slices that grow would take half as much again.
func (p *hourPart) room(rows int) {
	p.life, p.day = make([]int32, 0, rows), make([]int32, 0, rows)
	p.evidence, p.repeats = make([]uint8, 0, rows), make([]bool, 0, rows)
	for i := range p.total {
		p.total[i] = make([]float64, 0, rows)
	}
}

func (p *hourPart) add(life int32, x *hours.Total, repeated bool) {
	p.life, p.day = append(p.life, life), append(p.day, x.Day)
	for i, v := range [...]float64{x.Hours, x.Lo, x.Hi} {
		p.total[i] = append(p.total[i], v)
	}
	p.evidence, p.repeats = append(p.evidence, uint8(slices.Index(evidences, x.Method))), append(p.repeats, repeated)
	if p.disagree == nil && !math.IsNaN(x.Disagree) {
		p.disagree = slices.Repeat([]float64{math.NaN()}, len(p.day)-1)
	}
	if p.disagree != nil {
		p.disagree = append(p.disagree, x.Disagree)
	}
}

// write writes the parts that are not there yet.
func (t *hourTable) write() error {
	parts := t.inOrder()
	errs := make([]error, len(parts))
	parallel.For(len(parts), func(i int) {
		p := parts[i]
		if p.kept {
			return
		}
		if _, err := t.d.Write(TableHours, p.partition, p.key, p.columns(t.lives)); err != nil {
			errs[i] = fmt.Errorf("write hours of %s: %w", p.partition, err)
		}
		*p = hourPart{span: p.span} // its memory
	})
	return errors.Join(errs...)
}

func (t *hourTable) inOrder() []*hourPart {
	var out []*hourPart
	for _, p := range t.parts {
		out = append(out, p)
	}
	slices.SortFunc(out, func(a, b *hourPart) int { return int(a.first - b.first) })
	return out
}

// columns lays the rows out as schema/hours.sql of package queries says.
func (p *hourPart) columns(lives []lampLife) []archive.Column {
	t := &table{rows: len(p.day)}
	t.text("fixture", func(i int) string { return lives[p.life[i]].fixture })
	t.whole("lamp_life", archive.Int64, func(i int) int64 { return int64(lives[p.life[i]].n) })
	t.whole("day", archive.Date, func(i int) int64 { return int64(p.day[i]) })
	for k, name := range [...]string{"run_hours", "run_hours_lo", "run_hours_hi"} {
		t.cols = append(t.cols, archive.Column{Name: name, Type: archive.Float64, Float: p.total[k]})
	}
	t.text("witness", func(i int) string { return string(evidences[p.evidence[i]]) })
	t.cols = append(t.cols, archive.Column{Name: "repeats", Type: archive.Bool, Flag: p.repeats})
	t.maybe("disagree", func(i int) float64 {
		if p.disagree == nil {
			return math.NaN()
		}
		return p.disagree[i]
	})
	return t.cols
}

// metersRead says whether the register has an hour meter.
func metersRead(reg *fleet.Register) bool {
	return slices.ContainsFunc(reg.Sensors, func(p fleet.SensorPeriod) bool { return p.Quantity == fleet.RunHours }) ||
		slices.ContainsFunc(reg.Logbook, func(e fleet.Entry) bool { return e.What == fleet.HoursRead })
}
