package ingest

import (
	"fmt"
	"time"

	"wane/ingest/archive"
)

// leastSteps is from how many steps on a file has a direction; one step in
// oneIn against it is no place any more but a habit (common practice, no source).
const (
	leastSteps = 10
	oneIn      = 50
)

// timeReversals tells the first place where the time of a file's series turns, ""
// where it does not, or where the file is in no order at all, which is nobody's
// clock. Time may go either way: some loggers export the newest first. A file
// that goes one way but for a few places had its clock set in between, or was
// joined from several exports; its readings are kept all the same.
func timeReversals(t archive.TimeReversals) string {
	usual, odd, way := t.Up, t.Down, "back"
	if t.Down.Steps > t.Up.Steps {
		usual, odd, way = t.Down, t.Up, "forward"
	}
	if odd.Steps == 0 || usual.Steps < leastSteps || odd.Steps > max(1, usual.Steps/oneIn) {
		return ""
	}
	step := time.Duration(odd.To-odd.From) * time.Microsecond
	if step < 0 {
		step = -step
	}
	at := func(t int64) string { return time.UnixMicro(t).UTC().Format(time.RFC3339) }
	return fmt.Sprintf("time runs %s by %s at line %d, from %s to %s: the logger's clock was set, or several exports were joined", way, step, odd.Line, at(odd.From), at(odd.To))
}
