package stamp

import (
	"bytes"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
)

// perUnit is how many microseconds the unit of a counting form has; nanoseconds
// are 0, a thousandth.
var perUnit = map[Form]int64{EpochSeconds: 1e6, EpochMillis: 1e3, EpochMicros: 1, EpochNanos: 0}

// wrapped is a count of milliseconds as some serializers of JSON write dates: /Date(0)/. An
// offset behind it says where the writer was, and changes nothing.
var wrapped = regexp.MustCompile(`^/Date\((\d+)([+-]\d{4})?\)/$`)

// epoch reads a count of seconds, or of parts of them, since 1970, with decimals.
func (p *Parser) epoch(b []byte) (Moment, *Error) {
	bad := func() (Moment, *Error) {
		return Moment{}, &Error{"bad-time", fmt.Sprintf("does not read as %s", p.format.Pattern)}
	}
	if len(b) > 0 && b[0] == '/' && p.format.Form == EpochMillis {
		m := wrapped.FindSubmatch(b)
		if m == nil {
			return bad()
		}
		b = m[1]
	}
	whole, frac, point := bytes.Cut(bytes.Replace(b, []byte{','}, []byte{'.'}, 1), []byte{'.'})
	if len(whole) == 0 || len(whole) > 19 || point && len(frac) == 0 {
		return bad()
	}
	var v int64
	for _, c := range whole {
		if c < '0' || c > '9' || v > (math.MaxInt64-9)/10 {
			return bad()
		}
		v = v*10 + int64(c-'0')
	}
	scale := perUnit[p.format.Form]
	if scale == 0 {
		v /= 1000
	} else if v > (1<<62)/scale {
		return bad()
	} else {
		v *= scale
	}
	for _, c := range frac {
		if c < '0' || c > '9' {
			return bad()
		}
		scale /= 10
		v += int64(c-'0') * scale
	}
	return Moment{Local: floorDiv(v, 1e6), UTC: v, Resolved: true}, nil
}

// serialZero is the spreadsheet day number of 1970-01-01 in the 1900 date system
// (ECMA-376 part 1, 18.17.4.1), and maxSerial that of 9999-12-31.
const (
	serialZero = 25569
	maxSerial  = 2958465
)

// serial reads a spreadsheet's day number, whose fraction is the time of day on
// the logger's own clock. It is rounded to the decimals of a second that its digits hold: eight behind the point to a
// millisecond, six to a tenth. Day numbers are floats, whose 15 digits hold no more.
func (p *Parser) serial(b []byte) (Moment, *Error) {
	day, err := strconv.ParseFloat(strings.Replace(string(b), ",", ".", 1), 64)
	if err != nil || len(b) == 0 || !(day >= 61) || day > maxSerial || b[0] == '+' ||
		bytes.ContainsAny(b, "eExXpP_") { // before 61 the system counts a day that never was
		return Moment{}, &Error{"bad-time", fmt.Sprintf("does not read as %s", p.format.Pattern)}
	}
	behind := 0
	if at := bytes.IndexAny(b, ".,"); at >= 0 {
		behind = len(b) - at - 1
	}
	per := int64(math.Pow10(min(max(behind-5, 0), 3))) // of a second
	n := int64(math.Round((day - serialZero) * 86400 * float64(per)))
	return p.finish(floorDiv(n, per), &fields{micros: (n - per*floorDiv(n, per)) * (1e6 / per)}), nil
}
