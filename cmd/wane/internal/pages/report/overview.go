package report

import (
	"fmt"
	"html/template"
	"math"
	"sort"

	"wane/cmd/wane/internal/derive"
	"wane/cmd/wane/internal/pages/chart"
	"wane/transform/estimate"
	"wane/transform/forecast"
)

// The two horizons of "due next", days.
const (
	soon  = 90
	later = 180
)

// overview is the page that is read in a minute.
type overview struct {
	Nothing  bool // nothing was taken in yet
	Tiles    []tile
	Rooms    Table
	Under    Table
	Next     Table
	NextNote string
	Timeline *Figure
	Needs    Table
	Lamps    Table
	Legend   []Status
	Interval string
}

// tile is one of the counts on top.
type tile struct {
	Count, Interval, Words, Link string
	Urgent                       bool
}

func overviewOf(b *book) (any, bool) {
	o := overview{Nothing: b.in.Result == nil || len(b.due) == 0, Legend: statuses, Interval: percentage(b.interval())}
	needs, waiting := b.needsTable()
	o.Needs = needs
	site := b.rooms(&o)
	b.under(&o)
	b.next(&o)
	b.timeline(&o)
	b.lampTable(&o)
	under, near := site.under.value(), site.soon.value()
	o.Tiles = []tile{
		{count(site.under.count, "lamp", "lamps"), under.Interval, "under the threshold now", "#under", site.under.count > 0},
		{count(site.soon.count, "lamp", "lamps"), near.Interval, fmt.Sprintf("due in the next %d days", soon), "#next", false},
		{count(waiting, "thing", "things"), "", "waiting for a person", "#needs", waiting > 0},
		{count(len(b.due), "lamp", "lamps"), "", "in service", "#lamps", false},
	}
	return o, true
}

func (b *book) interval() float64 {
	if b.in.Result != nil && b.in.Result.Interval > 0 {
		return b.in.Result.Interval
	}
	return b.in.Config.Interval
}

// under lists the lamps under their threshold by room, the weakest first.
func (b *book) under(o *overview) {
	o.Under = Table{Caption: "Lamps under their threshold now, by room, the weakest first",
		Head: columns("Fixture", "Lamp", "#Level", "#Threshold", "Under since about"), Empty: "No lamp is under its threshold."}
	b.byRoom(&o.Under, func(d *derive.Due) bool { return d.Answer.Status == forecast.StatusUnder },
		func(d *derive.Due) float64 { return d.Answer.Level.Centre - d.Threshold },
		func(d *derive.Due) []Cell {
			lvl := of(Level(d.Answer.Level))
			if d.Answer.Level.Hi > d.Threshold {
				lvl.Note = "borderline: the interval reaches the threshold"
			}
			since := DateOf(d.Answer.DueDay)
			if since.Centre == "not known" {
				since.Centre = "already at the first reading"
			}
			return []Cell{b.name(d), lampCell(d), lvl, cell(chart.Number(d.Threshold, 2)), of(since)}
		})
}

// byRoom adds rows for the lamps that count, a heading a room, the least first.
func (b *book) byRoom(t *Table, counts func(*derive.Due) bool, order func(*derive.Due) float64, row func(*derive.Due) []Cell) {
	var list []*derive.Due
	for i := range b.due {
		if counts(&b.due[i]) {
			list = append(list, &b.due[i])
		}
	}
	sort.SliceStable(list, func(i, j int) bool {
		if list[i].Life.Place.Room != list[j].Life.Place.Room {
			return list[i].Life.Place.Room < list[j].Life.Place.Room
		}
		return order(list[i]) < order(list[j])
	})
	for i, d := range list {
		if i == 0 || list[i-1].Life.Place.Room != d.Life.Place.Room {
			t.Rows = append(t.Rows, Row{Heading: roomWords(d.Life.Place.Room)})
		}
		t.Rows = append(t.Rows, Row{Cells: row(d)})
	}
}

func roomWords(room string) string {
	if room == "" {
		return "No room named"
	}
	return "Room " + room
}

func (b *book) name(d *derive.Due) Cell {
	return Cell{Text: d.Life.Fixture.ID, Link: b.links[d.Life.Fixture.ID]}
}

func lampCell(d *derive.Due) Cell {
	c := cell(lampType(d.Life.LampType))
	if d.Life.Cohort != "" {
		c.Note = "cohort " + d.Life.Cohort
	}
	return c
}

// next lists the lamps due within half a year, by date.
func (b *book) next(o *overview) {
	o.Next = Table{Caption: fmt.Sprintf("Lamps due in the next %d days, by date", later),
		Head: columns("Fixture", "Room", "Lamp", "Due", "#Level now", "#Threshold"), Empty: fmt.Sprintf("No lamp is expected to fall due in the next %d days.", later)}
	var list []*derive.Due
	maybe := 0
	for i := range b.due {
		d := &b.due[i]
		day := d.Answer.DueDay
		if d.Answer.Status != forecast.StatusForecast || !day.Known() {
			continue
		}
		switch {
		case day.Centre <= float64(b.asOf)+later:
			list = append(list, d)
		case day.Lo <= float64(b.asOf)+later:
			maybe++
		}
	}
	sort.SliceStable(list, func(i, j int) bool { return list[i].Answer.DueDay.Centre < list[j].Answer.DueDay.Centre })
	band := 0
	for _, d := range list {
		k := 1
		if d.Answer.DueDay.Centre > float64(b.asOf)+soon {
			k = 2
		}
		if k != band {
			band = k
			o.Next.Rows = append(o.Next.Rows, Row{Heading: []string{"", fmt.Sprintf("Within %d days, by %s", soon, date(b.asOf+soon)),
				fmt.Sprintf("Within %d to %d days, by %s", soon+1, later, date(b.asOf+later))}[k]})
		}
		o.Next.Rows = append(o.Next.Rows, Row{Cells: []Cell{b.name(d), cell(d.Life.Place.Room), lampCell(d), of(DateOf(d.Answer.DueDay)),
			of(Level(d.Answer.Level)), cell(chart.Number(d.Threshold, 2))}})
	}
	if maybe > 0 {
		o.NextNote = fmt.Sprintf("%s could fall due in that time as well, by the early end of the interval.", count(maybe, "lamp", "lamps"))
	}
}

// rowsPerRoom is how many lamps of a room the timeline shows.
const rowsPerRoom = 12

// timeline draws the due dates with their intervals by room.
func (b *book) timeline(o *overview) {
	var list []*derive.Due
	left, right := float64(b.asOf-60), float64(b.asOf+365)
	for i := range b.due {
		if d := &b.due[i]; isDue(d) {
			list = append(list, d)
			left = min(left, d.Answer.DueDay.Centre-30)
			right = max(right, d.Answer.DueDay.Centre+60)
		}
	}
	if len(list) == 0 {
		return
	}
	sort.SliceStable(list, func(i, j int) bool {
		if list[i].Life.Place.Room != list[j].Life.Place.Room {
			return list[i].Life.Place.Room < list[j].Life.Place.Room
		}
		return list[i].Answer.DueDay.Centre < list[j].Answer.DueDay.Centre
	})
	under := chart.Look{Tone: chart.Vermilion, Mark: chart.Square}
	ahead := chart.Look{Tone: chart.Blue, Mark: chart.Diamond}
	c := chart.Ranges{Title: "Due dates by room", X: chart.Axis{Days: true, Min: max(left, float64(b.asOf-365)), Max: min(right, float64(b.asOf+1461))},
		Moments: []chart.Moment{{Name: "today", At: float64(b.asOf), Look: chart.Look{Tone: chart.Ink}}}}
	data := Table{Caption: "Due dates by room", Head: columns("Fixture", "Due")}
	left0 := 0
	passed := 0
	for i, d := range list {
		if i == 0 || list[i-1].Life.Place.Room != d.Life.Place.Room {
			c.Groups = append(c.Groups, chart.RangeGroup{Heading: roomWords(d.Life.Place.Room)})
			data.Rows = append(data.Rows, Row{Heading: roomWords(d.Life.Place.Room)})
		}
		day := d.Answer.DueDay
		look := ahead
		if d.Answer.Status == forecast.StatusUnder {
			look = under
			passed++
		}
		data.Rows = append(data.Rows, Row{Cells: []Cell{b.name(d), of(DateOf(day))}})
		g := &c.Groups[len(c.Groups)-1]
		if len(g.Rows) == rowsPerRoom {
			left0++
			continue
		}
		g.Rows = append(g.Rows, chart.Range{Label: d.Life.Fixture.ID, Lo: day.Lo, Centre: day.Centre, Hi: day.Hi, Look: look})
	}
	c.Samples = []chart.Key{chart.Sample(ahead, "due date with its interval"), chart.Sample(under, "already under: since about when")}
	c.Desc = fmt.Sprintf("%s with a due date, in %s; %d of them already under. Each is a mark at the date with a line over its interval. The numbers are in the table below.",
		count(len(list), "lamp", "lamps"), count(len(c.Groups), "room", "rooms"), passed)
	caption := fmt.Sprintf("When lamps fall under their threshold, earliest first in each room: date and %s interval. An arrow goes on beyond the drawing.", percentage(b.interval()))
	if left0 > 0 {
		caption += fmt.Sprintf(" At most %d lamps of a room are drawn; %d more are in the table.", rowsPerRoom, left0)
	}
	o.Timeline = figure("timeline", caption, c, data)
}

// lampTable lists every lamp in service.
func (b *book) lampTable(o *overview) {
	low := 0.7
	for i := range b.due {
		if v := b.due[i].Answer.Level.Lo; estimate.Finite(v) {
			low = min(low, math.Floor(10*v)/10)
		}
	}
	low = max(low, 0)
	o.Lamps = Table{Caption: fmt.Sprintf("All lamps in service. The strip shows the level from %s to 1.05 with its interval; the upright stroke is the threshold", chart.Number(low, 1)),
		Head: columns("Fixture", "Lamp", "#Run-hours", "#Level", "", "#Threshold", "Due", "Status"), Empty: "No lamp is in service."}
	b.byRoom(&o.Lamps, func(*derive.Due) bool { return true }, func(*derive.Due) float64 { return 0 }, func(d *derive.Due) []Cell {
		st := statusOf(d.Answer.Status)
		status := Cell{Sign: st.Sign, Text: st.Word}
		if n := d.Life.Silent(b.asOf); n > 0 {
			status.Note = "silent for " + count(n, "day", "days")
		}
		lv := d.Answer.Level
		lvl := of(Level(lv))
		if d.Answer.Status == forecast.StatusDark && lv.Known() {
			lvl.Note = "before it went dark"
		}
		return []Cell{b.name(d), lampCell(d), of(runHours(d.Life)), lvl,
			{Drawing: template.HTML(chart.Strip(lv.Centre, lv.Lo, lv.Hi, d.Threshold, low, 1.05))},
			cell(chart.Number(d.Threshold, 2)), of(dueWords(d)), status}
	})
}
