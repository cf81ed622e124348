package stamp

import "fmt"

// Moment is what one stamp says.
type Moment struct {
	Local    int64 // seconds since 1970 on the logger's own clock
	Micros   int64 // fraction of the second
	UTC      int64 // microseconds since 1970-01-01T00:00:00Z, when Resolved
	Resolved bool  // false near a change of clocks: ask Folds.Place with Local
}

// Parser reads stamps of one Format in one Zone. It is for one goroutine.
type Parser struct {
	format *Format
	zone   Zone

	prefix []byte // date part of the last stamp, as printed
	day    int64  // its local midnight, seconds
	off    int64  // the offset of that day, when plain
	plain  bool
	offDay int64 // the day that off and plain belong to
	seen   bool
}

// NewParser makes a Parser. The zone is not used for formats whose stamps say
// their moment by themselves.
func NewParser(f *Format, z Zone) *Parser {
	if f.OwnMoment() {
		z = UTC
	}
	return &Parser{format: f, zone: z}
}

// Zone is the zone that unresolved moments are to be placed in.
func (p *Parser) Zone() Zone { return p.zone }

// fields collects the parts of one calendar stamp.
type fields struct {
	year, month, day, doy int
	hour, minute, second  int
	micros                int64
	half                  int8 // 1 AM, 2 PM
	offset                int64
}

// Parse reads one stamp, already free of surrounding blanks.
func (p *Parser) Parse(b []byte) (Moment, *Error) {
	switch p.format.Form {
	case Calendar:
	case SerialDays:
		return p.serial(b)
	default:
		return p.epoch(b)
	}
	var f fields
	if n := len(p.prefix); n > 0 && len(b) >= n && string(b[:n]) == string(p.prefix) {
		if c := p.format.clock; c > 0 && len(b) == n+c {
			if sec, ok := p.format.clockIn(b[n:]); ok {
				return p.finish(p.day+sec, &f), nil
			}
		}
		if end, ok := p.run(p.format.dateOps, b, n, &f); ok && end == len(b) {
			if sec, ok := f.clock(); ok {
				return p.finish(p.day+sec, &f), nil
			}
		}
		f = fields{} // read it again from the start, for variable blanks or the right message
	}
	pos := 0
	ok := true
	if d := p.format.dateOps; d > 0 {
		pos, ok = p.runTo(0, d, b, 0, &f)
	}
	dateEnd := pos
	if ok {
		pos, ok = p.run(p.format.dateOps, b, pos, &f)
	}
	if !ok || pos != len(b) {
		return Moment{}, &Error{"bad-time", fmt.Sprintf("does not read as %s", p.format.Pattern)}
	}
	day, ok := f.date()
	if !ok {
		return Moment{}, &Error{"bad-time", "no such day in the calendar"}
	}
	sec, ok := f.clock()
	if !ok {
		return Moment{}, &Error{"bad-time", "no such time of day"}
	}
	if p.format.dateOps > 0 {
		p.prefix = append(p.prefix[:0], b[:dateEnd]...)
		p.day = day
	}
	return p.finish(day+sec, &f), nil
}

// finish places a local second as far as the day alone allows.
func (p *Parser) finish(local int64, f *fields) Moment {
	m := Moment{Local: local, Micros: f.micros}
	switch {
	case p.format.HasOffset:
		m.UTC, m.Resolved = (local-f.offset)*1e6+f.micros, true
	case p.zone.fixed:
		m.UTC, m.Resolved = (local-p.zone.off)*1e6+f.micros, true
	default:
		day := floorDiv(local, 86400)
		if !p.seen || day != p.offDay {
			p.off, p.plain = p.zone.plainDay(day)
			p.offDay, p.seen = day, true
		}
		if p.plain {
			m.UTC, m.Resolved = (local-p.off)*1e6+f.micros, true
		}
	}
	return m
}

// Later is the moment some seconds after another one on the logger's own clock.
func (p *Parser) Later(m Moment, seconds int64) Moment {
	if p.format.HasOffset {
		return Moment{Local: m.Local + seconds, Micros: m.Micros, UTC: m.UTC + seconds*1e6, Resolved: true}
	}
	return p.finish(m.Local+seconds, &fields{micros: m.Micros})
}

func (p *Parser) run(from int, b []byte, pos int, f *fields) (int, bool) {
	return p.runTo(from, len(p.format.ops), b, pos, f)
}

// runTo executes ops[from:to] on b from pos.
func (p *Parser) runTo(from, to int, b []byte, pos int, f *fields) (int, bool) {
	ops := p.format.ops
	for i := from; i < to; i++ {
		o := &ops[i]
		switch o.kind {
		case opLiteral:
			if o.lit == ' ' {
				n := blanks(b[pos:])
				if n == 0 {
					return pos, false
				}
				pos += n
				continue
			}
			if pos >= len(b) || b[pos] != o.lit {
				return pos, false
			}
			pos++
			continue
		case opOptional:
			if pos >= len(b) || b[pos] != ops[i+1].lit {
				i = int(o.jump) - 1
			}
			continue
		case opMonthName, opAmPm, opOffset, opWeekday, opAny:
			if end, ok := p.word(i, b, pos, f); ok {
				pos = end
				continue
			}
			return pos, false
		}
		v, n := 0, 0
		for n < int(o.max) && pos+n < len(b) {
			d := b[pos+n] - '0'
			if d > 9 {
				break
			}
			v = v*10 + int(d)
			n++
		}
		if n < int(o.min) {
			return pos, false
		}
		pos += n
		switch o.kind {
		case opYear4:
			f.year = v
		case opYear2:
			f.year = 2000 + v
			if v >= 70 {
				f.year = 1900 + v
			}
		case opMonth:
			f.month = v
		case opDay:
			f.day = v
		case opDayOfYear:
			f.doy = v
		case opHour24:
			f.hour = v
		case opHour12:
			if v < 1 || v > 12 {
				return pos, false
			}
			f.hour = v
		case opMinute:
			f.minute = v
		case opSecond:
			f.second = v
		case opHourMin:
			f.hour, f.minute = v/100, v%100
		case opFraction:
			m := int64(v)
			for ; n > 6; n-- {
				m /= 10
			}
			for ; n < 6; n++ {
				m *= 10
			}
			f.micros = m
		}
	}
	return pos, true
}

// date gives the local midnight in seconds since 1970.
func (f *fields) date() (int64, bool) {
	if f.year < 1 {
		return 0, false
	}
	leap := f.year%4 == 0 && (f.year%100 != 0 || f.year%400 == 0)
	if f.doy > 0 || f.month == 0 {
		last := 365
		if leap {
			last = 366
		}
		if f.doy < 1 || f.doy > last {
			return 0, false
		}
		return (daysFromCivil(f.year, 1, 1) + int64(f.doy) - 1) * 86400, true
	}
	if f.month < 1 || f.month > 12 || f.day < 1 {
		return 0, false
	}
	last := [13]int{0, 31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31}[f.month]
	if f.month == 2 && leap {
		last = 29
	}
	if f.day > last {
		return 0, false
	}
	return daysFromCivil(f.year, f.month, f.day) * 86400, true
}

// clock gives the seconds since local midnight; 24:00 is the next midnight.
func (f *fields) clock() (int64, bool) {
	h := f.hour
	if f.half != 0 {
		h %= 12
		if f.half == 2 {
			h += 12
		}
	}
	if h == 24 && (f.minute != 0 || f.second != 0 || f.micros != 0) || h > 24 || f.minute > 59 || f.second > 59 {
		return 0, false
	}
	return int64(h)*3600 + int64(f.minute)*60 + int64(f.second), true
}

func floorDiv(a, b int64) int64 {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}

// daysFromCivil counts the days from 1970-01-01 in the Gregorian calendar, by
// counting whole 400-year eras of 146097 days with the year begun in March.
func daysFromCivil(y, m, d int) int64 {
	if m <= 2 {
		y--
		m += 12
	}
	era := y / 400
	yoe := y - era*400
	doy := (153*(m-3)+2)/5 + d - 1
	return int64(era*146097 + yoe*365 + yoe/4 - yoe/100 + doy - 719468)
}
