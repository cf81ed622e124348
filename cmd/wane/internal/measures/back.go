package measures

import (
	"fmt"
	"math"
	"strings"
	"time"

	"wane/cmd/wane/internal/show"
	"wane/transform/measure"
)

// BackName is a measurement that was made, in few words.
func BackName(b *measure.Back) string {
	c := measure.Choice{}
	c.Kind, c.Target, c.Rooms = b.Kind, b.Target, b.Rooms
	name := Name(&c)
	if b.OfLamp() {
		name = fmt.Sprintf("reference meter at %s (%s)", b.Target, rooms(b.Rooms))
	}
	if !math.IsNaN(b.AsFound) {
		name += fmt.Sprintf(", as found %.3f", b.AsFound)
	}
	return b.Day.Format(time.DateOnly) + " " + name
}

// BackWords say what it was worth.
func BackWords(b *measure.Back) []string {
	var out []string
	if b.Dated > 0 {
		out = append(out, lamps(b.Dated)+" would have no date without it")
	}
	if b.Moved > 0 {
		dates := "1 due date"
		if b.Moved > 1 {
			dates = fmt.Sprintf("%d due dates", b.Moved)
		}
		out = append(out, fmt.Sprintf("it moved %s, by %.0f days in the median (%d later, %d earlier)",
			dates, b.Days, b.Later, b.Moved-b.Later))
	}
	if b.With > 0 {
		out = append(out, fmt.Sprintf("due dates known to within %.0f days, %.0f without it (medians of %s)",
			b.With, b.Without, lamps(b.Touched)))
	}
	if b.Undone > 0 {
		out = append(out, lamps(b.Undone)+" would have a date without it and have none: it showed that less is known")
	}
	if len(out) == 0 {
		out = []string{"it changed no due date by a week or more, and no interval by 5 %"}
	}
	return out
}

func lamps(n int) string {
	if n == 1 {
		return "1 lamp"
	}
	return fmt.Sprintf("%d lamps", n)
}

// BackNotes are what must be known of the figures of a look back.
func BackNotes() []string {
	return []string{
		"Each measurement is taken out of the record by itself and everything is fitted again; two that say the same " +
			"are each worth little, though together much.",
		"Of a recalibration that is taken out the day stays: the readings have its step in them, which then counts as " +
			"one of unknown size.",
		"A date counts as moved from 7 days on. Widths are of the lamps that have a date both ways and whose date " +
			"moved, or whose interval changed by 5 % or more; a date that moves away has a wider interval in days.",
	}
}

// BackTable lists what the last measurements were worth.
func BackTable(p *measure.Past) *show.Table {
	t := &show.Table{Columns: append(show.Columns("day", "measurement", "target", "room"),
		append([]show.Column{{Name: "as_found", Digits: 3}}, show.Columns("dates_moved", "moved_later", "moved_by_d",
			"lamps_dated", "lamps_undone", "lamps_touched", "width_without_d", "width_with_d")...)...)}
	for i := range p.Made {
		b := &p.Made[i]
		t.Add(show.Date(b.Day), b.Kind, b.Target, strings.Join(b.Rooms, " "), b.AsFound, b.Moved, b.Later, some(b.Days),
			b.Dated, b.Undone, b.Touched, some(b.Without), some(b.With))
	}
	return t
}
