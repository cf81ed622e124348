package schedules

import (
	"log/slog"
	"time"
)

// minutely is the cron.Schedule of the ticks: at once, then at each full
// minute.
//
// It adds to the time it is given, so that the result keeps its monotonic
// reading and the wait until then does not depend on the wall clock. With the
// library's own schedule for "* * * * *", which drops that reading, ticks would
// stop for a year if the clock were set back a year.
type minutely struct {
	begun bool // only the clockwork's goroutine calls Next
}

// Next implements cron.Schedule.
func (m *minutely) Next(t time.Time) time.Time {
	if !m.begun {
		m.begun = true
		return t
	}
	into := time.Duration(t.Second())*time.Second + time.Duration(t.Nanosecond())
	return t.Add(time.Minute - into)
}

// cronLog passes on what the clockwork logs: its routine, which includes every
// tick skipped during a long run, is for those who look for a fault.
type cronLog struct{ log *slog.Logger }

// Info implements cron.Logger.
func (c cronLog) Info(msg string, keysAndValues ...any) {
	c.log.Debug("clockwork: "+msg, keysAndValues...)
}

// Error implements cron.Logger.
func (c cronLog) Error(err error, msg string, keysAndValues ...any) {
	c.log.Error("clockwork: "+msg, append([]any{logError, err}, keysAndValues...)...)
}
