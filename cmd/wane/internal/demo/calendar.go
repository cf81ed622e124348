package demo

import (
	"time"
)

// slotSeconds is the cadence of the loggers.
const slotSeconds = 15 * 60

// slotHours is the burning time that one slot adds.
const slotHours = slotSeconds / 3600.0

// calendar is the time of the record: quarter-hour slots from the start of one
// local day to the start of another, with the local day and minute of each.
type calendar struct {
	zone   *time.Location
	first  time.Time // local midnight of the first day
	days   int
	begin  int64   // unix seconds of slot 0
	slots  int     // the record ends before slot `slots`
	day    []int32 // local day of each slot, 0 = first
	minute []int16 // minute of the local day, by the wall clock
	offset []int32 // zone's offset in seconds
	starts []int   // first slot of each day, with one entry more for the end
}

// newCalendar covers the `days` local days that end with the day before today.
func newCalendar(zone *time.Location, today time.Time, days int) *calendar {
	y, m, d := today.Date()
	end := time.Date(y, m, d, 0, 0, 0, 0, zone)
	first := time.Date(y, m, d-days, 0, 0, 0, 0, zone)
	c := &calendar{zone: zone, first: first, days: days, begin: first.Unix()}
	c.slots = int((end.Unix() - c.begin) / slotSeconds)
	c.day = make([]int32, c.slots)
	c.minute = make([]int16, c.slots)
	c.offset = make([]int32, c.slots)
	c.starts = make([]int, 0, days+1)
	day0 := dayNumber(first.Unix(), first)
	off := 0
	for s := range c.slots {
		u := c.unix(s)
		if s%4 == 0 { // no zone changes its offset within a full hour of UTC
			_, off = time.Unix(u, 0).In(zone).Zone()
		}
		local := u + int64(off)
		c.offset[s] = int32(off)
		c.day[s] = int32(floorDiv(local, 86400) - day0)
		c.minute[s] = int16(local % 86400 / 60)
		if s == 0 || c.day[s] != c.day[s-1] {
			c.starts = append(c.starts, s)
		}
	}
	c.starts = append(c.starts, c.slots)
	return c
}

func dayNumber(unix int64, t time.Time) int64 {
	_, off := t.Zone()
	return floorDiv(unix+int64(off), 86400)
}

func floorDiv(a, b int64) int64 {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}

// unix is the moment of a slot.
func (c *calendar) unix(slot int) int64 { return c.begin + int64(slot)*slotSeconds }

// moment is a wall-clock minute of a local day.
func (c *calendar) moment(day, minute int) time.Time {
	y, m, d := c.first.Date()
	return time.Date(y, m, d+day, 0, minute, 0, 0, c.zone)
}

// slotAt is the first slot at or after a moment, within 0 and slots.
func (c *calendar) slotAt(t time.Time) int {
	s := floorDiv(t.Unix()-c.begin+slotSeconds-1, slotSeconds)
	return int(min(max(s, 0), int64(c.slots)))
}

// date is the local calendar day, as the register writes it.
func (c *calendar) date(day int) string { return c.moment(day, 0).Format(time.DateOnly) }

// at turns a share of the record into a day, so that a short record has the
// same story as a long one.
func (c *calendar) at(share float64) int { return min(int(share*float64(c.days)), c.days-1) }
