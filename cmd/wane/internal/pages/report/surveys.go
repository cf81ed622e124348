package report

import (
	"fmt"
	"html/template"
	"math"
	"slices"
	"sort"
	"strings"
	"time"

	"wane/cmd/wane/internal/pages/chart"
	"wane/transform/calendar"
	"wane/transform/estimate"
	"wane/transform/lamp"
	"wane/transform/survey"
	"wane/transform/survey/surveys"
)

// surveysPage is the page of the canopy surveys.
type surveysPage struct {
	Facts       []Fact
	Tale        []string
	Ranking     *Figure
	Pairs       []string
	Ages        Table
	Scale       template.HTML
	ChangeScale template.HTML
	Fixtures    []surveyed
	Numbers     Table
	Rig         *Figure
	RigWords    []string
	List        Table
	Notes       []string
	Cautions    []string
}

// surveyed is one fixture on the page.
type surveyed struct {
	Name, Link string
	Ends       []*Figure // maps of the first survey and the latest
	Change     *mapped   // between them
	Between    []mapped  // the surveys between, and what had changed by then
}

// mapped is a map with what it says.
type mapped struct {
	Figure *Figure
	Words  []string
}

// mostBetween is how many surveys between the first and the latest are drawn.
const mostBetween = 4

func surveysOf(b *book) (any, bool) {
	if b.in.Surveys == nil || len(b.in.Surveys.Entries) == 0 {
		return nil, false
	}
	s := surveysBuilder{book: b, s: b.in.Surveys}
	p := &surveysPage{Cautions: survey.Cautions(), Notes: s.s.Notes}
	s.facts(p)
	s.sideBySide(p)
	s.fixtures(p)
	s.tale(p)
	s.numbers(p)
	s.rig(p)
	s.list(p)
	return p, true
}

type surveysBuilder struct {
	*book
	s       *surveys.Book
	latest  []surveys.Change // the last change of each fixture
	ranks   []survey.Ranking // by visit; those that could be made
	rankAt  []time.Time
	changes map[string][]surveys.Change
}

func (s *surveysBuilder) when(t time.Time) string { return dateAt(t, s.in.location()) }

func (s *surveysBuilder) named(fixture string) string {
	if m := s.s.Model(fixture); m != "" {
		return fixture + " (" + m + ")"
	}
	return fixture
}

// signed writes a ratio as a change in per cent with its interval.
func signed(e estimate.Estimate) Value {
	return valueOf(e, "at least", func(x float64) string { return signedNumber(100 * (x - 1)) }).unit("%")
}

// signedNumber writes a number with its sign and one decimal; nothing is 0.0.
func signedNumber(x float64) string {
	s := fmt.Sprintf("%+.1f", x)
	if s == "-0.0" || s == "+0.0" {
		return "0.0"
	}
	return s
}

// plain writes an estimate with so many decimals and a unit.
func plainValue(e estimate.Estimate, places int, unit string) Value {
	v := valueOf(e, "at least", func(x float64) string { return chart.Number(x, places) })
	if unit != "" {
		v = v.unit(unit)
	}
	return v
}

func (s *surveysBuilder) facts(p *surveysPage) {
	last := len(s.s.Visits) - 1
	p.Facts = []Fact{
		{Name: "Surveys", Value: Value{Centre: fmt.Sprint(len(s.s.Entries))},
			Note: count(len(s.s.Visits), "visit to the rig", "visits to the rig")},
		{Name: "Reference fixture", Value: Value{Centre: s.s.Reference}, Note: "kept apart and surveyed on each visit"},
	}
	if s.s.Reference == "" {
		p.Facts[1] = Fact{Name: "Reference fixture", Value: Value{Centre: "none"},
			Note: "rig and fixture cannot be told apart: declare one in site.yaml and survey it on each visit"}
	}
	p.Facts = append(p.Facts, Fact{Name: "The rig at the last visit", Value: signed(s.s.RigAt(last).Drift),
		Note: "the reference fixture against its first survey"})
	drift := s.s.Slope()
	v := valueOf(drift, "", signedNumber).unit("%")
	p.Facts = append(p.Facts, Fact{Name: "The rig's drift a year", Value: v, Note: strings.Join(drift.Warnings, "; ")})
}

// tale sums up in sentences, the rig first, since all else hangs on it.
func (s *surveysBuilder) tale(p *surveysPage) {
	last := len(s.s.Visits) - 1
	if _, words := s.s.RigState(last); words != "" {
		p.Tale = append(p.Tale, sentence(words))
	}
	for i, r := range s.ranks {
		if i != 0 && i != len(s.ranks)-1 {
			continue
		}
		var front []string
		for _, x := range r.Order {
			if x.Best == 1 {
				front = append(front, s.named(x.Fixture))
			}
		}
		w := front[0] + " threw the most light on the grid"
		if len(front) > 1 {
			w = strings.Join(front[:len(front)-1], ", ") + " and " + front[len(front)-1] + " cannot be told apart in front: " +
				survey.NoDifference
		}
		p.Tale = append(p.Tale, fmt.Sprintf("On %s %s.", s.when(s.rankAt[i]), w))
	}
	sort.SliceStable(s.latest, func(i, j int) bool { return s.latest[i].Level.Centre < s.latest[j].Level.Centre })
	for _, c := range s.latest {
		w := fmt.Sprintf("%s: %s since %s", s.named(c.Later.Fixture), signed(c.Level), s.when(c.First.TakenAt))
		switch {
		case c.Level.Lo <= 1 && c.Level.Hi >= 1:
			w += ", no change that this rig can see"
		case c.Shape.Changed:
			w += ", and its pattern changed too"
		}
		if !c.Rig.Drift.Known() {
			w += "; the rig's own drift is in this figure"
		}
		p.Tale = append(p.Tale, w+".")
	}
}

func (s *surveysBuilder) sideBySide(p *surveysPage) {
	for v := range s.s.Visits {
		if r, err := s.s.SideBySide(v); err == nil {
			s.ranks, s.rankAt = append(s.ranks, r), append(s.rankAt, s.s.Visits[v].From)
		}
	}
	if len(s.ranks) == 0 {
		return
	}
	var groups []chart.RangeGroup
	data := Table{Caption: "Numbers of the drawing", Head: columns("Fixture", "#Average, µmol/m²/s (own uncertainty)",
		"#Place")}
	for i, r := range s.ranks {
		g := chart.RangeGroup{Heading: s.when(s.rankAt[i])}
		data.Rows = append(data.Rows, Row{Heading: g.Heading})
		for _, x := range r.Order {
			h := 1.96 * x.OwnPct / 100
			lo, hi := x.Average*math.Exp(-h), x.Average*math.Exp(h)
			g.Rows = append(g.Rows, chart.Range{Label: x.Fixture, Lo: lo, Centre: x.Average, Hi: hi,
				Look: chart.Look{Tone: chart.Blue, Mark: chart.Dot}})
			place := fmt.Sprint(x.Best)
			if x.Best != x.Worst {
				place = fmt.Sprintf("%d to %d", x.Best, x.Worst)
			}
			data.Rows = append(data.Rows, Row{Cells: []Cell{cell(s.named(x.Fixture)),
				{Text: chart.Number(x.Average, 0), Interval: chart.Number(lo, 0) + " to " + chart.Number(hi, 0)}, cell(place)}})
		}
		groups = append(groups, g)
	}
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, g := range groups {
		for _, x := range g.Rows {
			lo, hi = math.Min(lo, x.Lo), math.Max(hi, x.Hi)
		}
	}
	room := .05 * (hi - lo)
	p.Ranking = figure("side", "Average on the grid, by visit, with what each survey does not share with the others of its visit (95 %). Between visits the rig may have moved: compare within a visit.",
		chart.Ranges{Title: "Fixtures side by side", Desc: "The average of each fixture on each visit with its own uncertainty; the table below gives the numbers.", X: chart.Axis{Label: "PPFD, average of the grid, µmol/m²/s", Min: lo - room, Max: hi + room}, Groups: groups}, data)
	r := s.ranks[len(s.ranks)-1]
	for _, x := range r.Pairs {
		p.Pairs = append(p.Pairs, sentence(x.Words))
	}
	p.Pairs = append(p.Pairs, sentence(r.Rig))
	s.ages(p)
}

// ages is the comparison at equal run-hours.
func (s *surveysBuilder) ages(p *surveysPage) {
	p.Ages = Table{Caption: "At equal run-hours of their lamps, each on the straight line between its own surveys, " +
		"the rig's drift taken out", Wordy: true, Empty: "The run-hours of two fixtures are not known around one age yet."}
	if s.in.Result == nil {
		return
	}
	steps, left, err := s.s.ByAge(lamp.HoursOf(s.in.Result.Lives, s.in.location()), s.in.Config.Survey.StepHours)
	if err != nil {
		left = append(left, err.Error())
	}
	p.Notes = append(p.Notes, left...)
	fixtures := s.s.Fixtures()
	p.Ages.Head = []Column{{Name: "Run-hours"}}
	for _, f := range fixtures {
		p.Ages.Head = append(p.Ages.Head, Column{Name: s.named(f) + ", µmol/m²/s", Numbers: true})
	}
	p.Ages.Head = append(p.Ages.Head, Column{Name: "In front"})
	for _, st := range steps {
		by := map[string]survey.Ranked{}
		var front []string
		for _, x := range st.Ranking.Order {
			by[x.Fixture] = x
			if x.Best == 1 {
				front = append(front, x.Fixture)
			}
		}
		row := Row{Cells: []Cell{cell(chart.Number(st.RunHours, 0))}}
		for _, f := range fixtures {
			x, ok := by[f]
			if !ok {
				row.Cells = append(row.Cells, cell(""))
				continue
			}
			h := 1.96 * x.OwnPct / 100
			row.Cells = append(row.Cells, Cell{Text: chart.Number(x.Average, 0),
				Interval: chart.Number(x.Average*math.Exp(-h), 0) + " to " + chart.Number(x.Average*math.Exp(h), 0)})
		}
		w := strings.Join(front, ", ")
		if len(front) > 1 {
			w += ": no difference seen"
		}
		row.Cells = append(row.Cells, cell(w))
		p.Ages.Rows = append(p.Ages.Rows, row)
	}
	p.Ages.Fold = len(p.Ages.Rows) > mostOpen
}

func (s *surveysBuilder) fixtures(p *surveysPage) {
	s.changes = map[string][]surveys.Change{}
	var drawn []survey.Survey
	most := 0.0
	for _, f := range s.s.Fixtures() {
		list, why := s.s.Changes(f)
		p.Notes = append(p.Notes, why...)
		s.changes[f] = list
		if n := len(list); n > 0 {
			s.latest = append(s.latest, list[n-1])
		}
		for _, e := range s.s.Of(f) {
			drawn = append(drawn, e.Used)
		}
		for _, c := range list {
			for _, x := range c.Spots {
				most = math.Max(most, math.Abs(100*(x.Ratio.Centre-1)))
			}
		}
	}
	most = math.Max(5, 5*math.Ceil(most/5))
	scale := survey.ScaleOf(drawn...)
	p.Scale = scaleBar("scale", "The scale of the maps", 36,
		func(t float64) string { return scale.Colour(scale.Lo + t*(scale.Hi-scale.Lo)) },
		chart.Number(scale.Lo, 0)+" µmol/m²/s", chart.Number(scale.Hi, 0)+" µmol/m²/s")
	p.ChangeScale = scaleBar("change-scale", "The scale of the maps of change", 36,
		func(t float64) string { return changeColour((2*t-1)*most, most) },
		fmt.Sprintf("−%.0f %%", most), fmt.Sprintf("+%.0f %%", most))
	for k, f := range s.s.Fixtures() {
		x := surveyed{Name: s.named(f), Link: s.links[f]}
		es, list := s.s.Of(f), s.changes[f]
		for i, e := range es {
			caption := s.when(e.TakenAt)
			if n, err := s.s.Numbers(e); err == nil {
				caption += ": average " + plainValue(n.Average, 0, "µmol/m²/s").String() + ", min/avg " + plainValue(n.MinAvg, 2,
					"").String()
			}
			drawn := heat(fmt.Sprintf("map-%d-%d", k, i), e.Used, scale, "Survey "+e.ID+" of "+f, caption)
			if i == 0 || i == len(es)-1 {
				x.Ends = append(x.Ends, drawn)
			} else if i <= mostBetween {
				x.Between = append(x.Between, mapped{Figure: drawn})
			}
		}
		for i, c := range list {
			m := mapped{Figure: s.change(fmt.Sprintf("change-%d-%d", k, i), c, most)}
			words := append(slices.Clone(c.Words), c.Warnings...)
			if w := c.Without(); w != "" {
				words = append(words, w)
			}
			for _, w := range words {
				m.Words = append(m.Words, sentence(w))
			}
			if i == len(list)-1 {
				x.Change = &m
			} else if i < mostBetween {
				x.Between = append(x.Between, m)
			}
		}
		p.Fixtures = append(p.Fixtures, x)
	}
}

// change draws what came of each spot.
func (s *surveysBuilder) change(id string, c surveys.Change, most float64) *Figure {
	rows, cols := c.Later.Size()
	by := map[int]survey.SpotChange{}
	for _, x := range c.Spots {
		by[x.Number] = x
	}
	at := func(r, k int) spot {
		x, ok := by[survey.Number(r, k, cols)]
		if !ok {
			return spot{Text: "–", Fill: "#ffffff", Ink: "#1a1a1a"}
		}
		pct := 100 * (x.Ratio.Centre - 1)
		return spot{Text: signedNumber(pct), Fill: changeColour(pct, most), Ink: changeInk(pct, most), Ring: x.StandsOut}
	}
	title := fmt.Sprintf("Change of each spot of %s from %s to %s", c.Later.Fixture, s.when(c.First.TakenAt),
		s.when(c.Later.TakenAt))
	caption := fmt.Sprintf("%s to %s: level %s", s.when(c.First.TakenAt), s.when(c.Later.TakenAt), signed(c.Level))
	for _, x := range c.Spots {
		if x.StandsOut {
			caption += "; a dashed ring marks a spot that stands out from the common change"
			break
		}
	}
	return &Figure{ID: id, Caption: caption, Drawing: spotGrid(id, title,
		"Per cent of change in each spot; its table is below the drawing.", rows, cols, at),
		Data: gridTable("Change, per cent", rows, cols, at)}
}

// numbers is the latest survey of each fixture.
func (s *surveysBuilder) numbers(p *surveysPage) {
	p.Numbers = Table{Caption: "The latest survey of each fixture",
		Head: columns("Fixture", "Taken", "#Average, µmol/m²/s", "#Min/avg", "#Min/max", "#Coefficient of variation",
			"#Perimeter/interior", "#DLI, mol/m²/d", "#PPF on the footprint, µmol/s", "#Efficacy there, µmol/J",
			"Hot spots (number)")}
	fixtures := s.s.Fixtures()
	if s.s.Reference != "" {
		fixtures = append(fixtures, s.s.Reference)
	}
	for _, f := range fixtures {
		e := s.s.Latest(f)
		if e == nil {
			continue
		}
		n, err := s.s.Numbers(e)
		if err != nil {
			p.Notes = append(p.Notes, err.Error())
			continue
		}
		var hot []string
		for _, m := range n.Hot {
			hot = append(hot, fmt.Sprint(m.Number))
		}
		p.Numbers.Rows = append(p.Numbers.Rows, Row{Cells: []Cell{
			cell(s.named(f)), cell(s.when(e.TakenAt)), of(plainValue(n.Average, 0, "")), of(plainValue(n.MinAvg, 2, "")),
			of(plainValue(n.MinMax, 2, "")), of(plainValue(n.CV, 2, "")), of(plainValue(n.EdgeShare, 2, "")),
			of(plainValue(n.DLI, 1, "")), of(plainValue(n.Footprint, 0, "")), of(plainValue(n.Efficacy, 2, "")),
			cell(strings.Join(hot, ", ")),
		}})
	}
}

func (s *surveysBuilder) rig(p *surveysPage) {
	c, err := s.s.Chart()
	if err != nil {
		p.RigWords = append(p.RigWords, sentence(err.Error()))
		return
	}
	var pts []chart.Point
	data := Table{Caption: "Numbers of the drawing", Head: columns("Visit", "#Reference fixture, average, µmol/m²/s",
		"Limits", "#Drift since the first visit", "The rig")}
	for i, x := range c.Points {
		pts = append(pts, chart.Point{X: float64(calendar.DayOf(x.At, s.in.location())), Y: x.Value})
		for v := range s.s.Visits {
			if !s.s.Visits[v].From.Equal(x.At) {
				continue
			}
			_, words := s.s.RigState(v)
			within := "within"
			if x.Outside {
				within = "outside"
			}
			data.Rows = append(data.Rows, Row{Cells: []Cell{cell(s.when(x.At)), cell(chart.Number(x.Value, 1)), cell(within),
				of(signed(s.s.RigAt(v).Drift)), cell(words)}})
			if i == len(c.Points)-1 {
				p.RigWords = append(p.RigWords, sentence(words))
			}
		}
	}
	ink := chart.Look{Tone: chart.Ink, Dash: chart.Solid, Thin: true}
	limit := chart.Look{Tone: chart.Vermilion, Dash: chart.Dashed}
	lo, hi := c.Lower, c.Upper
	for _, x := range pts {
		lo, hi = math.Min(lo, x.Y), math.Max(hi, x.Y)
	}
	room := .15 * (hi - lo)
	p.Rig = figure("rig", fmt.Sprintf("Control chart of the reference fixture %s: individuals, limits at three times the mean moving range over 1.128 (%d points). %s.", s.s.Reference, c.Baseline, sentence(strings.Join(c.Warnings, "; "))),
		chart.XY{Title: "Control chart of the reference fixture",
			Desc: "Its average on each visit between control limits; the table below gives the numbers.",
			X:    chart.Axis{Days: true}, Y: chart.Axis{Label: "PPFD, average of the grid, µmol/m²/s", Min: lo - room,
				Max: hi + room}, Height: 300,
			Layers: []chart.Layer{
				chart.Level{Name: "upper limit", At: c.Upper, Look: limit}, chart.Level{Name: "centre", At: c.Centre, Look: ink},
				chart.Level{Name: "lower limit", At: c.Lower, Look: limit},
				chart.Series{Name: "reference fixture", Look: chart.Look{Tone: chart.Blue, Dash: chart.Solid, Mark: chart.Dot},
					Points: pts},
			}}, data)
	p.Rig.Caption = strings.ReplaceAll(p.Rig.Caption, "..", ".")
}

func (s *surveysBuilder) list(p *surveysPage) {
	p.List = Table{Caption: "Every survey taken in", Fold: true, Head: columns("Survey", "Fixture", "Taken", "#Height, m", "Grid",
		"#Spots read", "#Average, µmol/m²/s", "Off the declared conditions, and corrections"), Wordy: true}
	for _, e := range s.s.Entries {
		n, err := s.s.Numbers(e)
		if err != nil {
			p.Notes = append(p.Notes, err.Error())
			continue
		}
		var off []string
		for _, f := range e.Flags {
			off = append(off, f.Words)
		}
		for _, k := range e.Corrections {
			off = append(off, k.Words)
		}
		height := "not written down"
		if e.HeightM > 0 {
			height = chart.Number(e.HeightM, 2)
		}
		p.List.Rows = append(p.List.Rows, Row{Cells: []Cell{cell(e.ID), cell(e.Fixture), cell(s.when(e.TakenAt)),
			cell(height), cell(fmt.Sprintf("%d × %d", n.Rows, n.Cols)), cell(fmt.Sprint(n.Read)),
			of(plainValue(n.Average, 0, "")), cell(strings.Join(off, "; "))}})
	}
}
