package report

import (
	"cmp"
	"fmt"
	"html/template"
	"math"
	"net/url"
	"path"
	"slices"
	"sort"
	"strings"

	"wane/cmd/wane/internal/pages/chart"
	"wane/transform/due"
	"wane/transform/estimate"
	"wane/transform/forecast"
	"wane/transform/lamp"
	"wane/transform/todo"
)

// roomBook is a room with what is said of it.
type roomBook struct {
	name  string
	due   []*due.Lamp
	hours float64 // of its oldest lamp: the small drawings share a scale
	low   float64 // the lowest level on that scale
}

// addRooms sorts the lamps in service by room.
func (b *book) addRooms() {
	at := map[string]int{}
	for i := range b.due {
		d := &b.due[i]
		name := d.Life.Place.Room
		k, ok := at[name]
		if !ok {
			k = len(b.rooms)
			at[name] = k
			b.rooms = append(b.rooms, roomBook{name: name, low: 0.8})
		}
		r := &b.rooms[k]
		r.due = append(r.due, d)
		r.hours = max(r.hours, d.Life.HoursNow())
		for _, v := range []float64{d.Answer.Level.Lo, d.Threshold} {
			if estimate.Finite(v) {
				r.low = min(r.low, max(math.Floor(10*v)/10, 0))
			}
		}
	}
	sort.Slice(b.rooms, func(i, j int) bool { return b.rooms[i].name < b.rooms[j].name })
	var names []string
	for _, r := range b.rooms {
		names = append(names, r.name)
	}
	for name, file := range fileNames(names) {
		b.roomLink[name] = path.Join(roomsDir, file)
	}
}

func (b *book) roomOf(d *due.Lamp) *roomBook {
	i, _ := slices.BinarySearchFunc(b.rooms, d.Life.Place.Room,
		func(r roomBook, name string) int { return cmp.Compare(r.name, name) })
	return &b.rooms[i]
}

// lowest gives the lamps of the room with a level that lie lowest over their
// thresholds.
func (r *roomBook) lowest(n int) []string {
	list := slices.DeleteFunc(slices.Clone(r.due), func(d *due.Lamp) bool { return !d.Answer.Level.Known() })
	slices.SortStableFunc(list, func(x, y *due.Lamp) int { return cmp.Compare(margin(x), margin(y)) })
	var out []string
	for _, d := range list[:min(n, len(list))] {
		out = append(out, d.Life.Fixture.ID)
	}
	return out
}

// margin is how far a lamp lies over its threshold; infinite where it is not known.
func margin(d *due.Lamp) float64 {
	if !d.Answer.Level.Known() {
		return math.Inf(1)
	}
	return d.Answer.Level.Centre - d.Threshold
}

// overlayLink is the address of the page on which declines are laid over each other with fixtures chosen.
func overlayLink(page string, ids []string) string {
	var parts []string
	for _, id := range ids {
		parts = append(parts, url.PathEscape(id))
	}
	return page + "#" + strings.Join(parts, ",")
}

// roomPage is what is said of a room.
type roomPage struct {
	Name      string
	Lead      string
	Week      []weekLine
	Map       Map
	Multiples []multiple
	More      string // lamps without a small drawing
	Overlay   string
	Facts     []roomFact
	Lamps     Table
}

// roomFact is what another page says of the room, in a line.
type roomFact struct {
	Words, Link, Page string
}

// multiple is one of the small drawings.
type multiple struct {
	Name, Link, Words string
	Sign              string
	Drawing           template.HTML
}

// mostMultiples is how many small drawings a room's page holds.
const mostMultiples = 60

func (b *book) room(r *roomBook, multiples []template.HTML) *roomPage {
	p := &roomPage{Name: r.name, Lead: r.words(b), Map: b.mapOf(r), Overlay: overlayLink("../overlay.html", r.lowest(4))}
	list := todo.List(b.todo)
	for i := range list {
		a := &list[i]
		if len(a.Lamps) == 0 || !slices.ContainsFunc(a.Lamps, func(l *todo.Lamp) bool { return l.Room == r.name }) {
			continue
		}
		if len(p.Week) == mostLines {
			break
		}
		p.Week = append(p.Week, under(b.weekLine(a), "../"))
	}
	repeated(p.Week)
	worst := slices.Clone(r.due)
	slices.SortStableFunc(worst, func(x, y *due.Lamp) int { return cmp.Compare(margin(x), margin(y)) })
	for _, d := range worst {
		k, _ := slices.BinarySearch(b.fixtures, d.Life.Fixture.ID)
		if multiples[k] == "" {
			continue
		}
		if len(p.Multiples) == mostMultiples {
			p.More = fmt.Sprintf("Drawn are the %d nearest to their thresholds, or farthest below.", mostMultiples)
			break
		}
		p.Multiples = append(p.Multiples, multiple{Name: d.Life.Fixture.ID, Link: "../" + b.links[d.Life.Fixture.ID],
			Words: levelWords(d),
			Sign:  statusOf(d.Answer.Status).Sign, Drawing: multiples[k]})
	}
	p.Facts = b.roomFacts(r)
	b.lampTable(&p.Lamps, r.due)
	p.Lamps.Fold = p.More != "" // the map and the drawings come first
	for i := range p.Lamps.Rows {
		if c := p.Lamps.Rows[i].Cells; len(c) > 0 && c[0].Link != "" {
			c[0].Link = "../" + c[0].Link
		}
	}
	return p
}

// under makes a line's addresses those of a page in a folder.
func under(l weekLine, root string) weekLine {
	for i := range l.Who {
		if l.Who[i].Link != "" {
			l.Who[i].Link = root + l.Who[i].Link
		}
	}
	if l.How.Link != "" {
		l.How.Link = root + l.How.Link
	}
	return l
}

func levelWords(d *due.Lamp) string {
	if d.Answer.Status == forecast.StatusDark {
		return "dark"
	}
	if !d.Answer.Level.Known() {
		return "level not known"
	}
	return "level " + chart.Number(d.Answer.Level.Centre, 2)
}

// words says how the room stands.
func (r *roomBook) words(b *book) string {
	in := todo.Input{AsOf: b.todo.AsOf}
	for _, l := range b.todo.Lamps {
		if l.Room == r.name {
			in.Lamps = append(in.Lamps, l)
		}
	}
	return fleetWords(in)
}

// roomFacts gathers what the pages of surveys, supply and plan say of the room.
func (b *book) roomFacts(r *roomBook) (out []roomFact) {
	here, circuits := map[string]bool{}, map[string]bool{}
	for _, d := range r.due {
		here[d.Life.Fixture.ID], circuits[d.Life.Place.Circuit] = true, true
	}
	if b.in.Surveys != nil {
		for _, id := range b.in.Surveys.Fixtures() {
			if e := b.in.Surveys.Latest(id); here[id] && e != nil {
				if n, err := b.in.Surveys.Numbers(e); err == nil {
					out = append(out, roomFact{fmt.Sprintf("Surveyed under %s on %s: on average %s µmol/m²/s.", id,
						dateAt(e.TakenAt, b.in.location()), chart.Number(n.Average.Centre, 0)), "../surveys.html", "canopy surveys"})
				}
			}
		}
	}
	if b.in.Supply != nil {
		for _, c := range b.in.Supply.Circuits {
			if circuits[c.Name] && c.Why == "" && c.Finding.Words != "" {
				out = append(out, roomFact{sentence(c.Finding.Words), "../supply.html", "the supply"})
			}
		}
	}
	if b.in.Plan != nil {
		for i := range b.in.Plan.Result.Rooms {
			p := &b.in.Plan.Result.Rooms[i]
			if p.Room != r.name {
				continue
			}
			day := ""
			if !p.Date.IsZero() {
				day = " on " + planDay(p.Date)
			}
			out = append(out, roomFact{fmt.Sprintf("The plan for the room: %s%s.", p.Decision, day), "../plan.html#rooms",
				"relamp plan"})
		}
	}
	return out
}

// smallOf draws a lamp's decline small, for its room's page; empty where there is
// nothing to draw.
func (b *book) smallOf(l *lamp.Life, d *due.Lamp, post *forecast.Posterior, ws []week) template.HTML {
	if d == nil || post == nil && len(ws) == 0 {
		return ""
	}
	r := b.roomOf(d)
	m := chart.Mini{Threshold: d.Threshold, X1: max(r.hours, 1), Y0: r.low, Y1: 1.05, Tone: chart.Blue}
	if d.Answer.Status == forecast.StatusUnder {
		m.Tone = chart.Vermilion
	}
	if post != nil {
		for _, p := range post.Band(grid(post.FirstHours, l.HoursNow(), 8), d.Interval) {
			m.Band = append(m.Band, chart.Span{X: p.Hours, Lo: p.Lo, Hi: p.Hi})
		}
	}
	for i := 0; i < len(ws); i += len(ws)/40 + 1 {
		m.Dots = append(m.Dots, chart.Point{X: ws[i].Hours, Y: ws[i].Level})
	}
	return template.HTML(m.SVG())
}
