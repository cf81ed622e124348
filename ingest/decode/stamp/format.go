// Package stamp turns the time stamps that loggers print into UTC
// microseconds.
//
// It works in three steps:
//
//  1. Compile reads a pattern once (see Compile for the language).
//  2. A Parser takes apart one stamp after the other. Stamps mostly increase,
//     so it remembers the day of the last one and reads only the time of day.
//  3. A Zone places the local time on the UTC line. On the two nights a year
//     when that is not a plain subtraction, Folds says from the order in the
//     file which of the two repeated hours is meant; a time that the clock
//     skipped is an error.
//
// No clock is read and nothing is guessed: a stamp that fits the pattern but
// names no moment gives an error with words for a person.
package stamp

import (
	"fmt"
	"slices"
	"strings"
)

// opKind is one step of a compiled pattern.
type opKind uint8

const (
	opLiteral opKind = iota // one byte that must stand there
	opYear4
	opYear2
	opMonth
	opMonthName
	opDay
	opDayOfYear
	opHour24
	opHour12
	opMinute
	opSecond
	opFraction // digits after the decimal sign of the second, one or more
	opHourMin  // HHmm without a separator: 1 to 4 digits, right-aligned
	opAmPm
	opOffset   // Z, +01, +0100 or +01:00; with lit 'z' also CEST or CEST+0200
	opWeekday  // a word that says no more than the date
	opAny      // any text up to the literal that follows, or the end
	opOptional // start of [ ... ]: skip to op `jump` unless the next op (a literal) stands there
)

type op struct {
	kind     opKind
	min, max uint8 // digits
	lit      byte
	jump     uint8
}

// Form is the broad kind of a Format.
type Form uint8

const (
	Calendar     Form = iota // a date-and-time pattern
	EpochSeconds             // seconds since 1970-01-01T00:00:00Z, decimals allowed
	EpochMillis              // milliseconds since then
	EpochMicros              // microseconds since then
	EpochNanos               // nanoseconds since then, which are cut to microseconds
	SerialDays               // spreadsheet days: 45000.5 is noon of 2023-03-15 on the logger's clock
)

// forms are the names that are complete patterns by themselves.
var forms = map[string]Form{"epoch-s": EpochSeconds, "epoch-ms": EpochMillis, "epoch-us": EpochMicros,
	"epoch-ns": EpochNanos, "serial-days": SerialDays}

// Format is a compiled pattern. It is read-only and may be shared.
type Format struct {
	Pattern   string
	Form      Form
	HasOffset bool // each stamp carries its own offset from UTC; ask OwnMoment
	ops       []op
	dateOps   int     // ops before the first one of the time of day; 0 where date and time are mixed
	clock     int     // bytes of the time of day where it is HH:mm or HH:mm:ss to the end, whatever parts them; else 0
	sep       [2]byte // what parts them
}

// OwnMoment tells whether each stamp says its moment by itself, so that no zone is
// needed.
func (f *Format) OwnMoment() bool {
	return f.HasOffset || f.Form != Calendar && f.Form != SerialDays
}

// HasClock tells whether stamps say a time of day, and not a date alone. A spreadsheet's day
// may have one in its decimals.
func (f *Format) HasClock() bool {
	return f.Form != Calendar || slices.ContainsFunc(f.ops,
		func(o op) bool { return o.kind == opHour24 || o.kind == opHour12 || o.kind == opHourMin })
}

// RFC3339 is the pattern behind the name "rfc3339".
const RFC3339 = "yyyy-MM-dd'T'HH:mm:ss[.S]XXX"

// Compile reads a pattern. The letters are those of Unicode TR 35 (which CSVW
// date formats use too), as far as loggers need them:
//
//	yyyy yy       year; yy is 1970 to 2069
//	MM M          month; M takes one or two digits
//	MMM           month name, short or long, in English and the languages of monthWords
//	dd d          day
//	DDD D         day of the year, one to three digits
//	HH H          hour 0-23 (24:00 is the end of the day)
//	hh h          hour 1-12, with a
//	HHmm Hmm      hour and minute without a separator, 1 to 4 digits (930 is 9:30)
//	mm m          minute
//	ss s          second
//	S SSS         fraction of the second; any number of digits
//	a             AM or PM in any usual spelling, or another language's words for them
//	XXX X Z       offset from UTC: Z, +01, +0100, +01:00
//	z             the same, or the zone's abbreviation: UTC, CEST, EST, CEST+0200
//	EEE           a day of the week in words, which is not looked at
//	*             any text up to the literal that follows, or to the end: the other end of an interval
//	[...]         an optional part, which must begin with a literal
//	'...'         literal text; two quotes stand for one
//
// Other letters are refused, other characters stand for themselves. A blank
// stands for one or more blanks. The names rfc3339, epoch-s, epoch-ms, epoch-us,
// epoch-ns and serial-days (a spreadsheet's day number) are complete patterns. A pattern needs a year with month
// and day, or a year with
// a day of the year.
func Compile(pattern string) (*Format, error) {
	f := &Format{Pattern: pattern}
	if form, ok := forms[pattern]; ok {
		f.Form = form
		return f, nil
	}
	switch pattern {
	case "rfc3339":
		pattern = RFC3339
	case "":
		return nil, fmt.Errorf("time format is empty; write one such as yyyy-MM-dd HH:mm:ss")
	}
	if len(pattern) > 100 {
		return nil, fmt.Errorf("time format has %d characters, more than 100", len(pattern))
	}
	open := -1
	for i := 0; i < len(pattern); {
		c := pattern[i]
		n := 1
		for i+n < len(pattern) && pattern[i+n] == c {
			n++
		}
		switch {
		case c == '\'':
			lit, used, err := quoted(pattern[i:])
			if err != nil {
				return nil, err
			}
			for _, b := range []byte(lit) {
				f.ops = append(f.ops, op{kind: opLiteral, lit: b})
			}
			i += used
			continue
		case c == '[':
			if open >= 0 || n > 1 {
				return nil, fmt.Errorf("time format %q has an optional part inside another", pattern)
			}
			open = len(f.ops)
			f.ops = append(f.ops, op{kind: opOptional})
			i++
			continue
		case c == ']':
			if open < 0 || n > 1 {
				return nil, fmt.Errorf("time format %q has a ] without its [", pattern)
			}
			if open+1 >= len(f.ops) || f.ops[open+1].kind != opLiteral {
				return nil, fmt.Errorf("time format %q: the optional part must begin with a literal, as in [.S]", pattern)
			}
			f.ops[open].jump = uint8(len(f.ops))
			open = -1
			i++
			continue
		case c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z':
			o, err := letter(c, n, pattern)
			if err != nil {
				return nil, err
			}
			f.ops = append(f.ops, o)
			i += n
		case c == '*':
			f.ops = append(f.ops, op{kind: opAny})
			i += n
		case c == ' ':
			f.ops = append(f.ops, op{kind: opLiteral, lit: ' '})
			i += n
		default:
			f.ops = append(f.ops, op{kind: opLiteral, lit: c})
			i++
		}
	}
	if open >= 0 {
		return nil, fmt.Errorf("time format %q has a [ without its ]", pattern)
	}
	return f, f.finish()
}

// quoted reads a quoted literal at the start of s and how many bytes it took.
func quoted(s string) (lit string, used int, err error) {
	if strings.HasPrefix(s, "''") {
		return "'", 2, nil
	}
	var b strings.Builder
	for i := 1; i < len(s); i++ {
		if s[i] != '\'' {
			b.WriteByte(s[i])
			continue
		}
		if i+1 < len(s) && s[i+1] == '\'' {
			b.WriteByte('\'')
			i++
			continue
		}
		return b.String(), i + 1, nil
	}
	return "", 0, fmt.Errorf("time format: quoted text %s is not closed", s)
}

// letter gives the op of a run of n equal letters.
func letter(c byte, n int, pattern string) (op, error) {
	two := func(k opKind) (op, error) {
		if n > 2 {
			return op{}, fmt.Errorf("time format %q: %s is not known; write one or two %c", pattern,
				strings.Repeat(string(c), n), c)
		}
		return op{kind: k, min: uint8(n), max: 2}, nil
	}
	switch {
	case c == 'y' && n == 4:
		return op{kind: opYear4, min: 4, max: 4}, nil
	case c == 'y' && n == 2:
		return op{kind: opYear2, min: 2, max: 2}, nil
	case c == 'M' && (n == 3 || n == 4):
		return op{kind: opMonthName}, nil
	case c == 'M':
		return two(opMonth)
	case c == 'd':
		return two(opDay)
	case c == 'D' && n <= 3:
		return op{kind: opDayOfYear, min: 1, max: 3}, nil
	case c == 'H':
		return two(opHour24)
	case c == 'h':
		return two(opHour12)
	case c == 'm':
		return two(opMinute)
	case c == 's':
		return two(opSecond)
	case c == 'S':
		return op{kind: opFraction, min: 1, max: 12}, nil
	case c == 'a':
		return op{kind: opAmPm}, nil
	case c == 'X' || c == 'x' || c == 'Z':
		return op{kind: opOffset}, nil
	case c == 'z':
		return op{kind: opOffset, lit: 'z'}, nil
	case c == 'E':
		return op{kind: opWeekday}, nil
	}
	return op{}, fmt.Errorf("time format %q: %s is not known; letters are yyyy yy MM M MMM dd d DDD HH H hh h mm m ss s S a XXX z EEE, other text goes in single quotes",
		pattern, strings.Repeat(string(c), n))
}

// finish joins HHmm, checks that the pattern names a moment, and finds where
// the time of day begins.
func (f *Format) finish() error {
	// An hour directly followed by a minute, with no seconds directly behind,
	// is the HHmm number of old data loggers, which drop leading zeros.
	for i := 0; i+1 < len(f.ops); i++ {
		h, m := f.ops[i], f.ops[i+1]
		alone := (i == 0 || f.ops[i-1].kind == opLiteral) &&
			(i+2 == len(f.ops) || f.ops[i+2].kind == opLiteral || f.ops[i+2].kind == opOptional)
		if h.kind == opHour24 && m.kind == opMinute && alone {
			f.ops[i] = op{kind: opHourMin, min: 1, max: 4}
			f.ops = append(f.ops[:i+1], f.ops[i+2:]...)
			for k := range f.ops {
				if f.ops[k].kind == opOptional && int(f.ops[k].jump) > i {
					f.ops[k].jump--
				}
			}
			break
		}
	}
	var has [opOptional + 1]int
	for i, o := range f.ops {
		has[o.kind]++
		if o.kind == opAny && i+1 < len(f.ops) && f.ops[i+1].kind != opLiteral {
			return fmt.Errorf("time format %q: a * ends the stamp, or text in it that is always the same must follow", f.Pattern)
		}
	}
	for k, n := range has {
		if n > 1 && opKind(k) != opLiteral && opKind(k) != opOptional && opKind(k) != opAny {
			return fmt.Errorf("time format %q names the same part of the time twice", f.Pattern)
		}
	}
	month := has[opMonth] + has[opMonthName]
	switch {
	case has[opYear4]+has[opYear2] != 1:
		return fmt.Errorf("time format %q needs the year once, as yyyy or yy", f.Pattern)
	case has[opDayOfYear] == 0 && (month != 1 || has[opDay] != 1):
		return fmt.Errorf("time format %q needs month and day (MM and dd; mm is the minute), or the day of the year (DDD)",
			f.Pattern)
	case has[opDayOfYear] == 1 && month+has[opDay] > 0:
		return fmt.Errorf("time format %q has both the day of the year and month or day; keep one", f.Pattern)
	case has[opHour12] != has[opAmPm]:
		return fmt.Errorf("time format %q: h (1 to 12) and a (AM/PM) go together; use H for 0 to 23", f.Pattern)
	case has[opHour12]+has[opHour24]+has[opHourMin] > 1:
		return fmt.Errorf("time format %q has the hour twice", f.Pattern)
	}
	f.HasOffset = has[opOffset] == 1
	f.dateOps = splitDate(f.ops)
	f.findClock(f.ops[f.dateOps:])
	return nil
}

// splitDate counts the leading ops that concern only the date, including the
// literal that ends it, or 0 where a date part follows a time part or nothing
// fixed ends the date.
func splitDate(ops []op) int {
	isDate := func(k opKind) bool { return k >= opYear4 && k <= opDayOfYear }
	n := 0
	for i, o := range ops {
		if isDate(o.kind) {
			n = i + 1
		}
	}
	for _, o := range ops[:n] {
		if !isDate(o.kind) && o.kind != opLiteral {
			return 0
		}
	}
	if n < len(ops) && ops[n].kind == opLiteral {
		return n + 1
	}
	for _, o := range ops[:n] {
		if o.kind != opLiteral && o.min != o.max {
			return 0 // the end of a variable date cannot be told from its bytes
		}
	}
	return n
}

// findClock notes a time of day that is two digits each for hour, minute and
// perhaps second.
func (f *Format) findClock(ops []op) {
	if f.dateOps == 0 || len(ops) != 3 && len(ops) != 5 {
		return
	}
	for i, o := range ops {
		want := [5]opKind{opHour24, opLiteral, opMinute, opLiteral, opSecond}[i]
		if o.kind != want || want == opLiteral && o.lit == ' ' || want != opLiteral && o.min != 2 {
			return
		}
		if want == opLiteral {
			f.sep[i/2] = o.lit
		}
	}
	f.clock = 3*(len(ops)+1)/2 - 1
}

// clockIn reads such a time of day up to 23:59:59; what else there is to say is
// left to the ops.
func (f *Format) clockIn(b []byte) (sec int64, ok bool) {
	h, m, s := twoDigits(b), twoDigits(b[3:]), int64(0)
	ok = b[2] == f.sep[0]
	if len(b) == 8 {
		s = twoDigits(b[6:])
		ok = ok && b[5] == f.sep[1]
	}
	return h*3600 + m*60 + s, ok && uint64(h) < 24 && uint64(m) < 60 && uint64(s) < 60
}

// twoDigits reads two digits, -1 for anything else.
func twoDigits(b []byte) int64 {
	tens, ones := b[0]-'0', b[1]-'0'
	if tens > 9 || ones > 9 {
		return -1
	}
	return int64(tens)*10 + int64(ones)
}
