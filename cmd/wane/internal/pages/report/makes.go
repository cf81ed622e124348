package report

import (
	"fmt"
	"math"
	"sort"

	"wane/cmd/wane/internal/pages/chart"
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

// step is the width of the bins of run-hours in which lamps are compared, h.
const step = 1000

func makesOf(b *book) (any, bool) {
	if b.in.Result == nil || len(b.in.Result.Lives) == 0 {
		return nil, false
	}
	var m makes
	for _, t := range fleet.LampTypes {
		if cs := cohorts(b.in.Result.Lives, t); len(cs) > 0 {
			m.Types = append(m.Types, makesOfType{lampType(t), makesFigure(t, cs), makesTable(b, t, cs)})
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
	median, lo, hi float64 // over lamps: lo and hi hold the middle half
	lamps          int
}

// bins gives a cohort's levels over run-hours. Each lamp counts once a bin, by
// the median of its weeks in it.
func (c cohort) bins() []bin {
	levels := map[int][]float64{}
	last := -1
	for _, l := range c.lives {
		mine := map[int][]float64{}
		for _, w := range weeks(l.WithSeries()) {
			k := int(w.Hours / step)
			mine[k] = append(mine[k], w.Level)
			last = max(last, k)
		}
		for k, v := range mine {
			levels[k] = append(levels[k], robust.Median(v))
		}
	}
	var out []bin
	for k := 0; k <= last; k++ {
		if v := levels[k]; len(v) > 0 {
			out = append(out, bin{(float64(k) + 0.5) * step, robust.Median(v), quantile(v, 0.25), quantile(v, 0.75), len(v)})
		}
	}
	return out
}

// leastLamps is how many lamps a bin needs for being drawn.
const leastLamps = 3

func makesFigure(t fleet.LampType, cs []cohort) *Figure {
	var layers []chart.Layer
	data := Table{Caption: "Numbers of the drawing", Head: columns("Run-hours about, h", "#Level, median lamp (middle half of the lamps)", "#Lamps")}
	drawn, farthest := 0, 0.0
	for _, c := range cs {
		data.Rows = append(data.Rows, Row{Heading: c.name})
		var line []chart.Point
		before := math.NaN()
		for _, x := range c.bins() {
			data.Rows = append(data.Rows, Row{Cells: []Cell{cell(chart.Number(x.hours, 0)), {Text: chart.Number(x.median, 3), Interval: chart.Number(x.lo, 3) + " to " + chart.Number(x.hi, 3)}, cell(chart.Number(float64(x.lamps), 0))}})
			if x.lamps < leastLamps {
				continue
			}
			if x.hours-before > step {
				line = append(line, chart.Point{X: math.NaN(), Y: math.NaN()})
			}
			line = append(line, chart.Point{X: x.hours, Y: x.median})
			before = x.hours
			farthest = max(farthest, x.hours+step/2)
		}
		if len(line) == 0 || drawn == len(chart.Looks) {
			continue
		}
		name := c.name
		if c.model != "" && c.model != several {
			name += " (" + c.model + ")"
		}
		layers = append(layers, chart.Series{Name: fmt.Sprintf("%s: median of up to %s", name, count(len(c.lives), "lamp", "lamps")), Look: chart.Looks[drawn], Points: line})
		drawn++
	}
	if len(layers) == 0 {
		return nil
	}
	x := chart.XY{Title: "Decline of " + lampType(t) + " lamps by cohort", Desc: fmt.Sprintf("Median level against run-hours for %s.", count(len(layers), "cohort", "cohorts")),
		X: chart.Axis{Label: "run-hours, h", Max: farthest}, Y: chart.Axis{Label: "level, median lamp", Places: 2}, Layers: layers, Height: 340}
	caption := fmt.Sprintf("Level as read, corrected: the median lamp in every %s h, where at least %d lamps were read.", chart.Number(step, 0), leastLamps)
	if len(cs) > drawn {
		caption += fmt.Sprintf(" %s in the table only.", count(len(cs)-drawn, "cohort is", "cohorts are"))
	}
	return figure("makes-"+string(t), caption, x, data)
}

// makesTable sums each cohort up.
func makesTable(b *book, t fleet.LampType, cs []cohort) Table {
	out := Table{Caption: "Cohorts of " + lampType(t) + ": medians over lamps, with the range from the least to the greatest lamp",
		Head: columns("Cohort", "Make or model", "#Lamps in service", "#Earlier lamps", "#Run-hours now, h", "#Level of the lamp now", "#Due at run-hours, h", "#Under or dark now")}
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
		out.Rows = append(out.Rows, Row{Cells: []Cell{cell(c.name), cell(c.model), cell(fmt.Sprint(service)), cell(fmt.Sprint(ended)), spread(hours, 0, service), spread(lvl, 2, service), dueCell, cell(fmt.Sprint(bad))}})
	}
	return out
}

// spread writes the median of some lamps and the range of all.
func spread(v []float64, places, of int) Cell {
	if len(v) == 0 {
		return cell("not known")
	}
	c := Cell{Text: chart.Number(robust.Median(v), places), Interval: chart.Number(quantile(v, 0), places) + " to " + chart.Number(quantile(v, 1), places)}
	if len(v) == 1 {
		c.Interval = "one lamp"
	} else if len(v) < of {
		c.Interval += fmt.Sprintf(", %d of %d lamps", len(v), of)
	}
	return c
}
