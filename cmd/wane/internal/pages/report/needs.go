package report

import (
	"strings"

	"wane/transform/due"
	"wane/transform/fleet"
	"wane/transform/forecast"
)

// darkSince says since when a lamp is dark, and how it failed where the logbook
// says so.
func (b *book) darkSince(id string) string {
	l := b.byName[id].Life
	what := "dark since " + dateAt(l.To, b.in.location())
	if l.End == fleet.Fail {
		for _, e := range b.in.Result.Register.Events(l.Fixture) {
			if e.What == fleet.Fail && e.At.Equal(l.To) && e.Value != "" {
				what += " (" + e.Value + ")"
			}
		}
	}
	return what
}

// notes are the logbook lines that could not be used.
func (b *book) notes() []Need {
	if b.in.Result == nil {
		return nil
	}
	var out []Need
	for _, n := range b.in.Result.Notes {
		where, what, ok := strings.Cut(n, ": ")
		if !ok {
			where, what = "register", n
		}
		out = append(out, Need{Where: where, What: what,
			Do: "correct the line, or add the row of the register that it speaks of"})
	}
	return out
}

// isDue says whether the lamp has a date on which it falls due, or had.
func isDue(d *due.Lamp) bool {
	return (d.Answer.Status == forecast.StatusForecast || d.Answer.Status == forecast.StatusUnder) &&
		d.Answer.DueDay.Known()
}
