package inspect

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"time"

	"wane/ingest/reading"
	"wane/ingest/source"
)

// Check is something about the trial's result that speaks against the proposal:
// what was read looks like a misreading.
type Check struct {
	What string `json:"what"` // which check
	Why  string `json:"why"`  // what was seen, and what it may come from
	Rows []Row  `json:"rows"` // rows that show it
}

// doubt notes a check that failed.
func (r *Report) doubt(what, why string, rows ...Row) {
	r.Checks = append(r.Checks, Check{what, why, rows[:min(len(rows), doubtRows)]})
}

// Believable tells whether the trial read something and no check failed.
func (r *Report) Believable() bool { return len(r.Checks) == 0 }

const (
	doubtRows = 6
	maxPoints = 4 << 20 // readings that are checked; those after them are only counted
)

// point is one reading of the trial.
type point struct {
	at    int64 // microseconds
	value reading.Value
	line  int32
}

// series is what the trial read of one series, in the order of the file.
type series struct {
	name   reading.Series
	points []point
}

func (s *series) row(p point) Row {
	return Row{
		Line: int(p.line), Time: time.UnixMicro(p.at).UTC().Format(time.RFC3339Nano),
		Sensor: s.name.Sensor, Channel: s.name.Channel, Value: fmt.Sprintf("%.*f", p.value.Digits, p.value.Float()),
	}
}

// checkResult holds what the trial read against what readings of a logger look
// like. Each check says by itself what it fails on; none depends on the form of
// the file.
func (r *Report) checkResult(k *keep) {
	r.checkRejects(k)
	r.checkMoments(k)
	r.checkOrder(k)
	r.checkLeaps(k)
	r.checkApart(k)
	r.checkCadence(k)
	r.checkValues(k)
	r.sayCounts(k)
	r.checkTotal(k)
	r.checkSpan(k)
}

// checkRejects: where one row in ten cannot be read, or nearly a whole column, the
// description is wrong rather than the file.
func (r *Report) checkRejects(k *keep) {
	bad := int64(0)
	for key, n := range k.rejects {
		if key.code == "flagged" { // the logger's own word
			continue
		}
		bad += n
		if read := k.lines; n >= 3 && 5*n >= 4*read && read > 0 {
			r.doubt("rejects", fmt.Sprintf("%d of %d cells of column %q cannot be read (%s)", n, read, key.column, key.code))
		}
		if key.code == "time-in-future" && 100*n > r.Readings {
			r.doubt("future", fmt.Sprintf("%d rows lie in the future: the clock, the zone, or the order of day, month and "+
				"year is another", n))
		}
	}
	if bad >= 3 && 10*bad > r.Readings+bad {
		r.doubt("rejects", fmt.Sprintf("%d of %d rows or cells cannot be read: %s", bad, r.Readings+bad,
			firstReason(r.Rejects)))
	}
}

func firstReason(list []reading.Reject) string {
	if len(list) == 0 {
		return ""
	}
	return fmt.Sprintf("line %d, %q: %s", list[0].Line, list[0].Text, list[0].Reason)
}

// checkMoments: a series has one value at a moment. Where many rows share one, the
// stamp lacks a part (a date without its time of day), or rows of several series
// are read as one.
func (r *Report) checkMoments(k *keep) {
	var same, differ, all int
	var rows []Row
	for i := range k.all {
		s := &k.all[i]
		all += len(s.points)
		sorted := slices.Clone(s.points)
		slices.SortStableFunc(sorted, func(a, b point) int { return int(min(max(a.at-b.at, -1), 1)) })
		for j := 1; j < len(sorted); j++ {
			if sorted[j].at != sorted[j-1].at {
				continue
			}
			if sorted[j].value.Float() == sorted[j-1].value.Float() {
				same++
				continue
			}
			differ++
			if len(rows) < doubtRows {
				rows = append(rows, s.row(sorted[j-1]), s.row(sorted[j]))
			}
		}
	}
	switch {
	case differ >= 2 && 50*differ > all:
		r.doubt("conflicts", fmt.Sprintf("%d of %d readings contradict another one of the same series and moment: a part "+
			"of the stamp may be missing, or several series are read as one", differ, all), rows...)
	case same >= 3 && 2*same > all:
		r.doubt("duplicates", fmt.Sprintf("%d of %d readings repeat another one of the same series and moment: a part of "+
			"the stamp may be missing", same, all))
	}
}

// checkOrder: a logger writes forward, or the newest first. Steps both ways, again
// and again, are a misread date.
func (r *Report) checkOrder(k *keep) {
	var up, down int
	var forth, back []Row
	for i := range k.all {
		s := &k.all[i]
		for j := 1; j < len(s.points); j++ {
			a, b := s.points[j-1], s.points[j]
			if b.at > a.at {
				if up++; len(forth) < doubtRows {
					forth = append(forth, s.row(a), s.row(b))
				}
			} else if b.at < a.at {
				if down++; len(back) < doubtRows {
					back = append(back, s.row(a), s.row(b))
				}
			}
		}
	}
	rows := back
	if up < down {
		rows = forth
	}
	if odd := min(up, down); odd >= 3 && 20*odd > up+down {
		r.doubt("order", fmt.Sprintf("times go back and forth: %d steps forward, %d back; day and month, or the year's "+
			"place, may be taken for each other", up, down), rows...)
	}
}

const (
	dayMicros  = int64(24 * time.Hour / time.Microsecond)
	hourMicros = int64(time.Hour / time.Microsecond)
)

// checkLeaps: readings by the hour or closer whose days do not follow each other
// but leap by months are a misread date.
func (r *Report) checkLeaps(k *keep) {
	for i := range k.all {
		s := &k.all[i]
		var steps []int64
		days, leaps := 1, 0
		var rows []Row
		for j := 1; j < len(s.points); j++ {
			a, b := s.points[j-1], s.points[j]
			d := max(b.at-a.at, a.at-b.at)
			steps = append(steps, d)
			if a.at/dayMicros != b.at/dayMicros {
				days++
			}
			if d > 20*dayMicros {
				if leaps++; len(rows) < doubtRows {
					rows = append(rows, s.row(a), s.row(b))
				}
			}
		}
		if len(steps) < 6 || leaps < 2 || 3*leaps < days {
			continue
		}
		slices.Sort(steps)
		if steps[len(steps)/2] <= 6*hourMicros {
			r.doubt("leaps", fmt.Sprintf("%d of %d changes of the day leap over 20 days or more, though readings stand close "+
				"together: day and month, or the year's place, may be taken for each other", leaps, days-1), rows...)
			return
		}
	}
}

// checkApart: a few readings that lie more than a year from all others of a logger that writes
// every day or oftener were taken while its clock was not set.
func (r *Report) checkApart(k *keep) {
	const year = 366 * dayMicros
	for i := range k.all {
		s := &k.all[i]
		n := len(s.points)
		sorted := slices.Clone(s.points)
		slices.SortStableFunc(sorted, func(a, b point) int { return cmp.Compare(a.at, b.at) })
		steps := make([]int64, 0, n)
		apart := 0 // the first one behind a gap of years that parts few from many
		for j := 1; j < n; j++ {
			d := sorted[j].at - sorted[j-1].at
			steps = append(steps, d)
			if d > year && 5*min(j, n-j) < n {
				apart = j
			}
		}
		slices.Sort(steps)
		if apart > 0 && steps[len(steps)/2] <= dayMicros {
			r.doubt("clock", fmt.Sprintf("%d of %d readings lie more than a year apart from the others: was the logger's clock "+
				"not set when they were taken?", min(apart, n-apart), n), s.row(sorted[apart-1]), s.row(sorted[apart]))
			return
		}
	}
}

// checkCadence: a few steps of one length and then a much longer one, again and again, is a
// part of the time that was counted, not clocked: quarters 1 to 4 read as minutes.
func (r *Report) checkCadence(k *keep) {
	for i := range k.all {
		s := &k.all[i]
		count := map[int64]int{}
		for j := 1; j < len(s.points); j++ {
			count[max(s.points[j].at-s.points[j-1].at, s.points[j-1].at-s.points[j].at)]++
		}
		delete(count, 0) // a line that stands twice
		steps := slices.SortedFunc(maps.Keys(count), func(a, b int64) int { return count[b] - count[a] })
		if len(s.points) < 20 || len(steps) < 2 || 100*(count[steps[0]]+count[steps[1]]) < 95*(len(s.points)-1) {
			continue
		}
		short, long := min(steps[0], steps[1]), max(steps[0], steps[1])
		n, m := count[short], count[long]
		if n == 0 || m == 0 || n < m || 10*m < n || long < 5*short {
			continue
		}
		each := int64(n+m/2) / int64(m) // short steps before a long one
		if round := long + each*short; round == hourMicros {
			r.doubt("cadence", fmt.Sprintf("%d steps of %s and then one of %s, again and again: a part of the time may be a "+
				"number, not minutes or hours", each,
				time.Duration(short)*time.Microsecond, time.Duration(long)*time.Microsecond), s.row(s.points[0]),
				s.row(s.points[1]), s.row(s.points[2]))
			return
		}
	}
}

// checkTotal: a last row that is the sum of all others is no reading.
func (r *Report) checkTotal(k *keep) {
	for i := range k.all {
		s := &k.all[i]
		n := len(s.points)
		if n < 5 {
			continue
		}
		last := s.points[n-1]
		sum, unit := 0.0, math.Pow(10, -float64(last.value.Digits))
		nonzero := 0
		for _, p := range s.points[:n-1] {
			sum += p.value.Float()
			if p.value.Mantissa != 0 {
				nonzero++
			}
		}
		if v := last.value.Float(); nonzero >= 3 && math.Abs(v-sum) <= max(unit/2, 1e-9*math.Abs(sum)) {
			r.doubt("total", fmt.Sprintf("the last value of %q is the sum of all others: line %d is a total, no reading; "+
				"name how it begins under footerPrefixes", s.name, last.line), s.row(s.points[n-2]), s.row(last))
			return
		}
	}
}

// checkSpan: no file of a logger spans two generations.
func (r *Report) checkSpan(k *keep) {
	if k.last-k.first > 45*365*dayMicros && len(k.all) > 0 {
		r.doubt("span", fmt.Sprintf("the readings span from %s to %s: a part of the date may be taken for another",
			time.UnixMicro(k.first).UTC().Format(time.DateOnly), time.UnixMicro(k.last).UTC().Format(time.DateOnly)))
	}
}

// sayCounts tells of series that do nothing but count rows, and of such as are named for what was set: forms that name their own series
// store them all, and a register need not speak of each.
func (r *Report) sayCounts(k *keep) {
	for i := range k.all {
		s := &k.all[i]
		counts := len(s.points) >= 20
		for j := 1; counts && j < len(s.points); j++ {
			counts = s.points[j].value.Digits == 0 && s.points[j].value.Mantissa == s.points[j-1].value.Mantissa+1
		}
		if _, stored := r.column(s.name.Channel); !stored && hasWord(s.name.Channel, settingWords) ||
			hasWord(s.name.Sensor, settingWords) {
			r.add(Finding{"setting", s.name.Sensor + "/" + s.name.Channel, Likely,
				"its name says that it was set, and not measured: leave it out of the register"})
		}
		if counts {
			r.add(Finding{"counter", s.name.Sensor + "/" + s.name.Channel, Likely,
				"it goes up by one from row to row, as a counter of messages does: leave it out of the register"})
		}
	}
}

func unitKey(unit string) string {
	u, _ := source.CanonicalUnit(unit)
	return u
}
