package yearly

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"strconv"
	"strings"

	"wane/cmd/wane/internal/pages/chart"
	"wane/cmd/wane/internal/pages/report"
	"wane/cmd/wane/internal/sitefolder"
	"wane/transform/calendar"
	"wane/transform/estimate"
	"wane/transform/yearly"
)

//go:embed page.html
var pageText string

var pageTemplate = template.Must(template.New("page").Funcs(template.FuncMap{
	"number": func(i int) string { return strconv.Itoa(i + 1) },
}).Parse(pageText))

// page is what the template shows.
type page struct {
	Style                template.CSS
	Site, Zone, Invented string
	Year                 int
	AsOf, AsOfISO        string
	Lead                 []string
	Findings             []string
	Pictures             []*figure
	Facts                []fact
	Sections             []*section
}

type fact struct{ Name, Value, Note string }

type section struct {
	ID, Heading string
	Intro       []string
	Blocks      []block
}

// block is one of: words that must be read, a drawing, a table.
type block struct {
	Say    string
	Figure *figure
	Table  *table
}

func (s *section) say(words string) {
	if words != "" {
		s.Blocks = append(s.Blocks, block{Say: words})
	}
}

func (s *section) figure(f *figure) {
	if f != nil {
		s.Blocks = append(s.Blocks, block{Figure: f})
	}
}

func (s *section) table(t *table) { s.Blocks = append(s.Blocks, block{Table: t}) }

// mostRows is how long a table of the page is; the file beside it has all rows. One
// of more than mostOpen is to be unfolded, unless it is narrow or must be seen.
const mostRows, mostOpen = 15, 6

// shorten cuts long tables that stand whole in a file, and folds what is still long.
func (s *section) shorten() {
	for _, b := range s.Blocks {
		t := b.Table
		if t == nil {
			continue
		}
		t.Fold = len(t.Rows) > mostOpen && !t.Open && !t.Small()
		if t.CSV != "" && len(t.Rows) > mostRows+3 {
			t.More = len(t.Rows) - mostRows
			t.Rows = t.Rows[:mostRows]
		}
	}
}

// inventedWords stand on top of every page of an invented site.
const inventedWords = "INVENTED DATA: this site and all its readings are made up. Nothing here was measured."

// StyleHash is report.StyleHash for the year's page.
func StyleHash() string {
	var b strings.Builder
	if err := pageTemplate.Execute(&b, page{Style: report.StyleSheet()}); err != nil {
		panic("yearly: an empty page cannot be written: " + err.Error())
	}
	return report.HashStyle(b.String())
}

func pageOf(s *yearly.Summary, m *Measured, site sitefolder.Site) ([]byte, error) {
	p := page{
		Style: report.StyleSheet(), Site: site.Config.Name, Zone: site.Config.Location.String(), Year: s.Year,
		AsOf: day(s.AsOf), AsOfISO: calendar.Date(s.AsOf).Format("2006-01-02"), Lead: s.Notes,
	}
	if site.Config.Invented {
		p.Invented = inventedWords
	}
	p.Facts = facts(s)
	for _, w := range s.Findings() {
		p.Findings = append(p.Findings, sentence(typed(w)))
	}
	p.Pictures = pictures(s)
	p.Sections = []*section{scopeSection(s, m), survivalSection(s), positionSection(s), lightSection(s),
		warrantySection(s), scoreSection(s), nextSection(s), failureSection(s), measureSection(s, m)}
	for _, x := range p.Sections {
		x.shorten()
	}
	var b bytes.Buffer
	if err := pageTemplate.Execute(&b, p); err != nil {
		return nil, fmt.Errorf("make the page: %w", err)
	}
	return b.Bytes(), nil
}

// facts is the year in a few numbers.
func facts(s *yearly.Summary) []fact {
	hours := 0.0
	for _, e := range s.Scope.Exposures {
		if e.Unit == "lamp" {
			hours += float64(e.Hours)
		}
	}
	under, cross := 0, 0.0
	for _, o := range s.Outlook {
		under += o.Under
		if o.Crossings.Known() {
			cross += o.Crossings.Centre
		}
	}
	rate := "no lamp-hours"
	note := ""
	for _, t := range s.Trend {
		if t.Year == s.Year && (t.Rate.Known() || estimate.Finite(t.Rate.Hi)) {
			c := written(t.Rate.Estimate, places(1))
			rate, note = c.Text, "per million lamp-hours"
			if c.Interval != "" {
				note += ", " + c.Interval
			}
		}
	}
	stand := 0
	for _, c := range s.Claims {
		if c.Verdict == yearly.Stands {
			stand++
		}
	}
	return []fact{
		{"Fixtures at the year's end", chart.Number(float64(s.Scope.AtEnd), 0),
			fmt.Sprintf("%d at its start, %d added, %d removed, %d moved", s.Scope.AtStart, s.Scope.Added, s.Scope.Removed,
				s.Scope.Moved)},
		{"Lamp-hours burned", chart.Number(hours, 0), fmt.Sprintf("%s switching cycles",
			chart.Number(float64(s.Scope.Starts), 0))},
		{"Lamps failed", chart.Number(float64(s.Scope.Failed), 0), ""},
		{"Failure rate", rate, note},
		{"Under their threshold now", chart.Number(float64(under), 0),
			fmt.Sprintf("about %s more in the next year", chart.Number(cross, 0))},
		{"Warranty claims that stand", chart.Number(float64(stand), 0), fmt.Sprintf("of %d lamps under terms", s.Promised)},
	}
}

func scopeSection(s *yearly.Summary, m *Measured) *section {
	x := &section{ID: "scope", Heading: "Scope and exposure", Intro: []string{
		"Hours, cycles and energy are those of the year. A gear or a fixture burns while its lamp does."}}
	c := s.Scope
	t := newTable("rooms", "Fixtures by room at both ends of the year", "No fixture hung.", "Room", "#At its start",
		"#At its end")
	for _, r := range c.Rooms {
		name := r.Room
		if name == "" {
			name = "no room named"
		}
		t.add(text(name), whole(r.AtStart), whole(r.AtEnd))
	}
	t.add(text("all"), whole(c.AtStart), whole(c.AtEnd))
	x.table(t)
	x.say(fmt.Sprintf("In the year %d fixtures were added, %d removed and %d moved (%d moves); %d lamps were put in, %d failed; %d ballasts or drivers were replaced.",
		c.Added, c.Removed, c.Moved, c.Moves, c.Relamped, c.Failed, c.Regeared))
	t = newTable("exposure", "Unit-hours of the year", "No lamp burned.", "Unit", "Kind", "#Units", "#Hours",
		"#Failures or replacements")
	for _, e := range c.Exposures {
		kind := e.Kind
		if e.Unit == "lamp" {
			kind = lampType(kind)
		}
		t.add(text(e.Unit), text(kind), whole(e.Units), num(float64(e.Hours), 0), whole(e.Failures))
	}
	x.table(t)
	t = newTable("scope", "Energy of the year", "", "What told it", "#kWh")
	for _, e := range []struct {
		name string
		kwh  yearly.Number
	}{{"energy counters", c.Energy.MeteredKWh}, {"power times lamp-on time", c.Energy.ByPowerKWh},
		{"rated watts times run-hours", c.Energy.RatedKWh}, {"in all", c.Energy.Total}} {
		t.add(text(e.name), num(float64(e.kwh), 0))
	}
	if c.Energy.Unknown > 0 {
		t.Notes = append(t.Notes, fmt.Sprintf("%d fixtures with neither a meter nor rated watts are not in it.",
			c.Energy.Unknown))
	}
	x.table(t)
	t = newTable("coverage_by_month", "How much was seen, by month", "Nothing was read in the year.", "Month", "#Fixtures",
		"#Fixture-days", "#With readings", "#With a level", "#Readings", "#Used", "#Of the time unseen")
	for _, r := range m.Months {
		t.add(text(r.Month.Format("January 2006")), whole(int(r.Fixtures)), whole(int(r.FixtureDays)), whole(int(r.ReadDays)),
			whole(int(r.LevelDays)),
			whole(int(r.Readings)), whole(int(r.Usable)), text(inPercent(r.GapShare)))
	}
	x.table(t)
	t = newTable("left_out", "Readings of light that no level rests on, by reason", "None was left out.", "Reason",
		"#Readings", "#Of all")
	for _, l := range m.Left {
		t.add(text(l.Reason), whole(int(l.Count)), text(inPercent(l.Share)))
	}
	x.table(t)
	if len(c.NotUsed) > 0 {
		t = newTable("", "Lamp lives of the register that survival could not use", "", "Why", "#Lamp lives")
		t.ID = "t-not-used"
		for _, n := range c.NotUsed {
			t.add(text(n.Name), whole(n.Count))
		}
		x.table(t)
	}
	return x
}
