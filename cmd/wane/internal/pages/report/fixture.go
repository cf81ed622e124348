package report

import (
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"

	"wane/cmd/wane/internal/pages/chart"
	"wane/transform/due"
	"wane/transform/estimate"
	"wane/transform/fleet"
	"wane/transform/forecast"
	"wane/transform/lamp"
)

// fixturePage is all that is said of one fixture.
type fixturePage struct {
	Place, Lamp string
	Room        Cell // linked to its page; empty where it has none
	Status      *Status
	Why         []string
	Act         bool // somebody may go up to it: cautions
	Facts       []Fact
	Decline     *Figure
	Notes       []string
	Surveys     *Table
	Earlier     *Figure
	Events      Table
	Shares      *Table
	Cannot      *Table
	Settle      string
	Hours       Table
	HoursNotes  []string
	Assumed     *Table
	Way         way
	Explain     string
	Brief       bool          // see mostFull
	Overlay     string        // address of the page on which others can be laid beside it
	curve       []byte        // for the files of data
	small       template.HTML // for its room's page
}

func fixtureOf(b *book, id string) *fixturePage {
	lives := lamp.WithSeries(b.lives[id])
	l := lives[len(lives)-1]
	f := l.Fixture
	p := &fixturePage{Place: place(l), Lamp: lampWords(l), Explain: "wane explain " + quoted(id), Brief: b.brief,
		Overlay: overlayLink("../overlay.html", []string{id})}
	if at := b.roomLink[l.Place.Room]; at != "" {
		p.Room = Cell{Text: roomWords(l.Place.Room), Link: "../" + at}
	}
	d := b.byName[id]
	if d != nil {
		with := *d
		with.Life = lives[slices.Index(b.lives[id], d.Life)]
		d = &with
	}
	if d == nil {
		p.Why = []string{"The fixture is not in service: " + endWords(b, l) + "."}
	} else {
		st := statusOf(d.Answer.Status)
		p.Status = &st
		for _, w := range strings.Split(d.Answer.Reason, "; ") {
			if w != "" {
				p.Why = append(p.Why, sentence(spoken(w)))
			}
		}
		p.Act = d.Answer.Status == forecast.StatusUnder || d.Answer.Status == forecast.StatusDark ||
			d.Answer.Status == forecast.StatusForecast || d.Answer.Status == forecast.StatusInseparable
		p.Shares = shares(d)
		p.Cannot, p.Settle = cannot(d)
		if !b.brief {
			p.Assumed = assumed(b, d)
		}
	}
	p.Facts = facts(b, l, d)
	p.Decline, p.Notes = declineFigure(b, l, d)
	p.Surveys = b.surveysOn(id)
	p.Earlier = earlierFigure(lives[:len(lives)-1])
	p.Events = events(b, f, lives)
	p.Hours, p.HoursNotes = hoursTable(l)
	p.Way = wayBack(b, l)
	p.lean(b)
	ws := weeks(l)
	post := b.in.Result.Alone[b.lives[id][len(lives)-1]]
	p.curve = curveOf(l, post, b.interval(), ws, b.brief)
	p.small = b.smallOf(l, d, post, ws)
	return p
}

// lean leaves out of a great site's page what `wane explain` tells, and makes the
// rest short in bytes.
func (p *fixturePage) lean(b *book) {
	if !b.brief {
		return
	}
	for _, t := range []*Table{&p.Events, p.Shares, p.Cannot, &p.Hours, &p.Way.Sensors, p.Way.Excluded} {
		if t != nil {
			t.Plain = true
		}
	}
	p.Way.Files, p.Way.Size, p.Way.Gains = nil, Table{}, Table{} // recalibrations are events
	for i := range p.Facts {
		p.Facts[i].Note, _, _ = strings.Cut(p.Facts[i].Note, ";")
	}
}

func place(l *lamp.Life) string {
	var parts []string
	for _, x := range []struct{ what, id string }{{"bay", l.Place.Bay}, {"circuit", l.Place.Circuit}} {
		if x.id != "" {
			parts = append(parts, x.what+" "+x.id)
		}
	}
	return strings.Join(parts, ", ")
}

func lampWords(l *lamp.Life) string {
	s := fmt.Sprintf("lamp life %d: %s", l.N, lampType(l.LampType))
	if l.Cohort != "" {
		s += ", cohort " + l.Cohort
	}
	if l.Fixture.Model != "" {
		s += ", in a fixture of " + l.Fixture.Model
	}
	if l.Fixture.RatedW > 0 {
		s += ", " + chart.Number(l.Fixture.RatedW, 0) + "\u00a0W"
	}
	if l.Gear != "" {
		s += ", " + string(l.Gear) + " gear"
	}
	return strings.Replace(s, "driver gear", "driver", 1)
}

func endWords(b *book, l *lamp.Life) string {
	switch l.End {
	case fleet.Retire:
		return "taken down on " + dateAt(l.To, b.in.location())
	case fleet.Fail:
		return "its lamp failed on " + dateAt(l.To, b.in.location()) + " and it was taken down"
	}
	return "it is retired"
}

// quoted makes a name safe for a shell to read.
func quoted(id string) string {
	if plain(id) {
		return id
	}
	return "'" + strings.ReplaceAll(id, "'", `'\''`) + "'"
}

// recentDays is over how many days the latest reading is taken.
const recentDays = 28

func facts(b *book, l *lamp.Life, d *due.Lamp) []Fact {
	var out []Fact
	in := percentage(b.interval())
	if d != nil {
		note := in + " interval"
		switch d.Answer.Status {
		case forecast.StatusUnder:
			out = append(out, Fact{Name: "Under since about", Value: DateOf(d.Answer.DueDay), Note: note})
		case forecast.StatusForecast:
			out = append(out, Fact{Name: "Due", Value: dueWords(d), Note: note})
		case forecast.StatusBeyond:
			note = "only a lower bound is claimed"
			out = append(out, Fact{Name: "Due", Value: dueWords(d), Note: note})
		default:
			out = append(out, Fact{Name: "Due", Value: dueWords(d), Note: ""})
		}
		if h := Hours(d.Answer.DueHours); h.Centre != "not known" {
			out = append(out, Fact{Name: "Due at run-hours", Value: h, Note: note})
		}
		out = append(out, Fact{Name: "Level of the lamp now", Value: Level(d.Answer.Level), Note: levelNote(d, in)})
		out = append(out, Fact{Name: "Threshold", Value: Value{Centre: chart.Number(d.Threshold, 2)},
			Note: thresholdWords(b, l)})
	}
	if c, lo, hi, n, last := latest(l, recentDays); n > 0 {
		v := Value{chart.Number(c, 2), chart.Number(lo, 2) + " to " + chart.Number(hi, 2)}
		out = append(out, Fact{Name: "Level as read", Value: v,
			Note: fmt.Sprintf("with the dirt on it: median of %s up to %s and the middle 80\u00a0%% of them",
				count(n, "day", "days"), date(last))})
	}
	out = append(out, Fact{Name: "Run-hours", Value: runHours(l), Note: "what the evidence allows, not a probability"})
	if l.Base.Baseline.Known() {
		v := valueOf(l.Base.Baseline, "at least", func(x float64) string { return chart.Number(x, 0) }).unit("µmol/m²/s")
		out = append(out, Fact{Name: "1.00 as read", Value: v,
			Note: strings.Join(append([]string{"95\u00a0% interval; " + l.Base.Baseline.Method}, l.Base.Baseline.Warnings...),
				"; ")})
	}
	return out
}

// levelNote says what the level is of, and what it rests on.
func levelNote(d *due.Lamp, in string) string {
	if d.Surveyed() {
		return fmt.Sprintf("lamp and dirt together, without the rig's drift; 1.00 is the lamp after seasoning; %s "+
			"interval, from %s", in, count(d.Answer.Level.N, "canopy survey", "canopy surveys"))
	}
	return fmt.Sprintf("the lamp alone, without dirt and drift; 1.00 is the lamp after seasoning; %s interval, from %s",
		in, count(d.Answer.Level.N, "week of readings", "weeks of readings"))
}

func thresholdWords(b *book, l *lamp.Life) string {
	if th := b.in.Config.Thresholds.Of(l.Place.Room, l.LampType); th.PPFD > 0 {
		return fmt.Sprintf("from the room's %s µmol/m²/s by the lamp's own 1.00", chart.Number(th.PPFD, 0))
	}
	return "below it the lamp is to be replaced"
}

func runHours(l *lamp.Life) Value {
	t, ok := l.Total()
	if !ok {
		return Value{Centre: "not known"}
	}
	return Hours(estimate.Estimate{Centre: t.Hours, Lo: t.Lo, Hi: t.Hi})
}

// shares says what the readings lost, and to what.
func shares(d *due.Lamp) *Table {
	s := d.Answer.Decline
	if !s.Lamp.Known() && !s.Dirt.Known() && !s.Sensor.Known() || d.Surveyed() {
		return nil // surveys read lamp and dirt together: the level says it all
	}
	row := func(name string, e estimate.Estimate, what string) Row {
		return Row{Cells: []Cell{cell(name), of(Percent(e)), cell(what)}}
	}
	return &Table{
		Caption: fmt.Sprintf("What took light from the readings since the first week, with %s intervals; a minus is a gain",
			percentage(d.Interval)),
		Head: columns("Taken by", "#Share of the light", "What can be done"),
		Rows: []Row{
			row("ageing of the lamp", s.Lamp, "relamp"),
			row("dirt on lamp, reflector or optic", s.Dirt, "clean"),
			row("drift of the sensor", s.Sensor, "recalibrate: no light is lost by it"),
		},
	}
}

// cannot says what cannot be told apart, and what was assumed instead.
func cannot(d *due.Lamp) (*Table, string) {
	id := d.Answer.Identity
	if len(id.Cannot) == 0 {
		return nil, id.Settle
	}
	t := &Table{Caption: "What the readings cannot tell apart", Head: columns("Not to be told apart", "Assumed instead")}
	for i, c := range id.Cannot {
		instead := "not stated"
		if i < len(id.Instead) {
			instead = id.Instead[i]
		}
		t.Rows = append(t.Rows, Row{Cells: []Cell{cell(c), cell(instead)}})
	}
	return t, id.Settle
}

// assumed lists what was assumed, with what it rests on.
func assumed(b *book, d *due.Lamp) *Table {
	t := &Table{Caption: "Assumed numbers the answer rests on", Fold: true, Head: columns("What", "#Value", "Unit", "Basis")}
	for _, a := range d.Answer.Assumed {
		v := Value{Centre: sig(a.Value), Interval: "no spread declared"}
		if a.SD > 0 {
			v.Interval = "spread " + sig(a.SD)
		}
		t.Rows = append(t.Rows, Row{Cells: []Cell{cell(a.Name), of(v), cell(a.Unit), cell(a.Basis)}})
	}
	c := b.in.Config.Corrections
	l := d.Life
	t.Rows = append(t.Rows,
		Row{Heading: "Taken out of the levels as read (site.yaml, corrections)"},
		Row{Cells: []Cell{cell("light for supply voltage"),
			{Text: sig(c.Supply[l.Gear]), Interval: "declared, taken as exact"}, cell("% per %"),
			cell("site.yaml or its default: common practice, no source")}},
		Row{Cells: []Cell{cell("light for ambient temperature"),
			{Text: sig(100 * c.Ambient[l.LampType]), Interval: "declared, taken as exact"},
			cell("% per °C, from " + sig(c.ReferenceC) + " °C"), cell("site.yaml or its default: common practice, no source")}})
	return t
}

// sig writes a number with three figures, noughts at the end left out.
func sig(x float64) string {
	if !estimate.Finite(x) {
		return "not known"
	}
	if x == 0 {
		return "0"
	}
	w := chart.Number(x, max(0, 2-int(math.Floor(math.Log10(math.Abs(x))))))
	if strings.Contains(w, ".") {
		w = strings.TrimSuffix(strings.TrimRight(w, "0"), ".")
	}
	return w
}

// hoursTable says what the run-hours rest on.
func hoursTable(l *lamp.Life) (Table, []string) {
	t := Table{Caption: "What this lamp life's run-hours rest on", Head: columns("Evidence", "#Days", "#Run-hours, h"),
		Empty: "No day of this lamp life is on record."}
	days, burned := map[string]int{}, map[string]float64{}
	var order []string
	disagree, last := math.NaN(), int32(0)
	for _, x := range l.Totals {
		w := string(x.Method)
		if days[w] == 0 {
			order = append(order, w)
		}
		days[w]++
		burned[w] += x.Burned
		if estimate.Finite(x.Disagree) {
			disagree, last = x.Disagree, x.Day
		}
	}
	for _, w := range order {
		t.Rows = append(t.Rows, Row{Cells: []Cell{cell(evidence(w)), cell(chart.Number(float64(days[w]), 0)),
			cell(chart.Number(burned[w], 0))}})
	}
	var notes []string
	if l.StartHours > 0 {
		notes = append(notes, "The lamp had "+chart.Number(l.StartHours, 0)+" h when it was put in.")
	}
	if len(l.Totals) > 0 {
		notes = append(notes, "Altogether "+runHours(l).String()+" as the evidence allows.")
	}
	if estimate.Finite(disagree) {
		notes = append(notes, fmt.Sprintf("Over the last stretch on the meter, to %s, lamp-on time and meter differ "+
			"by %s\u00a0%%.", date(last), chart.Number(100*disagree, 1)))
	}
	for _, w := range l.Warnings {
		notes = append(notes, sentence(w))
	}
	return t, notes
}

func evidence(w string) string {
	switch w {
	case "meter":
		return "run-hours meter"
	case "lamp-on time":
		return "lamp-on time from the light readings"
	case "usual hours":
		return "nobody: the room's usual hours"
	case "outage":
		return "the logbook: no power"
	}
	return w
}
