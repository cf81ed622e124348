package yearly

import (
	"math"
	"time"

	"wane/queries"
	"wane/transform/calendar"
	"wane/transform/fleet"
	"wane/transform/yearly"
)

// sameDay is how far the hours at the end of a life's first day may lie above
// those at its start: a day and an hour of changed clock.
const sameDay = 25

// lives gathers every lamp life up to the report's date.
func (g *gatherer) lives() error {
	rows, err := queries.LifeYears(g.ctx, g.db, calendar.Date(g.in.AsOf), calendar.Date(max(g.in.Record.First, 0)))
	if err != nil {
		return err
	}
	by := map[lifeKey][]*queries.LifeYearRow{}
	for i := range rows {
		k := lifeKey{rows[i].Fixture, int(rows[i].LampLife)}
		by[k] = append(by[k], &rows[i])
	}
	for _, f := range g.fixtures {
		events := g.reg.Events(f)
		lives := g.reg.Lives(f)
		for i, fl := range lives {
			l := g.life(f, fl, by[lifeKey{f.ID, fl.N}])
			at := g.end()
			if !fl.To.IsZero() {
				at = fl.To
			}
			l.Room = g.reg.PlaceAt(f, at).Room
			l.Threshold = g.threshold(l.Room, fl.LampType, l.Baseline)
			var next time.Time
			if i+1 < len(lives) {
				next = lives[i+1].From
			}
			g.ending(&l, fl, events, next)
			if t, path, ok := g.site.Config.Warranty.Terms(f.Model, fl.LampType); ok {
				l.Warranty = &yearly.Terms{Hours: t.Hours, Level: t.Level, Description: t.Description, Path: path}
				g.terms[lifeKey{f.ID, fl.N}] = l.Warranty
			}
			g.in.Lives = append(g.in.Lives, l)
		}
	}
	return nil
}

// life reads a life's hours off its calendar years.
func (g *gatherer) life(f *fleet.Fixture, fl fleet.Life, rows []*queries.LifeYearRow) yearly.Life {
	l := yearly.Life{
		Fixture: f.ID, N: fl.N, LampType: fl.LampType, Model: f.Model, Cohort: fl.Cohort, Gear: fl.Gear,
		Baseline: math.NaN(), Entry: fl.StartHours, Exit: fl.StartHours,
	}
	record := g.in.Record
	switch {
	case !fl.From.IsZero():
		l.Start = calendar.DayOf(fl.From, g.loc)
	case len(rows) > 0:
		l.Start = calendar.DayOf(rows[0].FirstDay, time.UTC)
	default:
		l.Start = record.First
	}
	l.End = g.in.AsOf
	if !fl.To.IsZero() {
		l.Left = calendar.DayOf(fl.To, g.loc)
		l.End = max(l.Start, l.Left-1)
	}
	l.Watched = !record.Empty() && l.End >= record.First
	if !l.Watched || len(rows) == 0 {
		return l
	}
	for _, r := range rows {
		if r.HoursUnseen.Valid {
			l.Entry = r.HoursUnseen.V
		}
		if r.Baseline.Valid {
			l.Baseline = r.Baseline.V
		}
	}
	for _, r := range rows {
		if r.HoursFirst.Valid {
			if r.HoursFirst.V-l.Entry > sameDay { // a meter's face, or a lamp that came burned
				l.Entry = r.HoursFirst.V
			}
			break
		}
	}
	at := l.Entry
	for _, r := range rows {
		from, to := max(calendar.DayOf(r.FirstDay, time.UTC), record.First), calendar.DayOf(r.LastDay, time.UTC)
		if to < from {
			continue
		}
		y := yearly.LifeYear{Year: int(r.Year), Hours: max(0, r.HoursLast-at), Days: int(to-from) + 1}
		y.Seen = min(y.Days, int(r.ByMeter+r.ByLit))
		at = max(at, r.HoursLast)
		l.Years = append(l.Years, y)
		l.Unsure = max(0, (r.HoursLastHi-r.HoursLastLo)/2)
	}
	l.Exit = at
	for _, r := range rows {
		if r.HoursLit.Valid { // a lamp whose light nobody reads has failed on the day of the logbook
			l.Unlit = min(max(0, at-r.HoursLit.V), at-l.Entry)
		}
	}
	if n := len(l.Years); n > 0 {
		l.HoursPerDay = l.Years[n-1].Hours / float64(l.Years[n-1].Days)
		if n > 1 && l.Years[n-1].Days < 60 { // too short a stretch for a habit
			l.HoursPerDay = (l.Years[n-1].Hours + l.Years[n-2].Hours) / float64(l.Years[n-1].Days+l.Years[n-2].Days)
		}
	}
	return l
}

// ending adds how the life ended, and for how long its place stayed dark.
func (g *gatherer) ending(l *yearly.Life, fl fleet.Life, events []fleet.Entry, next time.Time) {
	l.Ended = fl.End
	if fl.End != fleet.Fail {
		return
	}
	until := g.in.AsOf + 1
	if !next.IsZero() {
		until = calendar.DayOf(next, g.loc)
	}
	for _, e := range events {
		if e.What == fleet.Fail && e.At.Equal(fl.To) {
			l.Mode = e.Value
		}
		if e.What == fleet.Retire && e.At.After(fl.To) {
			until = min(until, calendar.DayOf(e.At, g.loc))
		}
	}
	l.Dark = until - l.Left
	from, to := max(l.Left, g.in.First), min(until-1, g.in.AsOf)
	l.DarkInYear = max(0, to-from+1)
}

// threshold is the level at which a lamp is due; an absolute PPFD is turned
// into one by the lamp's own baseline.
func (g *gatherer) threshold(room string, t fleet.LampType, baseline float64) float64 {
	th := g.site.Config.Thresholds.Of(room, t)
	switch {
	case th.PPFD == 0:
		return th.Level
	case !(baseline > 0):
		return g.site.Config.Thresholds.Default
	}
	return min(max(th.PPFD/baseline, 0.01), 0.999)
}
