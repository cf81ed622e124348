package report

import (
	"cmp"
	"fmt"
	"html/template"
	"maps"
	"math"
	"slices"

	"wane/cmd/wane/internal/pages/chart"
	"wane/transform/due"
	"wane/transform/estimate"
	"wane/transform/forecast"
	"wane/transform/todo"
)

// The two horizons of the rooms' table, days.
const (
	soon  = todo.DueDays
	later = 180
)

// overview is the front page: what to do this week, how the fleet stands, the
// rooms.
type overview struct {
	Nothing  bool // nothing was taken in yet
	Lead     string
	Week     []weekLine
	Over     int  // lines that do not fit on a printed page
	Plan     bool // there is a page of the plan
	Fleet    *Figure
	Lab      string // the finding of the page that compares surveyed fixtures
	LabChart *Figure
	Rooms    Table
	Legend   []Status
	Interval string
}

// tile is one of the counts on top.
type tile struct {
	Count, Interval, Words, Link string
	Urgent                       bool
}

func overviewOf(b *book) (any, bool) {
	o := overview{Nothing: b.in.Result == nil || len(b.due) == 0, Legend: statuses, Interval: percentage(b.interval()),
		Week: b.week(), Plan: b.in.Plan != nil && len(b.in.Plan.Result.Lamps) > 0}
	o.Over = overPage(o.Week)
	if !o.Nothing {
		o.Lead = b.firstWords() + fleetWords(b.todo)
		b.roomTable(&o)
		b.fleetFigure(&o)
		b.labOn(&o)
	}
	return o, true
}

// allLamps is the page of every lamp in service.
type allLamps struct {
	Lamps    Table
	Rooms    []lampRoom // of a great site, instead of the table
	Legend   []Status
	Interval string
}

func lampsOf(b *book) (any, bool) {
	if len(b.due) == 0 {
		return nil, false
	}
	a := allLamps{Legend: statuses, Interval: percentage(b.interval())}
	if len(b.due) > mostFull {
		a.Rooms = b.lampList()
		return a, true
	}
	all := make([]*due.Lamp, len(b.due))
	for i := range b.due {
		all[i] = &b.due[i]
	}
	b.lampTable(&a.Lamps, all)
	return a, true
}

func (b *book) interval() float64 {
	if b.in.Result != nil && b.in.Result.Interval > 0 {
		return b.in.Result.Interval
	}
	return b.in.Config.Interval
}

// byRoom adds a row a lamp, a heading a room.
func (b *book) byRoom(t *Table, lamps []*due.Lamp, row func(*due.Lamp) []Cell) {
	list := slices.Clone(lamps)
	slices.SortStableFunc(list, func(x, y *due.Lamp) int { return cmp.Compare(x.Life.Place.Room, y.Life.Place.Room) })
	for i, d := range list {
		if i == 0 || list[i-1].Life.Place.Room != d.Life.Place.Room {
			t.Rows = append(t.Rows, Row{Heading: roomWords(d.Life.Place.Room)})
		}
		t.Rows = append(t.Rows, Row{Cells: row(d)})
	}
}

// lampRoom is a room's lamps as a list: a great site's table would be too long.
type lampRoom struct {
	Room  Cell
	Lamps []Cell
}

func (b *book) lampList() (out []lampRoom) {
	for i := range b.rooms {
		r := &b.rooms[i]
		l := lampRoom{Room: Cell{Text: roomWords(r.name), Link: b.roomLink[r.name]}}
		for _, d := range r.due {
			c := b.name(d)
			c.Sign = statusOf(d.Answer.Status).Sign
			l.Lamps = append(l.Lamps, c)
		}
		out = append(out, l)
	}
	return out
}

func roomWords(room string) string {
	if room == "" {
		return "No room named"
	}
	return "Room " + room
}

func (b *book) name(d *due.Lamp) Cell {
	return Cell{Text: d.Life.Fixture.ID, Link: b.links[d.Life.Fixture.ID]}
}

func lampCell(d *due.Lamp) Cell {
	c := cell(lampType(d.Life.LampType))
	if d.Life.Cohort != "" {
		c.Note = "cohort " + d.Life.Cohort
	}
	return c
}

// mostMarks is how many lamps the picture of the fleet holds, about.
const mostMarks = 90

// fleetFigure draws each lamp as a mark with its interval on a time axis, room by
// room, the soonest first. Of a large site it draws the soonest of each room.
func (b *book) fleetFigure(o *overview) {
	rooms := map[string][]*due.Lamp{}
	left, right := float64(b.asOf-60), float64(b.asOf+365)
	for i := range b.due {
		d := &b.due[i]
		rooms[d.Life.Place.Room] = append(rooms[d.Life.Place.Room], d)
		if isDue(d) {
			left, right = min(left, d.Answer.DueDay.Centre-30), max(right, d.Answer.DueDay.Centre+60)
		}
	}
	names := slices.Sorted(maps.Keys(rooms))
	for _, list := range rooms {
		slices.SortStableFunc(list, func(x, y *due.Lamp) int { return cmp.Compare(sooner(x), sooner(y)) })
	}
	if len(names) > mostMarks {
		slices.SortStableFunc(names, func(x, y string) int { return cmp.Compare(sooner(rooms[x][0]), sooner(rooms[y][0])) })
		names = names[:mostMarks]
	}
	per := max(mostMarks/len(names), 1)
	if len(b.due) <= mostMarks {
		per = mostMarks
	}
	today := float64(b.asOf)
	c := chart.Ranges{Title: "When each lamp falls due",
		X: chart.Axis{Days: true, Min: max(left, today-365), Max: min(right, today+1461)}, Row: 12,
		Moments: []chart.Moment{{Name: "today", At: today, Look: chart.Look{Tone: chart.Ink}}}}
	data := Table{Caption: "When each lamp drawn falls due", Head: columns("Fixture", "Due", "Status")}
	drawn := 0
	for _, room := range names {
		g := chart.RangeGroup{Heading: roomWords(room)}
		data.Rows = append(data.Rows, Row{Heading: roomWords(room)})
		for _, d := range rooms[room][:min(per, len(rooms[room]))] {
			drawn++
			g.Rows = append(g.Rows, b.mark(d, c.X.Max))
			st := statusOf(d.Answer.Status)
			data.Rows = append(data.Rows, Row{Cells: []Cell{b.name(d), of(dueWords(d)), {Sign: st.Sign, Text: st.Word}}})
		}
		c.Groups = append(c.Groups, g)
	}
	c.Samples = []chart.Key{chart.Sample(darkLook, "dark"), chart.Sample(underLook, "under: since about when"),
		chart.Sample(aheadLook, "due, with its interval"),
		chart.Sample(boundLook, "not before this day")}
	c.Desc = fmt.Sprintf("%s in %s, each a mark at its date with a line over its interval. The numbers are in the "+
		"table below.", count(drawn, "lamp", "lamps"), count(len(names), "room", "rooms"))
	caption := fmt.Sprintf("Each lamp's date and its %s interval, the soonest of each room on top. An arrow goes on "+
		"beyond the drawing.", percentage(b.interval()))
	if drawn < len(b.due) {
		caption += fmt.Sprintf(" Drawn are the %d soonest of their rooms; the other %d are on the page of all lamps.", drawn,
			len(b.due)-drawn)
	}
	o.Fleet = figure("fleet", caption, c, data)
}

// The looks of the picture of the fleet.
var (
	darkLook  = chart.Look{Tone: chart.Ink, Mark: chart.Dot}
	underLook = chart.Look{Tone: chart.Vermilion, Mark: chart.Square}
	aheadLook = chart.Look{Tone: chart.Blue, Mark: chart.Diamond}
	boundLook = chart.Look{Tone: chart.Green, Mark: chart.NoMark}
)

// sooner orders the lamps of a room: dark, then by date, then those without one.
func sooner(d *due.Lamp) float64 {
	switch {
	case d.Answer.Status == forecast.StatusDark:
		return math.Inf(-1)
	case isDue(d):
		return d.Answer.DueDay.Centre
	case d.Answer.Status == forecast.StatusBeyond && estimate.Finite(d.Answer.DueDay.Lo):
		return d.Answer.DueDay.Lo
	}
	return math.Inf(1)
}

// mark is a lamp's row in the picture. What has no date says so, in words.
// So does what lies beyond the drawing's end.
func (b *book) mark(d *due.Lamp, end float64) chart.Range {
	nan, today := math.NaN(), float64(b.asOf)
	r := chart.Range{Label: d.Life.Fixture.ID, Lo: nan, Centre: nan, Hi: nan}
	day := d.Answer.DueDay
	switch {
	case d.Answer.Status == forecast.StatusDark:
		r.Lo, r.Centre, r.Hi, r.Look, r.Note = today, today, today, darkLook, "dark"
	case d.Answer.Status == forecast.StatusUnder && isDue(d):
		r.Lo, r.Centre, r.Hi, r.Look = day.Lo, day.Centre, min(day.Hi, today), underLook
	case d.Answer.Status == forecast.StatusUnder:
		r.Lo, r.Centre, r.Hi, r.Look, r.Note = today, today, today, underLook, "under, since before its first reading"
	case isDue(d):
		r.Lo, r.Centre, r.Hi, r.Look = day.Lo, day.Centre, day.Hi, aheadLook
	case d.Answer.Status == forecast.StatusBeyond && estimate.Finite(day.Lo):
		r.Lo, r.Hi, r.Look = day.Lo, math.Inf(1), boundLook
	default:
		r.At, r.Note = today, "no date: "+statusOf(d.Answer.Status).Word
	}
	if r.Lo > end {
		r.Note = "not before " + date(int32(math.Round(r.Lo)))
	}
	return r
}

// lampTable lists every lamp in service.
func (b *book) lampTable(t *Table, lamps []*due.Lamp) {
	low := 0.7
	for _, d := range lamps {
		if v := d.Answer.Level.Lo; estimate.Finite(v) {
			low = min(low, math.Floor(10*v)/10)
		}
	}
	low = max(low, 0)
	*t = Table{Caption: fmt.Sprintf("All lamps in service. The strip shows the level from %s to 1.05 with its "+
		"interval; the upright stroke is the threshold", chart.Number(low, 1)),
		Head:  columns("Fixture", "Lamp", "#Run-hours", "#Level", "", "#Threshold", "Due", "Status"),
		Empty: "No lamp is in service."}
	b.byRoom(t, lamps, func(d *due.Lamp) []Cell {
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
			{Drawing: template.HTML(chart.Strip(lv.Centre, lv.Lo, lv.Hi, d.Threshold, low, 1.05, d.Answer.Status == forecast.StatusUnder))},
			cell(chart.Number(d.Threshold, 2)), of(dueWords(d)), status}
	})
}
