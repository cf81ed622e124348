package main

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/spf13/cobra"

	"wane/cmd/wane/internal/show"
	"wane/transform/calendar"
	"wane/transform/due"
	"wane/transform/fleet"
	"wane/transform/forecast"
)

// plainWidth is how wide a table is that does not go to a terminal.
const plainWidth = 80

// widthOf is how many columns the output has.
func widthOf(w io.Writer) int {
	return cmp.Or(show.Width(w), plainWidth)
}

// dueChoice is which lamps are shown, and in which order.
type dueChoice struct {
	fixture, room, status, sort string
	rooms                       func(due.Line) string
}

// dueSorts are the orders of --sort.
var dueSorts = map[string]func(d dueChoice, a, b due.Line) int{
	"due":     func(_ dueChoice, a, b due.Line) int { return cmp.Compare(dueRank(a), dueRank(b)) },
	"fixture": func(dueChoice, due.Line, due.Line) int { return 0 }, // as they come
	"level":   func(_ dueChoice, a, b due.Line) int { return cmp.Compare(last(a.Level), last(b.Level)) },
	"room":    func(d dueChoice, a, b due.Line) int { return cmp.Compare(d.rooms(a), d.rooms(b)) },
}

// last puts what is not known behind all numbers.
func last(x float64) float64 {
	if math.IsNaN(x) {
		return math.Inf(1)
	}
	return x
}

// dueRank puts lamps in the order in which they ask for somebody: dark, then by
// date, then bounds and spans, then those without an answer.
func dueRank(l due.Line) float64 {
	switch {
	case l.Status == forecast.StatusDark:
		return math.Inf(-1)
	case l.Status == forecast.StatusUnder && math.IsNaN(l.DueDate):
		return -1e9
	case !math.IsNaN(l.DueDate):
		return l.DueDate
	case !math.IsNaN(l.DueDateLo):
		return 1e9 + l.DueDateLo
	}
	return math.Inf(1)
}

// dueChosen reads --fixture's, --room, --status and --sort.
func dueChosen(c *cobra.Command, o *opened, fixture string, format show.Format) (d dueChoice, err error) {
	f := c.Flags()
	d.fixture = fixture
	d.room, _ = f.GetString("room") // flags of this command: cannot fail
	d.status, _ = f.GetString("status")
	d.sort, _ = f.GetString("sort")
	if d.sort == "" && format == show.Text {
		d.sort = "due"
	}
	if d.sort != "" && dueSorts[d.sort] == nil {
		return d, usagef("--sort %q is not known; use due, fixture, level or room", d.sort)
	}
	every := []forecast.Status{forecast.StatusForecast, forecast.StatusUnder, forecast.StatusBeyond,
		forecast.StatusTooEarly, forecast.StatusInseparable, forecast.StatusDark, forecast.StatusNoData}
	if d.status != "" && !slices.Contains(every, forecast.Status(d.status)) {
		return d, usagef("--status %q is not known; use forecast, under, beyond, too-early, inseparable, dark or no-data",
			d.status)
	}
	d.rooms = func(l due.Line) string {
		fx := o.Register.Fixture(l.Fixture)
		if fx == nil {
			return ""
		}
		return o.Register.PlaceAt(fx, calendar.Start(l.AsOf+1, o.Config.Location)).Room
	}
	if d.room != "" && !slices.ContainsFunc(o.Register.Fixtures, func(f fleet.Fixture) bool { return f.Room == d.room }) {
		return d, usagef("--room %q: the register names no such room", d.room)
	}
	return d, nil
}

// of gives the lamps chosen, in their order.
func (d dueChoice) of(lines []due.Line) []due.Line {
	var out []due.Line
	for _, l := range lines {
		if (d.fixture == "" || l.Fixture == d.fixture) && (d.room == "" || d.rooms(l) == d.room) &&
			(d.status == "" || string(l.Status) == d.status) {
			out = append(out, l)
		}
	}
	if by := dueSorts[d.sort]; by != nil {
		slices.SortStableFunc(out, func(a, b due.Line) int { return by(d, a, b) })
	}
	return out
}

// dueText prints the lamps for people, in so many columns.
func dueText(w io.Writer, lines []due.Line, width int) error {
	name := len("fixture")
	for _, l := range lines {
		name = max(name, utf8.RuneCountInString(show.OneLine(l.Fixture)))
	}
	name = min(name, max((width-52)/2, 8))
	left := width - name - 54
	var b strings.Builder
	line := func(fixture, level, due, span, status, reason string) {
		text := fmt.Sprintf("%-*s  %11s  %10s  %13s  %-11s", name, cut(show.OneLine(fixture), name), level, due, span, status)
		if left > 8 {
			text += " " + cut(show.OneLine(reason), left-1)
		}
		b.WriteString(strings.TrimRight(text, " ") + "\n")
	}
	line("fixture", "level", "due", "interval", "status", "reason")
	for _, l := range lines {
		level, due := "-", "-"
		if !math.IsNaN(l.Level) {
			level = fmt.Sprintf("%.2f", l.Level)
			if half := (l.LevelHi - l.LevelLo) / 2; !math.IsNaN(half) {
				level += fmt.Sprintf(" ±%.3f", half)
			}
		}
		if !math.IsNaN(l.DueDate) {
			due = calendar.Date(int32(l.DueDate)).Format("2006-01-02")
		}
		line(l.Fixture, level, due, dueSpan(l), string(l.Status), shortReason(l))
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// dueSpan is the interval of the date by months: "Feb 27-Oct 27".
func dueSpan(l due.Line) string {
	month := func(day float64) string {
		if math.IsNaN(day) {
			return ""
		}
		return calendar.Date(int32(day)).Format("Jan 06")
	}
	lo, hi := month(l.DueDateLo), month(l.DueDateHi)
	switch {
	case lo == "" && hi == "":
		return ""
	case hi == "":
		return "from " + lo
	case lo == "":
		return "to " + hi
	}
	return lo + "-" + hi
}

// shortReasons are the reasons that come often, in few words.
var shortReasons = []struct{ has, short string }{
	{"drift of the sensor and ageing", "drift or ageing?"}, {"dirt and ageing of the lamp can't", "dirt or ageing?"},
	{"which, hangs on a step", "step unexplained"}, {"which nobody reads", "supply or air unread"},
	{"still reaches the threshold", "borderline"}, {"sensor drifts unseen", "sensor drift counts"},
	{"assumed to be dirt", "dirt assumed"}, {"cohort of one", "alone in its cohort"},
	{"no complete week", "too few readings"},
}

// shortReason is the reason in few words; `wane explain` has it whole.
func shortReason(l due.Line) string {
	for _, r := range shortReasons {
		if strings.Contains(l.Reason, r.has) {
			return r.short
		}
	}
	parts := strings.Split(l.Reason, "; ")
	if len(parts) > 1 && strings.HasPrefix(parts[0], "already under") {
		parts = parts[1:]
	} else if strings.HasPrefix(parts[0], "already under") {
		return ""
	}
	return parts[0]
}

// cut shortens words to so many letters.
func cut(s string, n int) string {
	if utf8.RuneCountInString(s) <= n {
		return s
	}
	return string([]rune(s)[:max(n-1, 0)]) + "…"
}
