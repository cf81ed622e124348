package due

import (
	"math"
	"wane/transform/forecast"
)

// Line is one row of table due: the answer to when a lamp is due. What is not
// known, or not bounded, is NaN.
type Line struct {
	Fixture, LampType, Cohort        string
	LampLife                         int
	AsOf                             int32
	Threshold, RunHours              float64
	Level, LevelLo, LevelHi          float64
	DueHours, DueHoursLo, DueHoursHi float64
	DueDate, DueDateLo, DueDateHi    float64 // days since 1970-01-01, whole
	Interval                         float64
	Status                           forecast.Status
	Method, Reason                   string
}

// Lines gives the answers as rows, by fixture.
func (r *Result) Lines() []Line {
	out := make([]Line, len(r.Due))
	for i := range r.Due {
		d := &r.Due[i]
		an := &d.Answer
		l := Line{
			Fixture: d.Life.Fixture.ID, LampType: string(d.Life.LampType), Cohort: d.Life.Cohort, LampLife: d.Life.N,
			AsOf: d.AsOf, Threshold: d.Threshold, RunHours: d.Life.HoursNow(), Interval: d.Interval, Status: an.Status,
			Method: an.Level.Method, Reason: an.Reason,
			Level: finite(an.Level.Centre), LevelLo: finite(an.Level.Lo), LevelHi: finite(an.Level.Hi),
			DueHours: finite(an.DueHours.Centre), DueHoursLo: finite(an.DueHours.Lo), DueHoursHi: finite(an.DueHours.Hi),
			DueDate: dateOf(an.DueDay.Centre), DueDateLo: dateOf(an.DueDay.Lo), DueDateHi: dateOf(an.DueDay.Hi),
		}
		if l.Method == "" {
			l.Method = forecast.Method
		}
		out[i] = l
	}
	return out
}

func finite(x float64) float64 {
	if math.IsInf(x, 0) {
		return math.NaN()
	}
	return x
}

// dateOf is the whole day; none where it is farther off than any calendar that
// people keep.
func dateOf(day float64) float64 {
	if !(math.Abs(day) <= 1e6) {
		return math.NaN()
	}
	return math.Round(day)
}
