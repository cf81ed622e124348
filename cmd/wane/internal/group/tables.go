package group

import (
	"fmt"
	"math"

	"wane/cmd/wane/internal/derive"
	"wane/ingest/archive"
	"wane/transform/due"
	"wane/transform/forecast"
)

// The tables of a group's archive. version stands in their key: raise it when a change
// of the code changes what they hold.
const (
	TableDue    = "group_due"    // a row a lamp in service, of all sites
	TableMakes  = "group_makes"  // a row a lamp type or make, and run-hours
	TableSites  = "group_sites"  // a row a site
	TableSpares = "group_spares" // a row a lamp type

	version = "1"
)

var tables = []string{TableDue, TableMakes, TableSites, TableSpares}

type written struct {
	name string
	cols []archive.Column
}

func text(name string, n int, at func(i int) string) archive.Column {
	c := archive.Column{Name: name, Type: archive.String, Text: make([]string, n)}
	for i := range n {
		c.Text[i] = at(i)
	}
	return c
}

func whole(name string, typ archive.Type, n int, at func(i int) int) archive.Column {
	c := archive.Column{Name: name, Type: typ, Int: make([]int64, n)}
	for i := range n {
		c.Int[i] = int64(at(i))
	}
	return c
}

// number writes one that is not finite as nothing.
func number(name string, n int, at func(i int) float64) archive.Column {
	c := archive.Column{Name: name, Type: archive.Float64, Float: make([]float64, n), Valid: make([]bool, n)}
	for i := range n {
		if v := at(i); !math.IsNaN(v) && !math.IsInf(v, 0) {
			c.Float[i], c.Valid[i] = v, true
		}
	}
	return c
}

// columns lays all tables out.
func (x *answered) columns() []written {
	n := len(x.lines)
	lines := x.lines
	cols := []archive.Column{text("site", n, func(i int) string { return lines[i].Site })}
	plain := make([]due.Line, n)
	for i := range lines {
		plain[i] = lines[i].Line
	}
	cols = append(cols, derive.DueColumns(plain)...)
	s, p, m := x.sites, x.spares, makesOf(x.pool)
	return []written{
		{TableDue, cols},
		{TableMakes, []archive.Column{
			text("lamp_type", len(m), func(i int) string { return m[i].LampType }),
			text("model", len(m), func(i int) string { return m[i].Model }),
			whole("lamps", archive.Int64, len(m), func(i int) int { return m[i].Lamps }),
			whole("sites", archive.Int64, len(m), func(i int) int { return m[i].Sites }),
			number("run_hours", len(m), func(i int) float64 { return m[i].Hours }),
			number("level", len(m), func(i int) float64 { return m[i].Level }),
			number("level_lo", len(m), func(i int) float64 { return m[i].Lo }),
			number("level_hi", len(m), func(i int) float64 { return m[i].Hi }),
			number("interval", len(m), func(int) float64 { return interval }),
		}},
		{TableSites, []archive.Column{
			text("site", len(s), func(i int) string { return s[i].Site }),
			text("name", len(s), func(i int) string { return s[i].Name }),
			whole("as_of", archive.Date, len(s), func(i int) int { return int(s[i].AsOf) }),
			whole("lamps", archive.Int64, len(s), func(i int) int { return s[i].Lamps }),
			whole("under", archive.Int64, len(s), func(i int) int { return s[i].Under }),
			whole("dark", archive.Int64, len(s), func(i int) int { return s[i].Dark }),
			whole("due_90_days", archive.Int64, len(s), func(i int) int { return s[i].Soon }),
			whole("due_365_days", archive.Int64, len(s), func(i int) int { return s[i].Year }),
			whole("without_date", archive.Int64, len(s), func(i int) int { return s[i].Unsure }),
			whole("work_365_days", archive.Int64, len(s), func(i int) int { return s[i].Work }),
			number("cost_365_days", len(s), func(i int) float64 { return s[i].Cost }),
			text("currency", len(s), func(i int) string { return s[i].Currency }),
		}},
		{TableSpares, []archive.Column{
			text("lamp_type", len(p), func(i int) string { return p[i].LampType }),
			whole("sites", archive.Int64, len(p), func(i int) int { return p[i].Sites }),
			whole("lamps", archive.Int64, len(p), func(i int) int { return p[i].Lamps }),
			whole("on_hand", archive.Int64, len(p), func(i int) int { return p[i].OnHand }),
			whole("each_for_itself", archive.Int64, len(p), func(i int) int { return p[i].Alone }),
			whole("together", archive.Int64, len(p), func(i int) int { return p[i].Together }),
			number("failures", len(p), func(i int) float64 { return p[i].Failures }),
			number("failures_lo", len(p), func(i int) float64 { return p[i].Lo }),
			number("failures_hi", len(p), func(i int) float64 { return p[i].Hi }),
			number("service_level", len(p), func(i int) float64 { return p[i].Level }),
			number("achieved", len(p), func(i int) float64 { return p[i].Achieved }),
		}},
	}
}

// Make is what the group knows of a lamp type, or of one make of it, at some
// run-hours: the level of a lamp that nobody has read yet.
type Make struct {
	LampType, Model string // Model "": all of the type
	Lamps, Sites    int
	Hours           float64
	Level, Lo, Hi   float64
}

// interval is the content of the bands of makes; they are drawn every so many
// run-hours, up to that many.
const (
	interval   = .8
	makesEvery = 1000
	makesLast  = 40_000
)

// makesOf tabulates types and makes as far as lamps of the type have burned.
func makesOf(p *forecast.Pool) (out []Make) {
	types, makes := p.Named()
	for _, t := range types {
		of := []forecast.Named{t}
		for _, m := range makes {
			if m.Type == t.Type {
				of = append(of, m)
			}
		}
		for _, n := range of {
			post := p.Typical(n)
			last := min(math.Ceil(post.MostHours/makesEvery)*makesEvery, makesLast)
			for h := float64(makesEvery); h <= last; h += makesEvery {
				b := post.Band([]float64{h}, interval)[0]
				out = append(out, Make{n.Type, n.Make, n.Lamps, n.Sites, h, b.Centre, b.Lo, b.Hi})
			}
		}
	}
	return out
}

// Tables is what a group's archive holds.
type Tables struct {
	Lines  []Line
	Makes  []Make
	Sites  []Standing
	Spares []Pool
}

// Read reads them all.
func Read(a *archive.Archive) (t Tables, err error) {
	if len(a.Parts(TableDue)) == 0 {
		return t, fmt.Errorf("the group has no night behind it: run `wane group nightly`")
	}
	lines, err := derive.DueLines(a, TableDue)
	if err != nil {
		return t, err
	}
	f, err := read(a, TableDue)
	if err != nil {
		return t, err
	}
	for i, l := range lines {
		t.Lines = append(t.Lines, Line{f.text("site", i), l})
	}
	if f, err = read(a, TableMakes); err != nil {
		return t, err
	}
	for i := range f.rows {
		t.Makes = append(t.Makes, Make{f.text("lamp_type", i), f.text("model", i), f.whole("lamps", i), f.whole("sites", i),
			f.number("run_hours", i), f.number("level", i), f.number("level_lo", i), f.number("level_hi", i)})
	}
	if f, err = read(a, TableSites); err != nil {
		return t, err
	}
	for i := range f.rows {
		t.Sites = append(t.Sites, Standing{Site: f.text("site", i), Name: f.text("name", i), AsOf: int32(f.whole("as_of", i)),
			Lamps: f.whole("lamps", i), Under: f.whole("under", i), Dark: f.whole("dark", i), Soon: f.whole("due_90_days", i),
			Year: f.whole("due_365_days", i), Unsure: f.whole("without_date", i), Work: f.whole("work_365_days", i),
			Cost: f.number("cost_365_days", i), Currency: f.text("currency", i)})
	}
	if f, err = read(a, TableSpares); err != nil {
		return t, err
	}
	for i := range f.rows {
		t.Spares = append(t.Spares, Pool{LampType: f.text("lamp_type", i), Sites: f.whole("sites", i),
			Lamps: f.whole("lamps", i), OnHand: f.whole("on_hand", i), Alone: f.whole("each_for_itself", i), Together: f.whole("together", i),
			Failures: f.number("failures", i), Lo: f.number("failures_lo", i), Hi: f.number("failures_hi", i),
			Level: f.number("service_level", i), Achieved: f.number("achieved", i)})
	}
	return t, nil
}

// frame is the columns of a table by name.
type frame struct {
	cols map[string]*archive.Column
	rows int
}

func read(a *archive.Archive, table string) (frame, error) {
	cols, err := a.ReadTable(a.Parts(table)[0])
	if err != nil {
		return frame{}, fmt.Errorf("read table %s: %w", table, err)
	}
	f := frame{cols: map[string]*archive.Column{}}
	for i := range cols {
		f.cols[cols[i].Name], f.rows = &cols[i], cols[i].Len()
	}
	return f, nil
}

func (f frame) text(name string, i int) string { return f.cols[name].Text[i] }
func (f frame) whole(name string, i int) int   { return int(f.cols[name].Int[i]) }

func (f frame) number(name string, i int) float64 {
	if c := f.cols[name]; c.Valid == nil || c.Valid[i] {
		return c.Float[i]
	}
	return math.NaN()
}
