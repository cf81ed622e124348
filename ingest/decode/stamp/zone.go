package stamp

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"time"
	_ "time/tzdata" // a site must read the same on a machine without zone files
)

// Zone places local times on the UTC line.
type Zone struct {
	loc   *time.Location
	fixed bool
	off   int64 // seconds, when fixed
}

// UTC is the zone of stamps that are UTC already.
var UTC = Zone{loc: time.UTC, fixed: true}

// ZoneOf reads a zone name: an IANA name (Europe/Amsterdam), a fixed offset
// (+01:00, -0330, UTC+2), UTC or Z. The name Local is refused: a file must
// read the same on every machine.
func ZoneOf(name string) (Zone, error) {
	n := strings.TrimSpace(name)
	if n == "" || strings.EqualFold(n, "local") {
		return Zone{}, fmt.Errorf("time zone %q is not usable; write an IANA name such as Europe/Amsterdam or an offset such as +01:00", name)
	}
	if off, ok := ParseOffset(n); ok {
		return Fixed(off), nil
	}
	loc, err := time.LoadLocation(n)
	if err != nil {
		return Zone{}, fmt.Errorf("time zone %q is not known; write an IANA name such as Europe/Amsterdam or an offset such as +01:00", name)
	}
	return Zone{loc: loc}, nil
}

// Fixed is the zone with a constant offset in seconds east of UTC.
func Fixed(seconds int) Zone {
	return Zone{loc: time.FixedZone("", seconds), fixed: true, off: int64(seconds)}
}

// Valid is false for the zero Zone.
func (z Zone) Valid() bool { return z.loc != nil }

// IsFixed tells whether the zone has one offset all year round by its
// definition, so that no hour repeats.
func (z Zone) IsFixed() bool { return z.fixed }

var offsetForm = regexp.MustCompile(`^(?i:UTC|GMT)?\s*([+\x{2212}-])\s*(\d{1,2})(?::?(\d{2}))?$`)

// ParseOffset reads Z, UTC, GMT, +1, +01, +0100, +01:00, UTC+1 and GMT-03:30
// as seconds east of UTC.
func ParseOffset(s string) (seconds int, ok bool) {
	s = strings.TrimSpace(s)
	switch strings.ToUpper(s) {
	case "Z", "UTC", "GMT":
		return 0, true
	}
	m := offsetForm.FindStringSubmatch(s)
	if m == nil {
		return 0, false
	}
	h, _ := strconv.Atoi(m[2])
	min := 0
	if m[3] != "" {
		min, _ = strconv.Atoi(m[3])
	}
	if h > 14 || min > 59 {
		return 0, false
	}
	seconds = h*3600 + min*60
	if m[1] != "+" {
		seconds = -seconds
	}
	return seconds, true
}

var offsetInText = regexp.MustCompile(`(?i)\b(?:UTC|GMT)\s*([+\x{2212}-]\s*\d{1,2}(?::?\d{2})?)?|` +
	`\boffset\W{1,3}([+\x{2212}-]\d{2}:\d{2})\b`)

// OffsetIn finds the offset that a header line states, as in
// "Date Time, GMT+02:00", "clock: UTC" or "offset: +01:00".
func OffsetIn(line string) (seconds int, ok bool) {
	m := offsetInText.FindStringSubmatch(line)
	if m == nil {
		return 0, false
	}
	if m[1]+m[2] == "" {
		return 0, true
	}
	return ParseOffset(m[1] + m[2])
}

// OffsetInHeader finds the offset that a line of column names states: in the name
// of a column of the stamp, or in a cell that is nothing but an offset. What is
// said of another column's times is not this clock's.
func OffsetInHeader(cells []string, times []int) (seconds int, ok bool) {
	for _, c := range times {
		if c < len(cells) {
			if off, ok := OffsetIn(cells[c]); ok {
				return off, true
			}
		}
	}
	for _, cell := range cells {
		if off, ok := ParseOffset(cell); ok && offsetInText.MatchString(cell) {
			return off, true
		}
	}
	return 0, false
}

// Offset is the offset in seconds that holds at a UTC second.
func (z Zone) Offset(utc int64) int64 {
	if z.fixed {
		return z.off
	}
	_, off := time.Unix(utc, 0).In(z.loc).Zone()
	return int64(off)
}

// plainDay gives the offset of a local day that, with the days beside it, has
// no change of clocks. day is days since 1970-01-01.
func (z Zone) plainDay(day int64) (off int64, plain bool) {
	if z.fixed {
		return z.off, true
	}
	off = z.Offset((day - 1) * 86400)
	return off, off == z.Offset((day+1)*86400) && off == z.Offset((day+2)*86400)
}

// candidates lists the UTC seconds, earliest first, at which the local clock
// shows local (seconds since 1970 as if it were UTC): none in the skipped
// hour, two in the repeated one.
func (z Zone) candidates(local int64) (utc [2]int64, n int) {
	before, after := z.Offset(local-86400), z.Offset(local+86400)
	// The larger offset gives the earlier moment.
	if before < after {
		before, after = after, before
	}
	for i, off := range [2]int64{before, after} {
		if i == 1 && off == before {
			break
		}
		if u := local - off; z.Offset(u) == off {
			utc[n] = u
			n++
		}
	}
	return utc, n
}

// Folds resolves the stamps of the repeated hour for the streams of one file
// (a stream is what is in time order by itself: the whole of a wide file, one
// series of a long one). The zero Folds is ready.
type Folds struct {
	pending map[int32]int64 // streams that began inside a repeated hour: last local second
}

// NotSeen is the `last` of a stream that has no resolved stamp yet.
const NotSeen = -1 << 63

// Place resolves a local second that the zone shows once, twice or never. last
// is the stream's last resolved UTC second or NotSeen; descending says that the
// file runs backwards.
//
// The order in the file decides in the repeated hour: ascending files run
// through it first in summer time, then again. A stream that begins inside the
// repeated hour does not tell which is meant until it steps back.
func (f *Folds) Place(z Zone, stream int32, local, last int64, descending bool) (utc int64, err *Error) {
	c, n := z.candidates(local)
	switch n {
	case 0:
		return 0, ErrGap
	case 1:
		delete(f.pending, stream)
		return c[0], nil
	}
	if last == NotSeen {
		before, waiting := f.pending[stream]
		if waiting && local <= before {
			delete(f.pending, stream)
			return c[1], nil
		}
		if f.pending == nil {
			f.pending = map[int32]int64{}
		}
		f.pending[stream] = local
		return 0, ErrAmbiguous
	}
	switch {
	case descending && c[1] < last:
		return c[1], nil
	case descending:
		return c[0], nil
	case c[0] > last:
		return c[0], nil
	}
	return c[1], nil
}

// Error is a stamp that names no moment. Code is the class for a reject.
type Error struct {
	Code   string
	Reason string
}

func (e *Error) Error() string { return e.Reason }

// The two errors of daylight saving nights.
var (
	ErrGap = &Error{"time-in-gap", "this local time does not exist: the clocks were put forward over it; " +
		"if the logger keeps standard time all year, set zone to its fixed offset"}
	ErrAmbiguous = &Error{"ambiguous-time", "this local time comes twice, the clocks were put back, and nothing earlier in the file tells which is meant; " +
		"if the logger keeps standard time all year, set zone to its fixed offset"}
)

// Twice tells whether the zone's clock shows a local second twice.
func (z Zone) Twice(local int64) bool {
	_, n := z.candidates(local)
	return n == 2
}
