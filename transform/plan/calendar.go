package plan

import (
	"fmt"
	"strings"
	"time"
)

// calendar says on which days work is possible. Windows that do not parse are
// left out; Validate names them.
type calendar struct{ work, closed []span }

// searchDays is how far an open day is looked for.
const searchDays = 3660

// span is a parsed Window. In a yearly span the dates are month*100+day.
type span struct {
	yearly       bool
	from, to     time.Time
	fromMD, toMD int
	days         [7]bool
	anyDay       bool
}

func newCalendar(work, closed []Window) calendar {
	var c calendar
	for _, w := range work {
		if s, err := w.parse(); err == nil {
			c.work = append(c.work, s)
		}
	}
	for _, w := range closed {
		if s, err := w.parse(); err == nil {
			c.closed = append(c.closed, s)
		}
	}
	// Faulty windows must not turn into "any day": work then waits for a person.
	if len(work) > 0 && len(c.work) == 0 {
		c.work = []span{{}}
	}
	return c
}

var weekdays = map[string]time.Weekday{
	"sun": time.Sunday, "mon": time.Monday, "tue": time.Tuesday, "wed": time.Wednesday,
	"thu": time.Thursday, "fri": time.Friday, "sat": time.Saturday,
}

func (w Window) parse() (span, error) {
	s := span{anyDay: len(w.Weekdays) == 0}
	for _, d := range w.Weekdays {
		n, ok := weekdays[strings.ToLower(d)]
		if !ok {
			return span{}, fmt.Errorf("weekday %q is none of mon, tue, wed, thu, fri, sat, sun", d)
		}
		s.days[n] = true
	}
	short := func(x string) bool { return len(x) == len("01-02") }
	if short(w.From) || short(w.To) {
		if !short(w.From) || !short(w.To) {
			return span{}, fmt.Errorf("from %q and to %q: a span of every year needs both as MM-DD", w.From, w.To)
		}
		s.yearly = true
		for _, x := range []struct {
			text string
			md   *int
		}{{w.From, &s.fromMD}, {w.To, &s.toMD}} {
			// 2000 is a leap year, so that 02-29 parses.
			d, err := time.Parse(time.DateOnly, "2000-"+x.text)
			if err != nil {
				return span{}, fmt.Errorf("%q is no day of the year: write MM-DD", x.text)
			}
			*x.md = int(d.Month())*100 + d.Day()
		}
		return s, nil
	}
	for _, x := range []struct {
		text string
		at   *time.Time
	}{{w.From, &s.from}, {w.To, &s.to}} {
		if x.text == "" {
			continue
		}
		d, err := time.Parse(time.DateOnly, x.text)
		if err != nil {
			return span{}, fmt.Errorf("%q is no date: write YYYY-MM-DD, or MM-DD for every year", x.text)
		}
		*x.at = d
	}
	if !s.from.IsZero() && !s.to.IsZero() && s.to.Before(s.from) {
		return span{}, fmt.Errorf("from %s lies after to %s: swap them", w.From, w.To)
	}
	return s, nil
}

func (s span) holds(d time.Time) bool {
	if !s.anyDay && !s.days[d.Weekday()] {
		return false
	}
	if s.yearly {
		md := int(d.Month())*100 + d.Day()
		if s.fromMD <= s.toMD {
			return s.fromMD <= md && md <= s.toMD
		}
		return md >= s.fromMD || md <= s.toMD
	}
	return (s.from.IsZero() || !d.Before(s.from)) && (s.to.IsZero() || !d.After(s.to))
}

func (c calendar) open(d time.Time) bool {
	for _, s := range c.closed {
		if s.holds(d) {
			return false
		}
	}
	if len(c.work) == 0 {
		return true
	}
	for _, s := range c.work {
		if s.holds(d) {
			return true
		}
	}
	return false
}

// next is the first open day on or after d.
func (c calendar) next(d time.Time) (time.Time, bool) {
	for i := 0; i < searchDays; i++ {
		if c.open(d) {
			return d, true
		}
		d = d.AddDate(0, 0, 1)
	}
	return time.Time{}, false
}

// snap is the last open day in [from, want], else the first after want but not before from.
// late says that it lies after want.
func (c calendar) snap(from, want time.Time) (day time.Time, late, ok bool) {
	for d := want; !d.Before(from); d = d.AddDate(0, 0, -1) {
		if c.open(d) {
			return d, false, true
		}
	}
	if want.Before(from) {
		want = from
	}
	d, ok := c.next(want)
	return d, true, ok
}

// day is t's date at 00:00 UTC.
func day(t time.Time) time.Time {
	t = t.UTC()
	return time.Date(t.Year(), t.Month(), t.Day(), 0, 0, 0, 0, time.UTC)
}
