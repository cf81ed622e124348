package report

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"wane/cmd/wane/internal/pages/chart"
	"wane/transform/fleet"
	"wane/transform/forecast"
	"wane/transform/survival/exact"
)

// record is the page that says how well past forecasts held.
type record struct {
	Held *Figure
	On   []recordOn
	Says string
}

// recordOn is what was forecast, such as due hours: the methods side by side, and
// each of them by lamp type and by how far ahead it looked.
type recordOn struct {
	Methods, Parts Table
}

// recordOf makes the page where the site's past was tested on.
func recordOf(b *book) (any, bool) {
	if b.in.Result == nil || b.in.Result.Record == nil {
		return nil, false
	}
	r := b.in.Result.Record
	rec := record{Says: recordSays(r.Calibration, r.Interval), Held: heldFigure(r.Lines, r.Interval)}
	for _, on := range []struct{ kind, caption string }{
		{forecast.OnCrossing, "Due hours forecast at past dates, against the hours at which lamps then fell under " +
			"their thresholds"},
		{forecast.OnLevel, "Levels forecast for 1,000 run-hours later, against the levels then"},
	} {
		rec.On = append(rec.On, recordTables(r.Lines, on.kind, on.caption, r.Interval))
	}
	return rec, true
}

func recordTables(lines []forecast.BacktestLine, kind, caption string, interval float64) recordOn {
	heads := []string{"#Asked", "#Of lamps", "#Answered", "#Middle error", "#Bias",
		fmt.Sprintf("#%.0f\u00a0%% intervals that held", 100*interval)}
	out := recordOn{Methods: Table{Caption: caption, Head: columns(append([]string{"Method"}, heads...)...),
		Empty: "Nothing has come yet that a past forecast spoke of."},
		Parts: Table{Caption: "The same by lamp type, and by run-hours ahead",
			Head: columns(append([]string{"Of"}, heads...)...)}}
	method := ""
	for _, l := range lines {
		switch {
		case l.On != kind:
		case l.Class == "all" && l.Ahead == "all":
			out.Methods.Rows = append(out.Methods.Rows, Row{Cells: recordCells(l.Method, l)})
		default:
			if l.Method != method {
				method = l.Method
				out.Parts.Rows = append(out.Parts.Rows, Row{Heading: method})
			}
			of := strings.ReplaceAll(l.Ahead, " h", "\u00a0h") + " ahead"
			if l.Class != "all" {
				of = lampType(fleet.LampType(l.Class))
			}
			out.Parts.Rows = append(out.Parts.Rows, Row{Cells: recordCells(of, l)})
		}
	}
	return out
}

// heldFigure draws what was said against what held, by lamp type; nil where
// nothing has come yet. The forecasts of one lamp are not independent, so the
// limits count lamps, not forecasts.
func heldFigure(lines []forecast.BacktestLine, said float64) *Figure {
	var groups []chart.RangeGroup
	data := Table{Caption: "The numbers of the drawing",
		Head: columns("Lamps", "#Forecasts", "#Of lamps", "#Held", "#95 % limits, by lamps")}
	for _, on := range []struct{ kind, words string }{{forecast.OnCrossing, "due hours"},
		{forecast.OnLevel, "levels 1,000 h ahead"}} {
		g := chart.RangeGroup{Heading: "Of " + on.words}
		for _, l := range lines {
			if l.On != on.kind || l.Method != forecast.Method || l.Ahead != "all" || l.Answered == 0 || math.IsNaN(l.Held) {
				continue
			}
			share, err := exact.Share(int(math.Round(l.Held*float64(l.Lamps))), l.Lamps, .95)
			if err != nil {
				continue
			}
			name := "all types"
			if l.Class != "all" {
				name = lampType(fleet.LampType(l.Class))
			}
			g.Rows = append(g.Rows, chart.Range{Label: name, Lo: 100 * share.Lo, Centre: 100 * l.Held, Hi: 100 * share.Hi,
				Look: chart.Look{Tone: chart.Blue, Mark: chart.Dot},
				Note: fmt.Sprintf("held %.0f %%, %s", 100*l.Held, count(l.Lamps, "lamp", "lamps"))})
			data.Rows = append(data.Rows, Row{Cells: []Cell{cell(name + ", " + on.words), cell(fmt.Sprint(l.Answered)),
				cell(fmt.Sprint(l.Lamps)), heldCell(l.Held),
				cell(fmt.Sprintf("%.0f to %.0f %%", 100*share.Lo, 100*share.Hi))}})
		}
		if len(g.Rows) > 0 {
			groups = append(groups, g)
		}
	}
	if len(groups) == 0 {
		return nil
	}
	caption := fmt.Sprintf("Said %s, held so many: the share of past intervals that held what came, by lamp type, with "+
		"95 %% limits that count each lamp once. On the line the intervals are as sure as they say; left of it they "+
		"are too sure.", percentage(said))
	return figure("held", caption, chart.Ranges{Title: "What was said against what held", Desc: caption,
		X: chart.Axis{Label: "intervals that held, %", Min: 0, Max: 100}, Groups: groups,
		Moments: []chart.Moment{{Name: "said " + percentage(said), At: 100 * said, Look: chart.Look{Tone: chart.Ink}}}}, data)
}

func recordCells(of string, l forecast.BacktestLine) []Cell {
	return []Cell{cell(of), cell(fmt.Sprint(l.N)), cell(fmt.Sprint(l.Lamps)), cell(fmt.Sprint(l.Answered)),
		percentCell(l.On, l.MedianError), percentCell(l.On, l.Bias), heldCell(l.Held)}
}

// percentCell is an error: of due hours as a share of them, of levels in
// points.
func percentCell(on string, v float64) Cell {
	if math.IsNaN(v) {
		return cell("none")
	}
	unit := "\u00a0%"
	if on == forecast.OnLevel {
		unit = "\u00a0points"
	}
	return cell(chart.Number(100*v, 1) + unit)
}

func heldCell(v float64) Cell {
	if math.IsNaN(v) {
		return cell("none")
	}
	return cell(fmt.Sprintf("%.0f\u00a0%%", 100*v))
}

// recordSays is what the record means for today's intervals.
func recordSays(c forecast.Calibration, interval float64) string {
	words := recordOfSite(c, interval)
	for _, class := range slices.Sorted(maps.Keys(c.Types)) {
		if t := c.Types[class]; t.Note != "" {
			words += " For " + class + ": " + t.Note + "."
		}
	}
	return words
}

func recordOfSite(c forecast.Calibration, interval float64) string {
	switch {
	case c.Cases == 0:
		return "This site's past is too short to say how far its forecasts can be trusted."
	case c.Widen > 1:
		return c.Note + "."
	}
	return fmt.Sprintf("%.0f %% of the pooled model's %.0f %% intervals held (%d cases of %d lamps). Today's intervals "+
		"are left as they are.", 100*c.Held, 100*interval, c.Cases, c.Lamps)
}
