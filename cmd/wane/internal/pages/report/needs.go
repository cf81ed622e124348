package report

import (
	"fmt"
	"sort"
	"strings"

	"wane/cmd/wane/internal/derive"
	"wane/transform/fleet"
	"wane/transform/forecast"
)

// needGroup is the needs of one kind.
type needGroup struct {
	heading string
	list    []Need
}

// needs gathers what waits for a person, what costs light first.
func (b *book) needs() []needGroup {
	groups := []needGroup{
		{"Dark lamps", b.dark()},
		{"Silent loggers", b.silent()},
		{"Reported by the last run", b.in.Needs},
		{"Lamps that no reading tells of", b.unread()},
		{"What would settle an open question", b.unsettled()},
		{"Logbook lines that could not be used", b.notes()},
	}
	var out []needGroup
	for _, g := range groups {
		if len(g.list) > 0 {
			out = append(out, g)
		}
	}
	return out
}

func (b *book) dark() []Need {
	var out []Need
	for i := range b.due {
		d := &b.due[i]
		if d.Answer.Status != forecast.StatusDark {
			continue
		}
		l := d.Life
		what := "dark since " + dateAt(l.To, b.in.location())
		if l.End == fleet.Fail {
			for _, e := range b.in.Result.Register.Events(l.Fixture) {
				if e.What == fleet.Fail && e.At.Equal(l.To) && e.Value != "" {
					what += " (" + e.Value + ")"
				}
			}
		}
		out = append(out, Need{Where: l.Fixture.ID + ", " + l.Place.Room, What: what, Do: "replace the lamp, and log the relamp with its cohort", Link: b.links[l.Fixture.ID]})
	}
	return out
}

func (b *book) silent() []Need {
	type silence struct {
		days int
		who  []string
	}
	by := map[string]*silence{}
	var sensors []string
	for i := range b.due {
		l := b.due[i].Life
		n := l.Silent(b.asOf)
		if n == 0 {
			continue
		}
		s := by[l.SensorLast]
		if s == nil {
			s = &silence{}
			by[l.SensorLast] = s
			sensors = append(sensors, l.SensorLast)
		}
		s.days = max(s.days, n)
		s.who = append(s.who, l.Fixture.ID)
	}
	sort.Strings(sensors)
	var out []Need
	for _, id := range sensors {
		s := by[id]
		out = append(out, Need{
			Where: "sensor " + id,
			What:  fmt.Sprintf("nothing read for %s; it watches %s", count(s.days, "day", "days"), few(s.who)),
			Do:    "check its power, its wiring and whether its files arrive; its lamps are reckoned on from what was read before",
			Link:  b.links[s.who[0]],
		})
	}
	return out
}

func (b *book) unread() []Need {
	by := map[string][]string{}
	for i := range b.due {
		d := &b.due[i]
		if d.Answer.Status == forecast.StatusNoData && d.Life.Silent(b.asOf) == 0 {
			by[d.Answer.Reason] = append(by[d.Answer.Reason], d.Life.Fixture.ID)
		}
	}
	return grouped(by, func(why string, who []string) Need {
		return Need{Where: few(who), What: why, Do: "see that sensors.csv names a sensor that watches it and that its files arrive", Link: b.links[who[0]]}
	})
}

// unsettled gives each act that would settle something once, with the lamps it
// would serve. Only lamps whose date hangs on it are counted.
func (b *book) unsettled() []Need {
	by := map[string][]string{}
	for i := range b.due {
		d := &b.due[i]
		if d.Answer.Status == forecast.StatusInseparable {
			by[d.Answer.Identity.Settle] = append(by[d.Answer.Identity.Settle], d.Life.Fixture.ID)
		}
	}
	return grouped(by, func(act string, who []string) Need {
		if act == "" {
			act = "read it once against a reference meter, and log the reference"
		}
		return Need{Where: few(who), What: "drift of the sensor and ageing of the lamp cannot be told apart: no date can be given", Do: act, Link: b.links[who[0]]}
	})
}

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
		out = append(out, Need{Where: where, What: what, Do: "correct the line, or add the row of the register that it speaks of"})
	}
	return out
}

// grouped makes a need of each group, that with the most lamps first.
func grouped(by map[string][]string, need func(key string, who []string) Need) []Need {
	keys := make([]string, 0, len(by))
	for k := range by {
		keys = append(keys, k)
	}
	sort.Slice(keys, func(i, j int) bool {
		a, b := keys[i], keys[j]
		if len(by[a]) != len(by[b]) {
			return len(by[a]) > len(by[b])
		}
		return a < b
	})
	var out []Need
	for _, k := range keys {
		out = append(out, need(k, by[k]))
	}
	return out
}

// few names some and counts the rest.
func few(who []string) string {
	const most = 6
	if len(who) <= most {
		return strings.Join(who, ", ")
	}
	return strings.Join(who[:most-1], ", ") + fmt.Sprintf(" and %d more", len(who)-most+1)
}

// needsTable lays the needs out.
func (b *book) needsTable() (Table, int) {
	t := Table{Caption: "What needs a person, what costs light first", Head: columns("Where", "What is the matter", "What to do"),
		Empty: "Nothing waits for a person.", Wordy: true}
	n := 0
	for _, g := range b.needs() {
		t.Rows = append(t.Rows, Row{Heading: g.heading})
		for _, x := range g.list {
			n++
			t.Rows = append(t.Rows, Row{Cells: []Cell{{Text: x.Where, Link: x.Link}, cell(sentence(x.What)), cell(sentence(x.Do))}})
		}
	}
	return t, n
}

// isDue says whether the lamp has a date on which it falls due, or had.
func isDue(d *derive.Due) bool {
	return (d.Answer.Status == forecast.StatusForecast || d.Answer.Status == forecast.StatusUnder) && d.Answer.DueDay.Known()
}
