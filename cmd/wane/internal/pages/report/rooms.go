package report

import (
	"fmt"
	"sort"

	"wane/transform/due"
	"wane/transform/forecast"
)

// tally counts lamps by the centre, and by the two ends, of their intervals.
type tally struct{ fewest, count, most int }

func (t *tally) add(fewest, count, most bool) {
	for _, x := range []struct {
		to *int
		is bool
	}{{&t.fewest, fewest}, {&t.count, count}, {&t.most, most}} {
		if x.is {
			*x.to++
		}
	}
}

// value writes a tally: "5 (3 to 6)"; where nothing is in doubt, "5".
func (t tally) value() Value {
	if t.fewest == t.most {
		return Value{Centre: fmt.Sprint(t.count)}
	}
	return Value{fmt.Sprint(t.count), fmt.Sprintf("%d to %d", t.fewest, t.most)}
}

// state is what the overview counts.
type state struct {
	room                 string
	lamps, dark, unknown int
	under, soon, halfway tally
	first                *due.Lamp // the next to fall due
}

func (s *state) add(d *due.Lamp, asOf int32) {
	s.lamps++
	a := &d.Answer
	switch a.Status {
	case forecast.StatusDark:
		s.dark++
		return
	case forecast.StatusUnder:
		s.under.add(a.Level.Hi <= d.Threshold, true, true)
		return
	}
	switch a.Status {
	case forecast.StatusInseparable, forecast.StatusTooEarly, forecast.StatusNoData:
		s.unknown++
	}
	if a.Level.Lo <= d.Threshold { // not where it is NaN
		s.under.add(false, false, true)
	}
	if a.Status != forecast.StatusForecast || !a.DueDay.Known() {
		return
	}
	by := func(days int32) (fewest, count, most bool) {
		end := float64(asOf + days)
		return a.DueDay.Hi <= end, a.DueDay.Centre <= end, a.DueDay.Lo <= end
	}
	s.soon.add(by(soon))
	s.halfway.add(by(later))
	if s.first == nil || a.DueDay.Centre < s.first.Answer.DueDay.Centre {
		s.first = d
	}
}

// roomTable sums every room up.
func (b *book) roomTable(o *overview) {
	by := map[string]*state{}
	var order []string
	for i := range b.due {
		d := &b.due[i]
		room := d.Life.Place.Room
		if by[room] == nil {
			by[room] = &state{room: room}
			order = append(order, room)
		}
		by[room].add(d, b.asOf)
	}
	sort.Strings(order)
	o.Rooms = Table{Caption: "Rooms at a glance. In brackets: how many lamps by the late and by the early ends of their intervals",
		Head: columns("Room", "#Lamps", "#Under now", "#Dark", "#No date", fmt.Sprintf("#Due in %d days", soon),
			fmt.Sprintf("#Due in %d days", later), "Next to fall due")}
	for _, room := range order {
		s := by[room]
		next := cell("none with a date")
		if s.first != nil {
			next = of(DateOf(s.first.Answer.DueDay))
			next.Note = s.first.Life.Fixture.ID
		}
		name := room
		if name == "" {
			name = "no room named"
		}
		o.Rooms.Rows = append(o.Rooms.Rows, Row{Cells: []Cell{{Text: name, Link: b.roomLink[room]}, cell(fmt.Sprint(s.lamps)),
			of(s.under.value()), cell(fmt.Sprint(s.dark)), cell(fmt.Sprint(s.unknown)), of(s.soon.value()),
			of(s.halfway.value()), next}})
	}
}
