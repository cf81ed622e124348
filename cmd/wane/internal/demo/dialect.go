package demo

import (
	"fmt"
	"strconv"
	"time"
)

// writer is how one kind of logger writes its files. A row holds the light
// channels, then the circuit's voltage and the air's temperature.
type writer interface {
	dayBreak(c *calendar, s int) bool // whether a day begins at this slot by the logger's clock
	period(c *calendar, s int) string // the export to which a day belongs
	file(place, period string) string // name of the file
	head(place string, channels int) []byte
	row(b []byte, c *calendar, s int, row []int64) []byte
	garbled(which int) string // a line that says nothing
	fullScale() int64         // the largest value that a light channel prints
	newline() string
}

// invented stands at the head of every file that allows a remark.
const invented = "INVENTED DATA of an invented site, made by a program; nobody measured this"

// milliVoltFactor turns the millivolts of the tab logger into umol/m2/s.
const milliVoltFactor = 4

func writerOf(d dialect, place string) writer {
	switch d {
	case semicolonLocal:
		return semicolon{}
	case commaUTC:
		return comma{}
	case tabEpoch:
		return &tab{place: place}
	}
	return &plain{place: place}
}

// semicolon: wide, decimal comma, wall clock with summer time, three title
// lines, Windows-1252, three dashes for no value.
type semicolon struct{}

func (semicolon) dayBreak(c *calendar, s int) bool { return c.minute[s] == 0 }
func (semicolon) period(c *calendar, s int) string { return localMonth(c, s) }
func (semicolon) file(place, period string) string { return place + "_" + period + ".csv" }
func (semicolon) fullScale() int64                 { return 19999 }
func (semicolon) newline() string                  { return "\r\n" }
func (semicolon) garbled(which int) string {
	return [...]string{"*** power fail ***", "31.02.2024 12:00;;;", "buffer overrun 0x7F"}[which%3]
}

func (semicolon) head(place string, channels int) []byte {
	b := []byte("Bay logger " + place + "\r\n" + invented + "\r\nPPFD in \xb5mol/m\xb2/s, U in V, T in \xb0C\r\nDate;Time")
	for ch := 1; ch <= channels; ch++ {
		b = fmt.Appendf(b, ";CH%d %s", ch, place)
	}
	return fmt.Appendf(b, ";U %s;T %s\r\n", place, place)
}

func (semicolon) row(b []byte, c *calendar, s int, row []int64) []byte {
	y, m, d := civil(c, s)
	b = two(b, d)
	b = append(b, '.')
	b = two(b, m)
	b = append(b, '.')
	b = strconv.AppendInt(b, int64(y), 10)
	b = append(b, ';')
	b = clock(b, int(c.minute[s]))
	for _, v := range row {
		b = append(b, ';')
		if v == missing {
			b = append(b, "---"...)
			continue
		}
		b = fixed(b, v, 1, ',')
	}
	return append(b, "\r\n"...)
}

// comma: wide, ISO times in UTC, a row of units under the names, -9999 for no
// value.
type comma struct{}

func (comma) dayBreak(c *calendar, s int) bool { return c.unix(s)%86400 == 0 }
func (comma) period(c *calendar, s int) string {
	return time.Unix(c.unix(s), 0).UTC().Format("200601")
}
func (comma) file(place, period string) string { return place + "-" + period + ".csv" }
func (comma) fullScale() int64                 { return 25000 }
func (comma) newline() string                  { return "\n" }
func (comma) garbled(which int) string {
	return [...]string{"# restart", "\x00\x00\x00\x00", "timeout,timeout"}[1+which%2]
}

func (comma) head(place string, channels int) []byte {
	b := []byte("# " + invented + "\ntime")
	for ch := 1; ch <= channels; ch++ {
		b = fmt.Appendf(b, ",CH%d %s", ch, place)
	}
	b = fmt.Appendf(b, ",U %s,T %s\nUTC", place, place)
	for range channels {
		b = append(b, ",umol/m2/s"...)
	}
	return append(b, ",V,degC\n"...)
}

func (comma) row(b []byte, c *calendar, s int, row []int64) []byte {
	u := c.unix(s)
	y, m, d := civilOf(u)
	b = strconv.AppendInt(b, int64(y), 10)
	b = append(b, '-')
	b = two(b, m)
	b = append(b, '-')
	b = two(b, d)
	b = append(b, 'T')
	b = clock(b, int(u%86400/60))
	b = append(b, ":00Z"...)
	for _, v := range row {
		b = append(b, ',')
		if v == missing {
			b = append(b, "-9999"...)
			continue
		}
		b = fixed(b, v, 1, '.')
	}
	return append(b, '\n')
}

// tab: long, seconds since 1970, a status on each line; light in millivolts.
type tab struct {
	place string
	names []string
}

func (*tab) dayBreak(c *calendar, s int) bool { return c.minute[s] == 0 }
func (*tab) period(c *calendar, s int) string { return localMonth(c, s) }
func (*tab) file(place, period string) string { return place + "_" + period + ".txt" }
func (*tab) fullScale() int64                 { return 50000 }
func (*tab) newline() string                  { return "\n" }
func (*tab) garbled(which int) string {
	return [...]string{"1700000000\tLG-", "\t\t\t\t", "checksum\terror"}[which%3]
}

func (*tab) head(string, int) []byte {
	return []byte("# " + invented + "\nepoch\tlogger\tparameter\tvalue\tstatus\n")
}

func (t *tab) row(b []byte, c *calendar, s int, row []int64) []byte {
	if t.names == nil {
		t.names = seriesNames(t.place, len(row)-2, '\t')
	}
	for i, v := range row {
		if v == missing {
			b = strconv.AppendInt(b, c.unix(s), 10)
			b = append(b, '\t')
			b = append(b, t.names[i]...)
			b = append(b, "\t0\tERR\n"...)
			continue
		}
		b = strconv.AppendInt(b, c.unix(s), 10)
		b = append(b, '\t')
		b = append(b, t.names[i]...)
		b = append(b, '\t')
		if i < len(row)-2 {
			b = fixed(b, v, 2, '.')
		} else {
			b = fixed(b, v, 1, '.')
		}
		b = append(b, "\tOK\n"...)
	}
	return b
}

// plain: time,sensor,channel,value with RFC 3339 times of the wall clock; no
// line for no value.
type plain struct {
	place string
	names []string
}

func (*plain) dayBreak(c *calendar, s int) bool { return c.minute[s] == 0 }
func (*plain) period(c *calendar, s int) string {
	date := c.moment(int(c.day[s]), 0)
	return date.AddDate(0, 0, -(int(date.Weekday())+6)%7).Format("20060102") // the week's Monday
}
func (*plain) file(place, period string) string { return place + "_week_" + period + ".csv" }
func (*plain) fullScale() int64                 { return 30000 }
func (*plain) newline() string                  { return "\n" }
func (*plain) garbled(which int) string {
	return [...]string{"2024-13-01T00:00:00Z,LG-PROPA,CH1,200", "n/a,LG-PROPA,CH2,", "LG-PROPA"}[which%3]
}

func (*plain) head(string, int) []byte { return []byte("time,sensor,channel,value\n") }

func (p *plain) row(b []byte, c *calendar, s int, row []int64) []byte {
	if p.names == nil {
		p.names = seriesNames(p.place, len(row)-2, ',')
	}
	var stamp [32]byte
	y, m, d := civil(c, s)
	at := strconv.AppendInt(stamp[:0], int64(y), 10)
	at = append(at, '-')
	at = two(at, m)
	at = append(at, '-')
	at = two(at, d)
	at = append(at, 'T')
	at = clock(at, int(c.minute[s]))
	at = append(at, ":00+"...)
	at = clock(at, int(c.offset[s])/60)
	at = append(at, ',')
	for i, v := range row {
		if v == missing {
			continue
		}
		b = append(b, at...)
		b = append(b, p.names[i]...)
		b = append(b, ',')
		b = fixed(b, v, 1, '.')
		b = append(b, '\n')
	}
	return b
}

// seriesNames gives "sensor<sep>channel" of each column.
func seriesNames(place string, channels int, sep byte) []string {
	var names []string
	for ch := 1; ch <= channels; ch++ {
		names = append(names, fmt.Sprintf("LG-%s%cCH%d", place, sep, ch))
	}
	return append(names, fmt.Sprintf("VT-%s%cU", place, sep), fmt.Sprintf("VT-%s%cT", place, sep))
}

func localMonth(c *calendar, s int) string { return c.moment(int(c.day[s]), 0).Format("2006-01") }

// civil is the calendar day of a slot by the wall clock.
func civil(c *calendar, s int) (y, m, d int) { return civilOf(c.unix(s) + int64(c.offset[s])) }

// civilOf is the calendar day of seconds since 1970 without a zone (Hinnant's
// civil_from_days).
func civilOf(u int64) (y, m, d int) {
	z := floorDiv(u, 86400) + 719468
	era := floorDiv(z, 146097)
	doe := z - era*146097
	yoe := (doe - doe/1460 + doe/36524 - doe/146096) / 365
	doy := doe - (365*yoe + yoe/4 - yoe/100)
	mp := (5*doy + 2) / 153
	d = int(doy - (153*mp+2)/5 + 1)
	m = int(mp + 3)
	if m > 12 {
		m -= 12
	}
	y = int(yoe + era*400)
	if m <= 2 {
		y++
	}
	return y, m, d
}

func two(b []byte, n int) []byte { return append(b, byte('0'+n/10), byte('0'+n%10)) }

func clock(b []byte, minute int) []byte {
	b = two(b, minute/60)
	b = append(b, ':')
	return two(b, minute%60)
}

// fixed prints a number that is given in its last digit.
func fixed(b []byte, v int64, digits int, point byte) []byte {
	if v < 0 {
		b = append(b, '-')
		v = -v
	}
	scale := int64(10)
	if digits == 2 {
		scale = 100
	}
	b = strconv.AppendInt(b, v/scale, 10)
	b = append(b, point)
	if digits == 2 {
		return two(b, int(v%scale))
	}
	return append(b, byte('0'+v%scale))
}
