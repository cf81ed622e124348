package report

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"wane/cmd/wane/internal/circuits"
	"wane/cmd/wane/internal/pages/chart"
	"wane/transform/estimate"
	"wane/transform/supply"
)

// supplyPage is the page of the circuits' voltages.
type supplyPage struct {
	Caution  string
	Summary  []string
	Circuits Table
	Odd      []oddCircuit // not what the register says
	Hours    []hoursOf    // of those
	AsSaid   []hoursOf    // of the others
	NotDrawn string       // circuits whose day is not drawn
	Fixtures Table
	Origins  []string // of the coefficients
	Events   Table
	Blind    string
	Phases   Table
	NoPhases string
	Limits   Table
}

// oddCircuit is a circuit that is not what the register says, with what speaks
// for it.
type oddCircuit struct {
	Name, Words string
	Evidence    []string
	Others      []string
	Settles     []string
}

// hoursOf is a circuit by hour of day and season.
type hoursOf struct {
	Name   string
	Figure *Figure
}

func supplyOf(b *book) (any, bool) {
	if b.in.Supply == nil || len(b.in.Supply.Circuits) == 0 {
		return nil, false
	}
	p := &supplyPage{Caution: supply.Cautions, NoPhases: sentence(b.in.Supply.NoPhases)}
	p.summary(b.in.Supply)
	p.circuits(b.in.Supply)
	p.hours(b.in.Supply)
	for _, c := range b.in.Supply.Circuits {
		if c.Why != "" {
			continue
		}
		if !c.Finding.Agrees || c.Finding.Confidence == "none" {
			p.Odd = append(p.Odd, oddOf(c))
		}
		if c.Blind != "" {
			p.Blind = sentence(c.Blind)
		}
	}
	p.fixtures(b)
	p.events(b)
	p.phases(b.in.Supply)
	p.limits()
	return p, true
}

// limitWords names a range with its source, and whether it was read there.
func limitWords(l supply.Limit) string {
	if math.IsInf(l.Max, 0) {
		return "no published range is known for the registered voltage"
	}
	w := fmt.Sprintf("%.0f to %.0f V, %s", l.Min, l.Max, l.Source)
	if l.Recalled() {
		w += ", from memory"
	}
	return w
}

// outsideOf is the share of the time outside the range.
func outsideOf(c supply.Cell) Value {
	e := c.Below
	e.Centre, e.Lo, e.Hi = c.Below.Centre+c.Above.Centre, c.Below.Lo+c.Above.Lo, math.Min(1, c.Below.Hi+c.Above.Hi)
	return valueOf(e, "at least", func(x float64) string { return chart.Number(100*x, 2) }).unit("%")
}

func (p *supplyPage) summary(s *circuits.Site) {
	odd, misrated, silent := []string{}, 0, []string{}
	for _, c := range s.Circuits {
		switch {
		case c.Why != "":
			silent = append(silent, c.Name)
		case !c.Finding.Agrees || c.Finding.Confidence == "none":
			odd = append(odd, c.Name)
		}
		misrated += c.Misrated()
	}
	if len(odd) == 0 {
		p.Summary = append(p.Summary, "Every circuit that is read is what the register says.")
	} else {
		p.Summary = append(p.Summary, fmt.Sprintf("Not what the register says: %s.", strings.Join(odd, ", ")))
	}
	if misrated > 0 {
		p.Summary = append(p.Summary, fmt.Sprintf("%s not rated for the voltage read there.",
			count(misrated, "fixture is", "fixtures are")))
	}
	if len(silent) > 0 {
		p.Summary = append(p.Summary, fmt.Sprintf("Nothing is known of %s.", strings.Join(silent, ", ")))
	}
}

func (p *supplyPage) circuits(s *circuits.Site) {
	p.Circuits = Table{Caption: "Circuits", Head: columns("Circuit", "#Fixtures", "#Registered, V", "#Median, V",
		"#Nine readings in ten, V", "#Outside the range", "Most likely", "Sags, swells, interruptions")}
	for _, c := range s.Circuits {
		name, hang := cell(c.Name), cell(fmt.Sprint(len(c.Fixtures)))
		reg := "not known"
		if c.Registered > 0 {
			reg = chart.Number(c.Registered, 0)
		}
		whole, ok := c.Profile.Whole()
		if !ok || c.Why != "" {
			p.Circuits.Rows = append(p.Circuits.Rows, Row{Cells: []Cell{name, hang, cell(reg), cell("not known"), cell(""),
				cell(""), cell(c.Why), cell("")}})
			continue
		}
		likely := cell(c.Finding.Best.Label())
		likely.Note = fmt.Sprintf("%s, weight %.2f", c.Finding.Confidence, c.Finding.Best.Weight)
		if !c.Finding.Agrees {
			likely.Sign = "▼"
			likely.Note = "not as registered; " + likely.Note
		}
		if n := c.Misrated(); n > 0 {
			hang.Note = fmt.Sprintf("%d not rated for it", n)
		}
		outside := of(outsideOf(whole))
		if r := c.Profile.Range; !math.IsInf(r.Max, 0) { // its source stands by the drawing
			outside.Note = fmt.Sprintf("%.0f\u00a0to\u00a0%.0f\u00a0V", r.Min, r.Max)
		}
		p.Circuits.Rows = append(p.Circuits.Rows, Row{Cells: []Cell{
			name, hang, cell(reg), of(plainValue(whole.Median, 1, "")),
			cell(fmt.Sprintf("%.1f\u00a0to\u00a0%.1f", whole.P5.Centre, whole.P95.Centre)), outside, likely,
			cell(fmt.Sprintf("%d, %d, %d", c.Count(supply.Sag), c.Count(supply.Swell), c.Count(supply.Interruption))),
		}})
	}
}

func oddOf(c *circuits.Circuit) oddCircuit {
	o := oddCircuit{Name: c.Name, Words: sentence(c.Finding.Words)}
	for _, e := range c.Finding.Best.Evidence {
		o.Evidence = append(o.Evidence, sentence(e))
	}
	if c.Seen != nil {
		if w, ok := c.Seen.Whole(); ok {
			o.Evidence = append(o.Evidence, fmt.Sprintf("Outside the range of %s for %s of the time.", c.Finding.Best.Service,
				outsideOf(w)))
		}
	}
	for _, a := range c.Finding.Alternatives {
		o.Others = append(o.Others, fmt.Sprintf("%s, weight %.2f: %s.", a.Label(), a.Weight, a.Evidence[0]))
	}
	for _, x := range c.Finding.Settles {
		o.Settles = append(o.Settles, sentence(x))
	}
	return o
}

// mostDrawn is how many circuits' days are drawn, those that are not what the
// register says before others.
const mostDrawn = 12

func (p *supplyPage) hours(s *circuits.Site) {
	var left []string
	for k, list := range []*[]hoursOf{&p.Hours, &p.AsSaid} {
		for i, c := range s.Circuits {
			if c.Why != "" || c.Finding.Agrees != (k == 1) {
				continue
			}
			if len(p.Hours)+len(p.AsSaid) == mostDrawn {
				left = append(left, c.Name)
				continue
			}
			*list = append(*list, hoursOf{c.Name, hoursFigure(fmt.Sprintf("hours-%d", i), c)})
		}
	}
	if len(left) > 0 {
		p.NotDrawn = fmt.Sprintf("Not drawn: %s. `wane supply CIRCUIT --show hours` gives their numbers.",
			strings.Join(left, ", "))
	}
}

var seasons = []supply.Season{supply.Winter, supply.Spring, supply.Summer, supply.Autumn}

// hoursFigure draws a circuit's voltage over the day: the year's middle nine in
// ten as a band, and the median of each season.
func hoursFigure(id string, c *circuits.Circuit) *Figure {
	data := Table{Caption: "Numbers of the drawing: the year, hour by hour",
		Head: columns("#Hour", "#Median, V", "#Nine readings in ten, V", "#Outside the range")}
	var spans []chart.Span
	for h := range 24 {
		k, ok := c.Profile.Cell(supply.Year, h)
		if !ok {
			continue
		}
		spans = append(spans, chart.Span{X: float64(h), Lo: k.P5.Centre, Hi: k.P95.Centre})
		data.Rows = append(data.Rows, Row{Cells: []Cell{cell(fmt.Sprintf("%02d", h)), of(plainValue(k.Median, 1, "")),
			cell(fmt.Sprintf("%.1f to %.1f", k.P5.Centre, k.P95.Centre)), of(outsideOf(k))}})
	}
	layers := []chart.Layer{chart.Band{Name: "nine readings in ten, all year", Tone: chart.Grey, Spans: spans}}
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, s := range spans {
		lo, hi = math.Min(lo, s.Lo), math.Max(hi, s.Hi)
	}
	for i, season := range seasons {
		var pts []chart.Point
		for h := range 24 {
			if k, ok := c.Profile.Cell(season, h); ok {
				pts = append(pts, chart.Point{X: float64(h), Y: k.Median.Centre})
				lo, hi = math.Min(lo, k.Median.Centre), math.Max(hi, k.Median.Centre)
			}
		}
		if len(pts) > 0 {
			layers = append(layers, chart.Series{Name: "median, " + string(season), Look: chart.Looks[i], Points: pts})
		}
	}
	caption := "Held against " + limitWords(c.Profile.Range) + "."
	limit := chart.Look{Tone: chart.Vermilion, Dash: chart.LongDash}
	if at, name := nearLimit(c, lo, hi); name != "" {
		layers = append(layers, chart.Level{Name: fmt.Sprintf("%s, %.0f V", name, at), At: at, Look: limit})
		lo, hi = math.Min(lo, at), math.Max(hi, at)
	} else {
		caption += " Its ends lie beyond the drawing."
	}
	room := math.Max(1, .1*(hi-lo))
	return figure(id, caption, chart.XY{
		Title: "Voltage of " + c.Name + " by hour of day",
		Desc: "The median of each season and the middle nine readings in ten of the year, hour by hour; the table below " +
			"gives the numbers.",
		X: chart.Axis{Label: "hour of day", Min: 0, Max: 23}, Y: chart.Axis{Label: "V", Min: lo - room, Max: hi + room},
		Slim: true, Layers: layers,
	}, data)
}

// origin says once for each kind of gear where its coefficient comes from.
func (p *supplyPage) origin(e *circuits.Effect) {
	gear := string(e.Gear)
	if gear == "" {
		gear = "unknown"
	}
	w := fmt.Sprintf("Coefficient of %s gear: %s, %s.", gear, plainValue(e.Coefficient, 2, ""), e.Origin)
	if !slices.Contains(p.Origins, w) {
		p.Origins = append(p.Origins, w)
	}
}

// nearLimit gives the end of the range that is worth drawing: for a circuit that
// is not what the register says, the nearer one; for others, one that the
// voltages come near.
func nearLimit(c *circuits.Circuit, lo, hi float64) (at float64, name string) {
	r := c.Profile.Range
	if math.IsInf(r.Max, 0) {
		return 0, ""
	}
	at, name = r.Min, "lower limit"
	gap := math.Abs(lo - r.Min)
	if g := math.Abs(r.Max - hi); g < gap {
		at, name, gap = r.Max, "upper limit", g
	}
	if c.Finding.Agrees && gap > math.Max(2, hi-lo) {
		return 0, ""
	}
	return at, name
}

func (p *supplyPage) fixtures(b *book) {
	p.Fixtures = Table{Caption: "What the supply does to each lamp. The coefficient is declared, not measured: per " +
		"cent of light for each per cent of voltage", Head: columns("Fixture", "Rated for it?", "#At first, V", "#Of late, V", "#Output as read, change", "#Of it the supply's", "#The rest", "#Output over that at the rated voltage"), Wordy: true}
	warned := map[string][]string{}
	var warnings []string
	for _, c := range b.in.Supply.Circuits {
		if c.Why != "" || len(c.Rated) == 0 {
			continue
		}
		p.Fixtures.Rows = append(p.Fixtures.Rows, Row{Heading: "Circuit " + c.Name})
		by := map[string]*circuits.Effect{}
		for i := range c.Effects {
			by[c.Effects[i].Fixture] = &c.Effects[i]
		}
		for _, r := range c.Rated {
			name := Cell{Text: r.Fixture.ID, Link: b.links[r.Fixture.ID]}
			rated := cell(r.Words)
			switch {
			case !r.Known:
			case r.OK:
				rated.Sign = "✓"
			default:
				rated.Sign = "▼"
			}
			e := by[r.Fixture.ID]
			if e == nil {
				p.Fixtures.Rows = append(p.Fixtures.Rows, Row{Cells: []Cell{name, rated, cell(""), cell(""), cell(""), cell(""),
					cell(""), cell("")}})
				continue
			}
			p.origin(e)
			for _, w := range e.AtRated.Warnings {
				if warned[w] == nil {
					warnings = append(warnings, w)
				}
				warned[w] = append(warned[w], r.Fixture.ID)
			}
			p.Fixtures.Rows = append(p.Fixtures.Rows, Row{Cells: []Cell{
				name, rated, of(plainValue(e.FirstV, 1, "")), of(plainValue(e.LaterV, 1, "")), of(signed(e.Change)),
				of(signed(e.Supply)), of(signed(e.Rest)), of(signedRatio(e.AtRated)),
			}})
		}
	}
	p.Fixtures.Fold = len(p.Fixtures.Rows) > mostOpen
	for _, w := range warnings {
		p.Origins = append(p.Origins, sentence(strings.Join(warned[w], ", ")+": "+w))
	}
}

// lasting writes how long something lasted: "58 h 45 min".
func lasting(d time.Duration) string {
	parts := []string{}
	for _, u := range []struct {
		of   time.Duration
		name string
	}{{time.Hour, "h"}, {time.Minute, "min"}, {time.Second, "s"}} {
		if n := d / u.of; n > 0 {
			parts = append(parts, fmt.Sprintf("%d\u00a0%s", n, u.name))
			d -= n * u.of
		}
	}
	if len(parts) == 0 {
		return "under 1\u00a0s"
	}
	return strings.Join(parts, "\u00a0")
}

// signedRatio writes a ratio as per cent.
func signedRatio(e estimate.Estimate) Value {
	return valueOf(e, "at least", func(x float64) string { return chart.Number(100*x, 0) }).unit("%")
}

// mostEvents is how many events of a circuit are listed.
const mostEvents = 20

func (p *supplyPage) events(b *book) {
	p.Events = Table{Caption: "Sags, swells and interruptions: under 0.9, over 1.1 and under 0.1 of the nominal voltage",
		Head:  columns("Circuit", "Kind", "First reading outside", "#Readings", "#Farthest, V", "Duration"),
		Empty: "None was seen."}
	for _, c := range b.in.Supply.Circuits {
		for i, e := range c.Events {
			if i == mostEvents {
				p.Events.Rows = append(p.Events.Rows, Row{Cells: []Cell{cell(c.Name),
					cell(fmt.Sprintf("and %d more: `wane supply %s --show events`", len(c.Events)-mostEvents, c.Name)), cell(""),
					cell(""), cell(""), cell("")}})
				break
			}
			span := "at least " + lasting(e.AtLeast)
			if e.AtMost >= 0 {
				span = lasting(e.AtLeast) + " to " + lasting(e.AtMost)
			}
			d := cell(span)
			d.Note = e.Class
			p.Events.Rows = append(p.Events.Rows, Row{Cells: []Cell{cell(c.Name), cell(string(e.Kind)),
				cell(dateAt(e.Start, b.in.location()) + e.Start.In(b.in.location()).Format("\u00a015:04")), cell(fmt.Sprint(e.Samples)),
				cell(chart.Number(e.ExtremeV, 1)), d}})
		}
	}
}

func (p *supplyPage) phases(s *circuits.Site) {
	p.Phases = Table{Caption: "Unbalance of three phases, from hourly means",
		Head: columns("Service", "#Hours", "#Median, %", "#95 % of hours under, %", "#Negative sequence, median, %", "Note")}
	for _, u := range s.Phases {
		p.Phases.Rows = append(p.Phases.Rows, Row{Cells: []Cell{cell(u.Service), cell(fmt.Sprint(u.Hours)),
			of(plainValue(u.Median, 2, "")), of(plainValue(u.P95, 2, "")), of(plainValue(u.Negative, 2, "")), cell(u.Why)}})
	}
}

func (p *supplyPage) limits() {
	p.Limits = Table{Caption: "All ranges that this page holds voltages against", Fold: true, Head: columns("Nominal", "Range", "#From, V", "#To, V", "Source",
		"Known")}
	v := func(x float64) string {
		if math.IsNaN(x) {
			return "none given"
		}
		return chart.Number(x, 1)
	}
	for _, l := range supply.Limits() {
		p.Limits.Rows = append(p.Limits.Rows, Row{Cells: []Cell{cell(l.Nominal), cell(l.Kind), cell(v(l.Min)), cell(v(l.Max)),
			cell(l.Source), cell(l.Provenance())}})
	}
}
