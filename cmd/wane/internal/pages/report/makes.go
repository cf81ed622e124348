package report

import (
	"fmt"
	"math"
	"sort"

	"wane/cmd/wane/internal/pages/chart"
	"wane/transform/estimate"
	"wane/transform/fleet"
	"wane/transform/forecast"
	"wane/transform/lamp"
	"wane/transform/robust"
)

// makes is the page that compares makes and cohorts of one lamp type.
type makes struct {
	Types []makesOfType
}

type makesOfType struct {
	Heading string
	Figure  *Figure
	Table   Table
}

// cohort is the lamp lives that are compared as one.
type cohort struct {
	name  string
	model string
	lives []*lamp.Life
}

// several stands for the model of a cohort that hangs in more than one.
const several = "several"

// step is how far apart the run-hours lie at which lamps are compared, h.
const step = 1000

func makesOf(b *book) (any, bool) {
	if b.in.Result == nil || len(b.in.Result.Lives) == 0 {
		return nil, false
	}
	var m makes
	for _, t := range fleet.LampTypes {
		if cs := cohorts(b.in.Result.Lives, t); len(cs) > 0 {
			m.Types = append(m.Types, makesOfType{lampType(t), b.makesFigure(t, cs), makesTable(b, t, cs)})
		}
	}
	return m, len(m.Types) > 0
}

// cohorts gives the cohorts of a lamp type, that with the most lamp lives
// first.
func cohorts(lives []*lamp.Life, t fleet.LampType) []cohort {
	at := map[string]int{}
	var out []cohort
	for _, l := range lives {
		if l.LampType != t || l.LastDay < l.FirstDay {
			continue
		}
		name := l.Cohort
		if name == "" {
			name = "cohort not known"
		}
		k, ok := at[name]
		if !ok {
			k = len(out)
			at[name] = k
			out = append(out, cohort{name: name, model: l.Fixture.Model})
		}
		if out[k].model != l.Fixture.Model {
			out[k].model = several
		}
		out[k].lives = append(out[k].lives, l)
	}
	sort.Slice(out, func(i, j int) bool {
		if len(out[i].lives) != len(out[j].lives) {
			return len(out[i].lives) > len(out[j].lives)
		}
		return out[i].name < out[j].name
	})
	return out
}

// bin is a cohort at about some run-hours.
type bin struct {
	hours          float64
	median, lo, hi float64 // over lamps: lo and hi hold the middle 80 %
	lamps          int
}

// leastLamps is how many lamps a cohort needs at some run-hours for being drawn
// there.
const leastLamps = 3

// mostBands is how many cohorts are drawn with a band: more would hide each other.
const mostBands = 4

// alone gives a cohort's lamps alone over run-hours, without dirt and drift: each
// lamp counts from its first reading to its last.
func (b *book) alone(c cohort) (out []bin) {
	levels := map[int][]float64{}
	last := -1
	for _, l := range c.lives {
		post := b.in.Result.Alone[l]
		if post == nil {
			continue
		}
		for k := int(math.Ceil(post.FirstHours / step)); float64(k)*step <= l.HoursNow(); k++ {
			if p := post.Band([]float64{float64(k) * step}, b.interval())[0]; estimate.Finite(p.Centre) {
				levels[k] = append(levels[k], p.Centre)
				last = max(last, k)
			}
		}
	}
	for k := 0; k <= last; k++ {
		if v := levels[k]; len(v) > 0 {
			out = append(out, bin{float64(k) * step, robust.Median(v), quantile(v, 0.1), quantile(v, 0.9), len(v)})
		}
	}
	return out
}

// drawn is the bins that hold enough lamps.
func drawn(bins []bin) (out []bin) {
	for _, x := range bins {
		if x.lamps >= leastLamps {
			out = append(out, x)
		}
	}
	return out
}

func (c cohort) words() string {
	if c.model != "" && c.model != several {
		return c.name + " (" + c.model + ")"
	}
	return c.name
}

// makesFigure draws the cohorts of a lamp type, each the lamps alone.
func (b *book) makesFigure(t fleet.LampType, cs []cohort) *Figure {
	var bands, lines []chart.Layer
	var names chart.Names
	data := Table{Caption: "Numbers of the drawing: the lamps alone",
		Head: columns("Run-hours, h", "#Level, median lamp (middle 80\u00a0% of the lamps)", "#Lamps"), Plain: true}
	farthest := 0.0
	last := map[string][]bin{}
	for _, c := range cs {
		bins := b.alone(c)
		if len(bins) > 0 {
			data.Rows = append(data.Rows, Row{Heading: c.words()})
		}
		for _, x := range bins {
			data.Rows = append(data.Rows, Row{Cells: []Cell{cell(chart.Number(x.hours, 0)),
				{Text: chart.Number(x.median, 3), Interval: chart.Number(x.lo, 3) + " to " + chart.Number(x.hi, 3)},
				cell(chart.Number(float64(x.lamps), 0))}})
		}
		if bins = drawn(bins); len(bins) < 2 || len(lines) == len(chart.Looks) {
			continue
		}
		last[c.words()] = bins
		look := chart.Looks[len(lines)]
		look.Mark = chart.NoMark
		var line []chart.Point
		var spans []chart.Span
		for _, x := range bins {
			line = append(line, chart.Point{X: x.hours, Y: x.median})
			spans = append(spans, chart.Span{X: x.hours, Lo: x.lo, Hi: x.hi})
			farthest = max(farthest, x.hours)
		}
		if len(bands) < mostBands {
			bands = append(bands, chart.Band{Tone: look.Tone, Spans: spans})
		}
		end := bins[len(bins)-1]
		lines = append(lines, chart.Series{Name: fmt.Sprintf("%s: %s at first, %d at the end", c.words(),
			count(bins[0].lamps, "lamp", "lamps"), end.lamps), Look: look, Points: line})
		names = append(names, chart.Named{Words: fmt.Sprintf("%s, %s", c.name, count(end.lamps, "lamp", "lamps")),
			X: end.hours, Y: end.median, Tone: look.Tone})
	}
	if len(lines) == 0 {
		return nil
	}
	title := makesFinding(t, cs, last)
	x := chart.XY{Title: title, Desc: fmt.Sprintf("Median level of the lamps alone against run-hours for %s.",
		count(len(lines), "cohort", "cohorts")),
		X: chart.Axis{Label: "run-hours, h", Min: 0, Max: farthest * (1 + 1.4*chart.NameRoom)},
		Y: chart.Axis{Label: "level of the median lamp, alone", Places: 2}, Layers: append(append(bands, lines...), names),
		Height: 380}
	caption := fmt.Sprintf("%s. The lamps alone, without dirt and drift of the sensors, where at least %d lamps were read; bands hold the middle 80\u00a0%% of the lamps.", title, leastLamps)
	if n := len(cs) - len(lines); n > 0 {
		caption += fmt.Sprintf(" %s too few lamps to be drawn, or stand in the table only.",
			count(n, "cohort has", "cohorts have"))
	}
	return figure("makes-"+string(t), caption, x, data)
}

// makesFinding says which cohort keeps most at the run-hours that most have
// reached.
func makesFinding(t fleet.LampType, cs []cohort, by map[string][]bin) string {
	at := 0.0
	for _, bins := range by {
		if end := bins[len(bins)-1].hours; at == 0 || end < at {
			at = end
		}
	}
	type level struct {
		name string
		bin
	}
	var list []level
	for _, c := range cs {
		for _, x := range by[c.words()] {
			if x.hours == at {
				list = append(list, level{c.words(), x})
			}
		}
	}
	if len(list) < 2 {
		return fmt.Sprintf("%s: no two cohorts have been read at the same run-hours", lampType(t))
	}
	sort.SliceStable(list, func(i, j int) bool { return list[i].median > list[j].median })
	best, worst := list[0], list[len(list)-1]
	how := "; most lamps of the one lie over most of the other"
	if best.lo <= worst.hi {
		how = "; their lamps overlap"
	}
	return fmt.Sprintf("At %s h %s keeps most, %s, and %s least, %s%s", chart.Number(at, 0), best.name,
		chart.Number(best.median, 2), worst.name, chart.Number(worst.median, 2), how)
}

// makesTable sums each cohort up.
func makesTable(b *book, t fleet.LampType, cs []cohort) Table {
	out := Table{Caption: "Cohorts of " + lampType(t) +
		": medians over lamps, with the range from the least to the greatest lamp",
		Head: columns("Cohort", "Make or model", "#Lamps in service", "#Earlier lamps", "#Run-hours now, h",
			"#Level of the lamp now", "#Due at run-hours, h", "#Under or dark now")}
	for _, c := range cs {
		var hours, lvl, due []float64
		service, ended, bad, open := 0, 0, 0, 0
		for _, l := range c.lives {
			d := b.byName[l.Fixture.ID]
			if d == nil || d.Life != l {
				ended++
				continue
			}
			service++
			if d.Answer.Status == forecast.StatusUnder || d.Answer.Status == forecast.StatusDark {
				bad++
			}
			hours = append(hours, l.HoursNow())
			if d.Answer.Level.Known() {
				lvl = append(lvl, d.Answer.Level.Centre)
			}
			if d.Answer.DueHours.Known() {
				due = append(due, d.Answer.DueHours.Centre)
			} else {
				open++
			}
		}
		dueCell := spread(due, 0, service)
		if open > 0 {
			dueCell.Note = count(open, "lamp has", "lamps have") + " no due hours"
		}
		out.Rows = append(out.Rows, Row{Cells: []Cell{cell(c.name), cell(c.model), cell(fmt.Sprint(service)),
			cell(fmt.Sprint(ended)), spread(hours, 0, service), spread(lvl, 2, service), dueCell, cell(fmt.Sprint(bad))}})
	}
	return out
}

// spread writes the median of some lamps and the range of all.
func spread(v []float64, places, of int) Cell {
	if len(v) == 0 {
		return cell("not known")
	}
	c := Cell{Text: chart.Number(robust.Median(v), places),
		Interval: chart.Number(quantile(v, 0), places) + " to " + chart.Number(quantile(v, 1), places)}
	if len(v) == 1 {
		c.Interval = "one lamp"
	} else if len(v) < of {
		c.Interval += fmt.Sprintf(", %d of %d lamps", len(v), of)
	}
	return c
}
