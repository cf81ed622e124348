package derive

import (
	"crypto/sha256"
	"math"
	"slices"
	"sort"
	"time"

	"wane/ingest/archive"
	"wane/transform/estimate"
	"wane/transform/fleet"
	"wane/transform/forecast"
	"wane/transform/hours"
	"wane/transform/level"
)

// A night need not read five years to add a day to them. What the days up to
// some day came to is settled once nothing that comes later can change it, and
// stored: a line a lamp life (table settled), its weeks (weeks), and the days
// after that day, which are open (open). It is brought forward when a month
// turns, up to the end of the month before the last: late files of this month
// and the last change nothing of it.

// settledLife is what need be kept of a life up to the day of its Sum: its
// last, or the first of a week of the blocks' grid, so that no week is cut.
type settledLife struct {
	N         int                `json:"-"`
	Row       int32              `json:"row,omitempty"` // first day of the fixture in the record
	Final     bool               `json:"final,omitempty"`
	Sum       hours.Sum          `json:"sum"`
	First     int32              `json:"first,omitempty"`     // first day of the life in the record
	LastRead  int32              `json:"last_read,omitempty"` // last day with a reading of light
	Sensor    string             `json:"sensor,omitempty"`    // that read it
	Baseline  *estimate.Estimate `json:"baseline,omitempty"`  // nil: no day of it came yet
	Reference float64            `json:"reference,omitempty"` // V, where the fixture's rated one is not known; 0: not read yet
	Burned    []monthBurn        `json:"burned,omitempty"`
	Weeks     []byte             `json:"weeks,omitempty"` // forecast.Chain of the settled ones
}

// settledFixture is the lives of one fixture that something is settled of.
type settledFixture []settledLife

func (p settledFixture) life(n int) *settledLife {
	for i := range p {
		if p[i].N == n {
			return &p[i]
		}
	}
	return nil
}

// begun gives the fixture's first day in the record.
func (p settledFixture) begun(rows []DailyRow) (day int32, ok bool) {
	for i := range p {
		if p[i].Row != 0 {
			return p[i].Row, true
		}
	}
	if len(rows) == 0 {
		return 0, false
	}
	return rows[0].Day.Day, true
}

// settledMonth is the month up to whose end days are settled as of a day.
func settledMonth(asOf int32) month { return monthOf(Date(asOf)) - 2 }

// lastDayOf is the last day of a month.
func lastDayOf(m month) int32 { return DayOf((m+1).first(time.UTC), time.UTC) - 1 }

// baseline is the life's, from the days at hand and what is settled of it.
func (l *Life) baseline(days []level.Day, s Site) level.Result {
	of := level.Life{LampType: l.LampType, Gear: l.Gear, RatedV: l.Fixture.RatedV}
	if l.past != nil && l.past.Reference > 0 {
		of.RatedV = l.past.Reference
	}
	if l.past != nil && l.past.Baseline != nil && of.RatedV > 0 {
		return level.Result{Baseline: *l.past.Baseline, ReferenceV: of.RatedV}
	}
	r := level.BaseOf(days, of, s.Config.Corrections, s.Config.Baseline)
	if l.past != nil && l.past.Baseline != nil {
		r.Baseline = *l.past.Baseline
	}
	return r
}

// settle gives what of a life is settled as of the day on which its days at hand
// end, and its weeks since past's; ok is false where nothing is yet. rows are
// the fixture's.
func (l *Life) settle(rows []DailyRow, outages []fleet.Span, row int32, s Site) (out settledLife, weeks []forecast.Block, ok bool) {
	asOf := l.LastDay
	final := !l.To.IsZero()
	day, ok := asOf, true
	if !final {
		day, ok = l.settledDay(rows, s)
	}
	if !ok {
		if l.past == nil {
			return out, nil, false
		}
		out = *l.past
		out.Burned = recentBurn(out.Burned, asOf)
		return out, nil, true
	}
	to := sort.Search(len(l.Days), func(i int) bool { return l.Days[i].Day > day })
	out = settledLife{N: l.N, Row: row, Final: final}
	out.LastRead, out.Sensor = l.lastLight(rows, day)
	switch {
	case l.past != nil && l.past.First != 0:
		out.First = l.past.First
	case to > 0:
		out.First = l.Days[0].Day
	}
	_, out.Sum, _ = l.sum().Through(l.witnessed(nil, rows, outages, day, s.Config.Location), day, l.habit(s))
	base := l.baseline(l.Days[:to], s)
	if base.Baseline.Known() {
		out.Baseline = &base.Baseline
	}
	if l.Fixture.RatedV == 0 && base.ReferenceV > 0 {
		out.Reference = base.ReferenceV
	}
	burned, k := []monthBurn(nil), 0
	if l.past != nil {
		burned, k = append(burned, l.past.Burned...), 1 // the first total is the sum's
	}
	n := sort.Search(len(l.Totals), func(i int) bool { return l.Totals[i].Day > day })
	out.Burned = recentBurn(addBurn(burned, l.Totals[min(k, n):n], habitFrom(asOf)), asOf)
	l.Base = l.baseline(l.Days, s)
	for _, b := range l.openWeeks() {
		if final || int32(b.Day) < day {
			weeks = append(weeks, b)
		}
	}
	chain := forecast.Chain(l.past.chain(), weeks)
	out.Weeks = chain[:]
	return out, weeks, true
}

// chain is that of the settled weeks; none of nothing settled.
func (p *settledLife) chain() (out [sha256.Size]byte) {
	if p != nil {
		copy(out[:], p.Weeks)
	}
	return out
}

// recentBurn leaves out the months that no habit reaches once the month of asOf
// is over.
func recentBurn(b []monthBurn, asOf int32) []monthBurn {
	for len(b) > 0 && b[0].Month <= habitFrom(asOf) {
		b = b[1:]
	}
	return slices.Clone(b)
}

// lastLight gives the last day, up to one, on which the life's light was read,
// and by which sensor.
func (l *Life) lastLight(rows []DailyRow, to int32) (day int32, sensor string) {
	for i := len(rows) - 1; i >= 0; i-- {
		if r := &rows[i]; r.Readings > 0 && r.Day.Day <= to && r.Day.Day >= l.FirstDay {
			return r.Day.Day, r.Sensor
		}
	}
	if l.past != nil {
		return l.past.LastRead, l.past.Sensor
	}
	return 0, ""
}

// settledDay finds the last day, of those at hand, up to which nothing changes
// any more: no stretch of the hour meter is open, the baseline has all its days
// or none, and the reference voltage too.
func (l *Life) settledDay(rows []DailyRow, s Site) (int32, bool) {
	first, metered := l.FirstDay, false
	if l.past != nil {
		first, metered = l.past.Sum.Day+1, l.past.Sum.MeterAt != 0
	}
	read := map[int32]bool{}
	since := l.LastDay + 1 // of the meter
	for i := range rows {
		if d := rows[i].Day.Day; rows[i].Counter.LastAt != 0 && d >= first && d <= l.LastDay {
			read[d] = true
			since = min(since, d)
		}
	}
	if metered {
		since = first
	}
	if l.N == 1 && !metered && since <= l.LastDay { // its face may tell the hours of all days before
		first = since
	}
	// Before the last day: an outage that is still on is cut short there.
	for day := forecast.WeekOf(l.LastDay - 1); day >= first; day -= 7 {
		if (day < since || read[day]) && l.based(day, s) {
			return day, true
		}
	}
	return 0, false
}

// based says whether baseline and reference voltage are settled by a day.
func (l *Life) based(day int32, s Site) bool {
	to := sort.Search(len(l.Days), func(i int) bool { return l.Days[i].Day > day })
	if l.past == nil || l.past.Baseline == nil {
		if n := l.baseline(l.Days[:to], s).Baseline.N; n > 0 && n < s.Config.Baseline.Days {
			return false
		}
	}
	if l.Fixture.RatedV > 0 || l.past != nil && l.past.Reference > 0 {
		return true
	}
	n := 0
	for i := range l.Days[:to] {
		if l.Days[i].SupplyV > 0 {
			n++
		}
	}
	return n == 0 || n >= level.ReferenceDays
}

// openFrom is the first day that must be kept of the life as it is read: the
// day before the settled one tells whether the logger was stuck on it.
func (l *Life) openFrom(settled *settledLife) int32 {
	if settled == nil {
		return l.FirstDay
	}
	return settled.Sum.Day - 1
}

// openWeeks makes the weeks of the days at hand that are not settled.
func (l *Life) openWeeks() []forecast.Block {
	weeks := l.blocks()
	if l.past == nil {
		return weeks
	}
	if l.past.Final {
		return nil
	}
	from := sort.Search(len(weeks), func(i int) bool { return int32(weeks[i].Day) >= l.past.Sum.Day })
	return weeks[from:]
}

// always is before any month.
const always month = math.MinInt32

// dailyParts gives the parts of table daily of the months after one, to another.
func dailyParts(a *archive.Archive, after, to month) []archive.Part {
	var out []archive.Part
	for _, p := range a.Parts(TableDaily) {
		if m, ok := partMonth(p); ok && m > after && m <= to {
			out = append(out, p)
		}
	}
	return out
}

// partMonth is the month of a part of table daily.
func partMonth(p archive.Part) (month, bool) {
	const form = "month=2006-01"
	if len(p.Partition) < len(form) {
		return 0, false
	}
	t, err := time.Parse(form, p.Partition[:len(form)])
	return monthOf(t), err == nil
}
