package report

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"wane/cmd/wane/internal/pages/chart"
	"wane/transform/calendar"
	"wane/transform/fleet"
	"wane/transform/lamp"
	"wane/transform/level"
	"wane/transform/robust"
)

// happened gives the logbook lines about a fixture and about the sensors that
// read its light, in time order.
func happened(b *book, f *fleet.Fixture, lives []*lamp.Life) []fleet.Entry {
	var light []string
	for _, l := range lives {
		light = append(light, l.Light...)
	}
	return b.in.Result.Register.EventsWith(f, light)
}

// events lists what was done to the fixture and its sensors, the latest first.
func events(b *book, f *fleet.Fixture, lives []*lamp.Life) Table {
	t := Table{Caption: "What the logbook says of this fixture and its sensors, the latest first",
		Head:  columns("Date", "Letter", "What", "Of", "#Lamp life and run-hours", "Note"),
		Empty: "The logbook has no line about this fixture."}
	list, told := happened(b, f, lives), false
	for i := len(list) - 1; i >= 0; i-- {
		e := list[i]
		what := cell(eventWords(&e, b))
		if day := calendar.DayOf(e.At, b.in.location()); e.What == fleet.Clean {
			if l := hungOn(lives, day); l != nil {
				what.Note = cleanedWords(l, day)
				told = told || what.Note != ""
			}
		}
		t.Rows = append(t.Rows, Row{Cells: []Cell{cell(dateAt(e.At, b.in.location())), cell(letters[e.What]), what,
			cell(strings.TrimSpace(string(e.Scope) + " " + e.ID)),
			cell(lifeOn(lives, calendar.DayOf(e.At, b.in.location()))), cell(e.Note)}})
	}
	if told {
		t.Caption += "; " + cleanedMeans
	}
	return t
}

// hungOn is the lamp that hung on a day; nil where none did.
func hungOn(lives []*lamp.Life, day int32) *lamp.Life {
	for _, l := range lives {
		if day >= l.FirstDay && day <= l.LastDay {
			return l
		}
	}
	return nil
}

// lifeOn says which lamp hung on a day, and at how many run-hours.
func lifeOn(lives []*lamp.Life, day int32) string {
	for i := len(lives) - 1; i >= 0; i-- {
		if l := lives[i]; day >= l.FirstDay {
			return fmt.Sprintf("life %d, %s h", l.N, chart.Number(hoursOn(l, day), 0))
		}
	}
	return "before the record"
}

func eventWords(e *fleet.Entry, b *book) string {
	switch e.What {
	case fleet.Recalibrate:
		if e.Number > 0 {
			return fmt.Sprintf("sensor recalibrated; it read %s times the truth", chart.Number(e.Number, 3))
		}
		return "sensor recalibrated; what it read before was not noted"
	case fleet.ReferenceIs:
		return "reference meter: " + e.Value
	case fleet.Relamp:
		if e.Value != "" {
			return "new lamp, cohort " + e.Value
		}
		return "new lamp"
	case fleet.Clean:
		if e.Value != "" {
			return "cleaned: " + e.Value
		}
		return "cleaned"
	case fleet.Dim:
		return "set point " + e.Value + " %"
	case fleet.Move:
		return "moved to bay " + e.Value
	case fleet.Outage:
		return "no power until " + dateAt(e.Until, b.in.location())
	case fleet.Fail:
		return strings.TrimSuffix("failed: "+e.Value, ": ")
	case fleet.HoursRead:
		return "run-hours read: " + e.Value + " h"
	case fleet.Regear:
		return "ballast or driver replaced"
	case fleet.Install:
		return "installed"
	case fleet.Retire:
		return "taken down"
	}
	return string(e.What)
}

// way is the way back from the levels to what was read.
type way struct {
	Days     []string
	Sensors  Table
	Gains    Table
	Size     Table
	Excluded *Table
	Files    *Table
}

func wayBack(b *book, l *lamp.Life) way {
	var w way
	with, unread := 0, 0
	for i := range l.Days {
		if l.Days[i].Usable > 0 {
			with++
		} else {
			unread++
		}
	}
	if l.LastDay >= l.FirstDay {
		w.Days = append(w.Days, fmt.Sprintf("This lamp life is on record from %s to %s: %s.", date(l.FirstDay),
			date(l.LastDay), count(int(l.LastDay-l.FirstDay)+1, "day", "days")))
	}
	if d := b.byName[l.Fixture.ID]; d != nil && d.Surveyed() && d.Life.N == l.N {
		w.Days = append(w.Days, fmt.Sprintf("No logger reads it: what is said of it rests on %s and its run-hours.",
			count(d.Posterior.Bins, "canopy survey", "canopy surveys")))
		return w
	}
	w.Days = append(w.Days, fmt.Sprintf("%s with steady light readings, %s without; %s became levels.",
		count(with, "day", "days"), count(unread, "day", "days"), chart.Number(float64(len(l.Levels)), 0)))
	w.Sensors = sensors(b, l)
	w.Gains = gains(b, l)
	w.Size = corrections(l)
	if ev, ok := b.in.Evidence[l.Fixture.ID]; ok {
		w.Days = append(w.Days, fmt.Sprintf("Of %s of its light, %s count.", count(ev.Read, "reading", "readings"),
			chart.Number(float64(ev.Used), 0)))
		w.Excluded = &Table{Caption: "Readings that do not count", Head: columns("Reason", "#Readings"),
			Empty: "Every reading counts."}
		for _, x := range ev.LeftOut {
			w.Excluded.Rows = append(w.Excluded.Rows, Row{Cells: []Cell{cell(x.Reason),
				cell(chart.Number(float64(x.Count), 0))}})
		}
		w.Files = &Table{Caption: "Files taken in that hold its readings", Head: columns("File", "#Rows", "SHA-256"),
			Empty: "No file is named."}
		for _, x := range ev.Files {
			w.Files.Rows = append(w.Files.Rows, Row{Cells: []Cell{cell(x.Name), cell(chart.Number(float64(x.Rows), 0)),
				cell(x.SHA256)}})
		}
	}
	return w
}

// sensors lists the series that watch the fixture at the end of the life.
func sensors(b *book, l *lamp.Life) Table {
	t := Table{Caption: "Series that watch it", Head: columns("Quantity", "Sensor and channel", "Watches", "#Factor",
		"From", "To"), Empty: "No series watches it."}
	at := calendar.Start(l.LastDay, b.in.location()).Add(12 * 3600e9)
	for _, q := range fleet.Quantities {
		p := b.in.Result.Register.Watch(l.Fixture, q.Name, at)
		if p == nil {
			continue
		}
		to := "still"
		if !p.To.IsZero() {
			to = dateAt(p.To, b.in.location())
		}
		t.Rows = append(t.Rows, Row{Cells: []Cell{cell(string(q.Name) + ", " + q.Unit),
			cell(strings.TrimSpace(p.Sensor + " " + p.Channel)), cell(p.Watches), cell(sig(p.Factor)),
			cell(dateAt(p.From, b.in.location())), cell(to)}})
	}
	return t
}

// gains lists the recalibrations of the sensors that read its light.
func gains(b *book, l *lamp.Life) Table {
	t := Table{Caption: "Recalibrations of the sensors that read its light",
		Head:  columns("Sensor", "Date", "#As-found gain"),
		Empty: "No recalibration is logged: how far the sensor has drifted is assumed, not measured."}
	ids := append([]string(nil), l.Light...)
	sort.Strings(ids)
	for _, id := range ids {
		for _, c := range b.in.Result.Register.Calibrations(id) {
			gain := "not noted"
			if c.AsFound > 0 {
				gain = chart.Number(c.AsFound, 3)
			}
			t.Rows = append(t.Rows, Row{Cells: []Cell{cell(id), cell(dateAt(c.At, b.in.location())), cell(gain)}})
		}
	}
	return t
}

// corrections says how much each correction did over the last days, and on how
// many days of the life something was missing.
func corrections(l *lamp.Life) Table {
	t := Table{Caption: "Corrections in the levels as read",
		Head: columns("Correction", fmt.Sprintf("#Median of the last %d days (least and greatest)", recentDays),
			"Days of the life on which it is not measured"), Empty: "There are no levels yet."}
	if len(l.Levels) == 0 {
		return t
	}
	since := l.Levels[len(l.Levels)-1].Day - recentDays
	missing := func(f level.Flags) string {
		n := 0
		for i := range l.Levels {
			if l.Levels[i].Flags&f != 0 {
				n++
			}
		}
		return fmt.Sprintf("%s of %s", chart.Number(float64(n), 0), chart.Number(float64(len(l.Levels)), 0))
	}
	row := func(name string, get func(*level.Level) float64, f level.Flags, what string) {
		var v []float64
		for i := range l.Levels {
			if l.Levels[i].Day > since {
				v = append(v, 100*math.Expm1(get(&l.Levels[i])))
			}
		}
		pc := func(x float64) string { return chart.Number(x, 1) }
		t.Rows = append(t.Rows, Row{Cells: []Cell{cell(name),
			{Text: pc(robust.Median(v)) + "\u00a0%", Interval: pc(quantile(v, 0)) + " to " + pc(quantile(v, 1)) + "\u00a0%"},
			cell(missing(f) + " days: " + what)}})
	}
	row("sensor drift", func(x *level.Level) float64 { return x.Gain }, level.GainAhead|level.GainUnknown,
		"after the last recalibration, or never recalibrated")
	row("supply voltage", func(x *level.Level) float64 { return x.Supply }, level.NoSupply, "voltage was not read")
	row("ambient temperature", func(x *level.Level) float64 { return x.Ambient }, level.NoAmbient,
		"temperature was not read")
	return t
}
