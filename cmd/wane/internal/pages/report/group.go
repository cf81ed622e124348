package report

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"wane/cmd/wane/internal/pages/chart"
	"wane/ingest/site"
	"wane/transform/estimate"
	"wane/transform/fleet"
)

// Group is what the pages of a group of sites are made of.
type Group struct {
	Name     string
	Invented bool
	Interval float64
	Sites    []GroupSite // in the order in which they are shown
	Makes    []GroupMake // types first, then their makes; a row for each of their run-hours
	Spares   []GroupSpares
	Needs    []Need // sites that are left out, or whose night failed
}

// GroupSite is a site by what is due and what it costs.
type GroupSite struct {
	Site, Name, Link string
	AsOf             int32
	Lamps, Gone      int // in service; under their threshold or dark
	Soon, Year       int // due within 90 days and within a year, those that are gone too
	Unsure, Work     int // without a date; pieces of work planned within a year
	Cost             float64
	Currency         string // "" where site.yaml names no prices
}

// GroupMake is the level of a lamp of a type, or of one make of it, at some run-hours.
type GroupMake struct {
	LampType, Model string // Model "": the type
	Lamps, Sites    int
	Hours           float64
	Level, Lo, Hi   float64
}

// GroupSpares is the spares of one lamp type.
type GroupSpares struct {
	LampType                              string
	Sites, Lamps, OnHand, Alone, Together int
	Failures                              estimate.Estimate
	Level                                 float64
}

// inventedWords stand on top of every page of a group whose data are made up.
const inventedWords = "Invented data: nobody measured any of this."

// groupPages are the pages of a group's menu.
var groupPages = []struct {
	file, template, menu string
	build                func(Group) any
}{
	{"index.html", "group", "The sites", func(g Group) any { return g.sites() }},
	{"makes.html", "groupmakes", "Makes across sites", func(g Group) any { return g.makes() }},
	{"glossary.html", "glossary", "What the words mean", func(Group) any { return glossary{terms, statuses} }},
}

// WriteGroup makes every page of a group and puts it into dir, as Write does.
func WriteGroup(dir string, g Group) error {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return fmt.Errorf("make reports folder: %w", err)
	}
	in := Input{Config: site.Config{Name: g.Name}}
	if g.Invented {
		in.Invented = inventedWords
	}
	for _, s := range g.Sites {
		in.AsOf = max(in.AsOf, s.AsOf)
	}
	b := newBook(in)
	w := writer{dir: dir, kept: map[string]bool{}}
	for _, p := range groupPages {
		f := frame{Title: p.menu, Zone: "each site's own", Body: p.build(g), Menu: groupMenu(p.file, groupYears(dir))}
		if err := b.page(p.template, p.file, f, w.put); err != nil {
			return err
		}
	}
	if err := b.assets(w.put); err != nil {
		return err
	}
	if err := w.flush(); err != nil {
		return err
	}
	return sweep(dir, "", func(string) bool { return true })
}

func groupYearFile(year int) string { return fmt.Sprintf("yearly-%d.html", year) }

// groupYears finds the years that have a page among the group's.
func groupYears(dir string) (out []int) {
	list, _ := filepath.Glob(filepath.Join(dir, "yearly-*.html")) // a bad pattern is the only error
	for _, p := range list {
		var y int
		if _, err := fmt.Sscanf(filepath.Base(p), "yearly-%d.html", &y); err == nil {
			out = append(out, y)
		}
	}
	return out
}

func groupMenu(here string, years []int) (out []menuEntry) {
	for _, q := range groupPages {
		out = append(out, menuEntry{q.menu, q.file, q.file == here})
	}
	slices.Sort(years)
	for _, y := range slices.Compact(years) {
		out = append(out, menuEntry{fmt.Sprintf("Reliability in %d", y), groupYearFile(y), groupYearFile(y) == here})
	}
	return out
}

// groupSites is the page of the sites.
type groupSites struct {
	Lead   string
	Needs  []Need
	Figure *Figure
	Sites  Table
	Spares Table
}

func (g Group) sites() groupSites {
	out := groupSites{Needs: g.Needs}
	lamps, soon := 0, 0
	bars := chart.Bars{Title: "Lamps due within 90 days, by site", X: chart.Axis{Label: "lamps due within 90 days"}}
	data := Table{Caption: "Numbers of the drawing", Head: columns("Site", "#Due within 90 days", "#Lamps"), Plain: true}
	t := Table{Caption: "The sites, those with the most due first: what is due, and what the work planned within " +
		"a year costs",
		Head: columns("Site", "As of", "#Lamps", "#Under or dark now", "#Due within 90 days", "#Due within a year",
			"#Without a date", "#Pieces of work within a year", "#Their cost"),
		Empty: "No site has been fitted yet."}
	var tell []string
	for _, s := range g.Sites {
		lamps, soon = lamps+s.Lamps, soon+s.Soon
		name := Cell{Text: s.Site, Note: s.Name, Link: s.Link}
		t.Rows = append(t.Rows, Row{Cells: []Cell{name, cell(date(s.AsOf)), number(s.Lamps), number(s.Gone), number(s.Soon),
			number(s.Year), number(s.Unsure), number(s.Work), cell(costWords(s.Cost, s.Currency))}})
		data.Rows = append(data.Rows, Row{Cells: []Cell{cell(s.Site), number(s.Soon), number(s.Lamps)}})
		bars.Rows = append(bars.Rows, chart.Bar{Label: s.Site, Value: float64(s.Soon),
			Note: fmt.Sprintf("%d of %d", s.Soon, s.Lamps)})
		tell = append(tell, fmt.Sprintf("%s %d of %d", s.Site, s.Soon, s.Lamps))
	}
	out.Sites = t
	out.Lead = fmt.Sprintf("%s in service at %s; %s due within 90 days, those that are under their threshold or dark "+
		"now among them.",
		count(lamps, "lamp", "lamps"), count(len(g.Sites), "site", "sites"), count(soon, "is", "are"))
	if soon > 0 {
		bars.Desc = strings.Join(tell, "; ") + "."
		bars.X.Ticks = wholeTicks(g.Sites)
		out.Figure = figure("sites", bars.Title+": those that are under their threshold or dark now too.", bars, data)
	}
	out.Spares = g.spares()
	return out
}

// wholeTicks are for an axis of lamps: there is no half one.
func wholeTicks(sites []GroupSite) (out []chart.Tick) {
	most := 0
	for _, s := range sites {
		most = max(most, s.Soon)
	}
	step := max(1, (most+4)/5)
	for n := 0; n <= most; n += step {
		out = append(out, chart.Tick{At: float64(n), Label: chart.Number(float64(n), 0)})
	}
	return out
}

func number(n int) Cell { return cell(chart.Number(float64(n), 0)) }

func costWords(v float64, currency string) string {
	if currency == "" {
		return "no prices are stated"
	}
	return chart.Number(v, 0) + "\u00a0" + currency
}

func (g Group) spares() Table {
	t := Table{Caption: "Spare lamps: what the sites' stores must hold each for itself, and one store for all of them",
		Head: columns("Lamp type", "#Lamps", "#Failures until a delivery can be there", "#On hand", "#Each for itself",
			"#Together", "#Chance that they last"),
		Empty: "No site's failures tell how many spares are needed."}
	for _, s := range g.Spares {
		failures := Value{Centre: chart.Number(s.Failures.Centre, 1),
			Interval: chart.Number(s.Failures.Lo, 0) + " to " + chart.Number(s.Failures.Hi, 0)}
		t.Rows = append(t.Rows, Row{Cells: []Cell{{Text: lampType(fleet.LampType(s.LampType)),
			Note: count(s.Sites, "site", "sites")}, number(s.Lamps), of(failures), number(s.OnHand), number(s.Alone),
			number(s.Together), cell("at least " + percentage(s.Level))}})
	}
	return t
}

// groupMakes is the page of makes across sites.
type groupMakes struct {
	Interval string
	Types    []makesOfType
}

func (g Group) makes() groupMakes {
	out := groupMakes{Interval: percentage(g.Interval)}
	for k := 0; k < len(g.Makes); {
		n := k
		for n < len(g.Makes) && g.Makes[n].LampType == g.Makes[k].LampType {
			n++
		}
		out.Types = append(out.Types, g.makesOf(g.Makes[k:n]))
		k = n
	}
	return out
}

// makesOf draws one lamp type and its makes.
func (g Group) makesOf(rows []GroupMake) makesOfType {
	words := lampType(fleet.LampType(rows[0].LampType))
	table := Table{Caption: words + ": the level of a lamp that nobody has read yet, without dirt",
		Head: columns("Make or model", "#Lamp lives behind it", "#Sites", "#At run-hours, h", "#Level")}
	data := Table{Caption: "Numbers of the drawing", Head: columns("Run-hours, h", "#Level"), Plain: true}
	var bands, lines []chart.Layer
	var names chart.Names
	farthest := 0.0
	for k := 0; k < len(rows); {
		n := k
		for n < len(rows) && rows[n].Model == rows[k].Model {
			n++
		}
		one := rows[k:n]
		k = n
		name := one[0].Model
		if name == "" {
			name = "all " + words
		}
		end := one[len(one)-1]
		table.Rows = append(table.Rows, Row{Cells: []Cell{cell(name), number(end.Lamps), number(end.Sites),
			cell(chart.Number(end.Hours, 0)), levelCell(end)}})
		data.Rows = append(data.Rows, Row{Heading: name})
		if len(lines) == len(chart.Looks) {
			continue
		}
		look := chart.Looks[len(lines)]
		look.Mark = chart.NoMark
		line, spans := []chart.Point{{X: 100, Y: 1}}, []chart.Span{{X: 100, Lo: 1, Hi: 1}}
		for _, m := range one {
			line = append(line, chart.Point{X: m.Hours, Y: m.Level})
			spans = append(spans, chart.Span{X: m.Hours, Lo: m.Lo, Hi: m.Hi})
			data.Rows = append(data.Rows, Row{Cells: []Cell{cell(chart.Number(m.Hours, 0)), levelCell(m)}})
			farthest = math.Max(farthest, m.Hours)
		}
		if len(bands) < mostBands {
			bands = append(bands, chart.Band{Tone: look.Tone, Spans: spans})
		}
		lines = append(lines, chart.Series{Name: fmt.Sprintf("%s: %s at %s", name,
			count(end.Lamps, "lamp life", "lamp lives"), count(end.Sites, "site", "sites")), Look: look, Points: line})
		names = append(names, chart.Named{Words: name, X: end.Hours, Y: end.Level, Tone: look.Tone})
	}
	title := words + ": how makes fade, by all sites"
	x := chart.XY{Title: title, Desc: fmt.Sprintf("Level of a lamp alone against run-hours, %s.",
		count(len(lines), "curve", "curves")),
		X:      chart.Axis{Label: "run-hours, h", Min: 0, Max: farthest * (1 + 1.4*chart.NameRoom)},
		Y:      chart.Axis{Label: "level of the lamp, alone", Places: 2},
		Layers: append(append(bands, lines...), names), Height: 380}
	caption := fmt.Sprintf("%s: the lamp alone, without dirt and drift. Bands hold %s of the lamps that are still to "+
		"be hung: they hold what makes, lots and lamps differ by.", title, percentage(g.Interval))
	return makesOfType{words, figure("makes-"+rows[0].LampType, caption, x, data), table}
}

func levelCell(m GroupMake) Cell {
	return Cell{Text: chart.Number(m.Level, 3), Interval: chart.Number(m.Lo, 3) + " to " + chart.Number(m.Hi, 3)}
}
