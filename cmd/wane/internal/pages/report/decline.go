package report

import (
	"math"
	"slices"
	"sort"

	"wane/cmd/wane/internal/pages/chart"
	"wane/transform/estimate"
	"wane/transform/lamp"
	"wane/transform/robust"
)

// week is a week of a lamp life: medians of its days.
type week struct {
	First      int32 // first day with a level
	Hours      float64
	Level, Raw float64
	Lo, Hi     float64 // least and greatest daily level
	N          int     // days with a level
}

// weeks gives the weekly medians of a lamp life's levels. Weeks are counted
// from 1970-01-01, so that another day's report cuts them at the same place.
func weeks(l *lamp.Life) []week {
	var out []week
	var hours, level, raw []float64
	close := func(first int32) {
		if len(level) > 0 {
			out = append(out, week{first, robust.Median(hours), robust.Median(level), robust.Median(raw), slices.Min(level),
				slices.Max(level), len(level)})
		}
		hours, level, raw = nil, nil, nil
	}
	var first int32
	at := int32(math.MinInt32)
	for i := range l.Levels {
		d := &l.Levels[i]
		if !estimate.Finite(d.Level) || !estimate.Finite(d.LevelRaw) {
			continue
		}
		if w := floorDiv(d.Day, 7); w != at {
			close(first)
			at, first = w, d.Day
		}
		hours, level, raw = append(hours, d.RunHours), append(level, d.Level), append(raw, d.LevelRaw)
	}
	close(first)
	return out
}

func floorDiv(a, b int32) int32 {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}

// quantile of a copy, between neighbours by their distance; NaN of nothing.
func quantile(v []float64, p float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	s := slices.Clone(v)
	sort.Float64s(s)
	at := p * float64(len(s)-1)
	k := int(at)
	if k+1 >= len(s) {
		return s[len(s)-1]
	}
	return s[k] + (at-float64(k))*(s[k+1]-s[k])
}

// longGap is after how many days without a level a line is broken.
const longGap = 28

// line makes the weeks a line, broken where there was no level for long.
func line(ws []week, get func(week) float64) []chart.Point {
	var out []chart.Point
	for i, w := range ws {
		if i > 0 && w.First-ws[i-1].First > longGap {
			out = append(out, chart.Point{X: math.NaN(), Y: math.NaN()})
		}
		out = append(out, chart.Point{X: w.Hours, Y: get(w)})
	}
	return out
}

// latest sums up the last weeks with a level: their median day with the middle
// 80 % of the days, and how many days those are.
func latest(l *lamp.Life, days int32) (centre, lo, hi float64, n int, last int32) {
	var v []float64
	for i := len(l.Levels) - 1; i >= 0; i-- {
		d := &l.Levels[i]
		if !estimate.Finite(d.Level) {
			continue
		}
		if len(v) == 0 {
			last = d.Day
		}
		if d.Day <= last-days {
			break
		}
		v = append(v, d.Level)
	}
	return robust.Median(v), quantile(v, 0.1), quantile(v, 0.9), len(v), last
}

// hoursOn is the run-hours of a life at the end of a day, for placing events.
func hoursOn(l *lamp.Life, day int32) float64 {
	if len(l.Totals) == 0 || day < l.Totals[0].Day {
		return l.StartHours
	}
	i := sort.Search(len(l.Totals), func(i int) bool { return l.Totals[i].Day > day })
	return l.Totals[i-1].Hours
}
