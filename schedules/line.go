package schedules

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/robfig/cron/v3"
)

// ErrLine is what every error of ParseLine wraps.
var ErrLine = errors.New("not a cron line")

const lineHint = `write five fields (minute hour day month weekday, Sunday is 0) such as "15 2 * * *"`

// Line is a parsed cron line: a set of clock times. It holds no time zone;
// Next is told one. The zero Line is not usable.
type Line struct {
	text string
	spec *cron.SpecSchedule // with its Location set to UTC, see nextCivil
}

// String is the line as written.
func (l Line) String() string { return l.text }

// parser takes minute, hour, day of month, month, day of week, and @daily and
// the like.
var parser = cron.NewParser(cron.Minute | cron.Hour | cron.Dom | cron.Month | cron.Dow | cron.Descriptor)

// ParseLine reads a cron line. Errors wrap ErrLine and say what to write.
func ParseLine(text string) (Line, error) {
	text = strings.TrimSpace(text)
	bad := func(why string) (Line, error) {
		return Line{}, fmt.Errorf("%q is %w: %s; %s", text, ErrLine, why, lineHint)
	}
	// The library would take these, and panics on a zone without fields.
	if strings.HasPrefix(text, "TZ=") || strings.HasPrefix(text, "CRON_TZ=") {
		return bad("a line has no time zone of its own, it is read in the site's")
	}
	parsed, err := parser.Parse(text)
	if err != nil {
		return bad(err.Error())
	}
	spec, ok := parsed.(*cron.SpecSchedule)
	if !ok {
		return bad("an interval has no clock times")
	}
	const star = 1 << 63 // the library's mark of a field written as "*"
	for _, bits := range []uint64{spec.Minute, spec.Hour, spec.Dom, spec.Month, spec.Dow} {
		if bits&^star == 0 {
			return bad("a field names no value")
		}
	}
	spec.Location = time.UTC
	// Every date that exists occurs within the library's five years from 2000,
	// 29 February included.
	if spec.Next(time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC).Add(-time.Second)).IsZero() {
		return bad("no such date exists")
	}
	return Line{text: text, spec: spec}, nil
}

// nextCivil gives the line's first clock time after c. Clock times are carried
// as UTC times with the same figures: in UTC each exists exactly once, so the
// library's search never meets a clock change.
func (l Line) nextCivil(c time.Time) time.Time {
	for {
		if n := l.spec.Next(c); !n.IsZero() {
			return n
		}
		// The library gives up after five years; 29 February can be eight away.
		c = time.Date(c.Year()+5, 1, 1, 0, 0, 0, 0, time.UTC).Add(-time.Second)
	}
}
