package derive

import (
	"math"
	"slices"
	"sort"

	"wane/ingest/reading"
	"wane/transform/daily"
)

// compact holds a month of one series in half the memory of a Track: whole
// seconds from a base and mantissas of one scale, both in 32 bits. A reading
// that does not fit (a fraction of a second, a huge counter, another scale)
// turns the series into a Track once and for all. Series read at the same
// moments, as a logger's are, share the seconds.
type compact struct {
	base  int64   // microseconds UTC of second 0
	sec   []int32 // may be another series' too: appended to, but written over by nobody
	mant  []int32
	scale int
	wide  *daily.Track
}

// add appends a reading.
func (c *compact) add(at, mantissa int64, scale int) {
	if c.scale < 0 {
		c.scale = scale
	}
	off := at - c.base
	s := off / 1e6
	fits := off%1e6 == 0 && s >= math.MinInt32 && s <= math.MaxInt32 && mantissa >= math.MinInt32 &&
		mantissa <= math.MaxInt32 && scale == c.scale
	if c.wide == nil && fits {
		c.sec, c.mant = append(c.sec, int32(s)), append(c.mant, int32(mantissa))
		return
	}
	c.put(at, reading.Value{Mantissa: mantissa, Digits: uint8(scale)}.Float())
}

// extend appends readings of one scale: add for each, without asking each time
// what holds for all.
func (c *compact) extend(at, mantissa []int64, scale int) {
	if c.scale < 0 && len(at) > 0 {
		c.scale = scale
	}
	i := 0
	if c.wide == nil && scale == c.scale {
		n := len(c.sec)
		c.sec, c.mant = slices.Grow(c.sec, len(at)), slices.Grow(c.mant, len(at))
		sec, mant := c.sec[n:n+len(at)], c.mant[n:n+len(at)]
		for ; i < len(at); i++ {
			off, m := at[i]-c.base, mantissa[i]
			s := off / 1e6
			if s*1e6 != off || s != int64(int32(s)) || m != int64(int32(m)) {
				break
			}
			sec[i], mant[i] = int32(s), int32(m)
		}
		c.sec, c.mant = c.sec[:n+i], c.mant[:n+i]
	}
	for ; i < len(at); i++ {
		c.add(at[i], mantissa[i], scale)
	}
}

// alike makes an empty series one of the moments sec, if it can hold the values.
func (c *compact) alike(sec []int32, mantissa []int64, scale int) bool {
	mant := slices.Grow(c.mant, len(mantissa))[:len(mantissa)]
	for i, m := range mantissa {
		if m != int64(int32(m)) {
			return false
		}
		mant[i] = int32(m)
	}
	c.sec, c.mant, c.scale = slices.Clip(sec), mant, scale
	return true
}

// sameEnd gives the last of the seconds sec from base, if they are the moments
// at; else nil.
func sameEnd(base int64, at []int64, sec []int32) []int32 {
	if len(at) > len(sec) {
		return nil
	}
	sec = sec[len(sec)-len(at):]
	for i, s := range sec {
		if at[i] != base+int64(s)*1e6 {
			return nil
		}
	}
	return sec
}

// put appends a reading that is a float already.
func (c *compact) put(at int64, v float64) {
	if c.wide == nil {
		w := c.track(0, c.Len())
		c.wide, c.sec, c.mant = &w, nil, nil
	}
	c.wide.Time, c.wide.Value = append(c.wide.Time, at), append(c.wide.Value, v)
}

// sort puts the readings in order of time.
func (c *compact) sort() {
	c.sec = slices.Clone(c.sec)
	sort.Sort(c)
}

// Len, Less and Swap are for sort.
func (c *compact) Len() int {
	if c.wide != nil {
		return c.wide.Len()
	}
	return len(c.sec)
}

func (c *compact) Less(i, j int) bool { return c.time(i) < c.time(j) }

func (c *compact) Swap(i, j int) {
	if c.wide != nil {
		byTime{*c.wide}.Swap(i, j)
		return
	}
	c.sec[i], c.sec[j] = c.sec[j], c.sec[i]
	c.mant[i], c.mant[j] = c.mant[j], c.mant[i]
}

func (c *compact) time(i int) int64 {
	if c.wide != nil {
		return c.wide.Time[i]
	}
	return c.base + int64(c.sec[i])*1e6
}

// appendTo appends the readings [lo, hi) with their values times factor.
func (c *compact) appendTo(t *daily.Track, lo, hi int, factor float64) {
	n := len(t.Time)
	t.Time, t.Value = slices.Grow(t.Time, hi-lo)[:n+hi-lo], slices.Grow(t.Value, hi-lo)[:n+hi-lo]
	times, values := t.Time[n:], t.Value[n:]
	if c.wide != nil {
		copy(times, c.wide.Time[lo:hi])
		for i, v := range c.wide.Value[lo:hi] {
			values[i] = v * factor
		}
		return
	}
	for i, s := range c.sec[lo:hi] {
		times[i] = c.base + int64(s)*1e6
	}
	unit := 1.0
	for range c.scale {
		unit *= 10
	}
	for i, m := range c.mant[lo:hi] {
		values[i] = float64(m) / unit * factor
	}
}

// track gives the readings [lo, hi).
func (c *compact) track(lo, hi int) (t daily.Track) {
	c.appendTo(&t, lo, hi, 1)
	return t
}

// within gives the indices of the readings in [from, to).
func (c *compact) within(from, to int64) (lo, hi int) {
	n := c.Len()
	if n > 0 && from <= c.time(0) && to > c.time(n-1) { // mostly
		return 0, n
	}
	lo = sort.Search(n, func(i int) bool { return c.time(i) >= from })
	if n == 0 || to > c.time(n-1) {
		return lo, n
	}
	return lo, sort.Search(n, func(i int) bool { return c.time(i) >= to })
}

// forget drops what lies before since, and the memory that it took.
func (c *compact) forget(since int64, memory *room) {
	lo, _ := c.within(since, math.MaxInt64)
	if lo == 0 {
		return
	}
	if c.wide != nil {
		w := c.track(lo, c.Len())
		c.wide = &w
		return
	}
	c.sec = append(memory.take(len(c.sec)-lo), c.sec[lo:]...)
	c.mant = append(memory.take(len(c.mant)-lo), c.mant[lo:]...)
}
