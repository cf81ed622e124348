package derive

import (
	"fmt"
	"math"

	"wane/cmd/wane/internal/sitefolder"
	"wane/ingest/archive"
	"wane/transform/due"
	"wane/transform/forecast"
)

// DueColumns lays lines out as table due has them.
func DueColumns(lines []due.Line) []archive.Column { return dueColumns(lines) }

// DueLines reads the rows of a table that has table due's columns, as it has itself.
func DueLines(a *archive.Archive, name string) ([]due.Line, error) {
	return (&tables{Archive: a}).dueLines(name)
}

// dueColumns lays lines out as schema/due.sql of package queries says.
func dueColumns(lines []due.Line) []archive.Column {
	t := &table{rows: len(lines)}
	number := func(name string, of func(*due.Line) float64) {
		t.maybe(name, func(i int) float64 { return of(&lines[i]) })
	}
	date := func(name string, of func(*due.Line) float64) {
		t.maybeWhole(name, archive.Date, func(i int) (int64, bool) {
			d := of(&lines[i])
			return int64(max(d, -1e6)), !math.IsNaN(d)
		})
	}
	t.text("fixture", func(i int) string { return lines[i].Fixture })
	t.whole("lamp_life", archive.Int64, func(i int) int64 { return int64(lines[i].LampLife) })
	t.text("lamp_type", func(i int) string { return lines[i].LampType })
	t.text("cohort", func(i int) string { return lines[i].Cohort })
	t.whole("as_of", archive.Date, func(i int) int64 { return int64(lines[i].AsOf) })
	t.number("threshold", func(i int) float64 { return lines[i].Threshold })
	t.number("run_hours", func(i int) float64 { return lines[i].RunHours })
	number("level", func(l *due.Line) float64 { return l.Level })
	number("level_lo", func(l *due.Line) float64 { return l.LevelLo })
	number("level_hi", func(l *due.Line) float64 { return l.LevelHi })
	number("due_hours", func(l *due.Line) float64 { return l.DueHours })
	number("due_hours_lo", func(l *due.Line) float64 { return l.DueHoursLo })
	number("due_hours_hi", func(l *due.Line) float64 { return l.DueHoursHi })
	date("due_date", func(l *due.Line) float64 { return l.DueDate })
	date("due_date_lo", func(l *due.Line) float64 { return l.DueDateLo })
	date("due_date_hi", func(l *due.Line) float64 { return l.DueDateHi })
	t.number("interval", func(i int) float64 { return lines[i].Interval })
	t.text("status", func(i int) string { return string(lines[i].Status) })
	t.text("method", func(i int) string { return lines[i].Method })
	t.text("reason", func(i int) string { return lines[i].Reason })
	return t.cols
}

// dueLines reads table due.
func (t *tables) dueLines(name string) ([]due.Line, error) {
	f, n, err := t.frame(name)
	if err != nil {
		return nil, err
	}
	date := func(name string, i int) float64 {
		if !there(f[name], i) {
			return math.NaN()
		}
		return float64(f.whole(name, i))
	}
	out := make([]due.Line, n)
	for i := range out {
		out[i] = due.Line{
			Fixture: f.text("fixture", i), LampLife: int(f.whole("lamp_life", i)), LampType: f.text("lamp_type",
				i), Cohort: f.text("cohort", i),
			AsOf: int32(f.whole("as_of", i)), Threshold: f.number("threshold", i), RunHours: f.number("run_hours", i),
			Level: f.number("level", i), LevelLo: f.number("level_lo", i), LevelHi: f.number("level_hi", i),
			DueHours: f.number("due_hours", i), DueHoursLo: f.number("due_hours_lo",
				i), DueHoursHi: f.number("due_hours_hi", i),
			DueDate: date("due_date", i), DueDateLo: date("due_date_lo", i), DueDateHi: date("due_date_hi", i),
			Interval: f.number("interval", i), Status: forecast.Status(f.text("status", i)), Method: f.text("method",
				i), Reason: f.text("reason", i),
		}
	}
	return out, nil
}

// Stored gives the answers that the night left, where the question is the one
// that it asked and nothing has changed since. ok is false where the lamps must
// be asked anew.
func Stored(a *archive.Archive, s sitefolder.Site, q due.Question) (lines []due.Line, ok bool, err error) {
	last, any := LastDay(a, s)
	own := (q.AsOf == 0 || q.AsOf == last) && (q.Interval == 0 || q.Interval == s.Config.Interval) && q.Threshold == 0
	if !any || !own || !isMade(a, s, last) || len(a.Parts(TableDue)) == 0 {
		return nil, false, nil
	}
	t := &tables{Archive: a, site: s}
	if lines, err = t.dueLines(TableDue); err != nil {
		return nil, false, fmt.Errorf("read stored answers: %w", err)
	}
	return lines, true, nil
}
