package report

import (
	"fmt"
	"math"

	"wane/transform/forecast"
)

// record is the page that says how well past forecasts held.
type record struct {
	Tables []Table
	Says   string
}

// recordOf makes the page where the site's past was tested on.
func recordOf(b *book) (any, bool) {
	if b.in.Result == nil || b.in.Result.Record == nil {
		return nil, false
	}
	r := b.in.Result.Record
	rec := record{Says: recordSays(r.Calibration, r.Interval)}
	for _, on := range []struct{ kind, caption string }{
		{forecast.OnCrossing, "Due hours forecast at past dates, against the hours at which lamps then fell under their thresholds"},
		{forecast.OnLevel, "Levels forecast for 1,000 run-hours later, against the levels then"},
	} {
		t := Table{
			Caption: on.caption,
			Head:    columns("Method", "Lamps", "Ahead", "#Asked", "#Of lamps", "#Answered", "#Middle error", "#Bias", fmt.Sprintf("#%.0f %% intervals that held", 100*r.Interval)),
			Empty:   "Nothing has come yet that a past forecast spoke of.",
		}
		for _, l := range r.Lines {
			if l.On == on.kind {
				t.Rows = append(t.Rows, Row{Cells: recordCells(l)})
			}
		}
		rec.Tables = append(rec.Tables, t)
	}
	return rec, true
}

func recordCells(l forecast.BacktestLine) []Cell {
	lamps := "all"
	if l.Class != "all" {
		lamps = l.Class
	}
	return []Cell{
		cell(l.Method), cell(lamps), cell(l.Ahead), cell(fmt.Sprint(l.N)), cell(fmt.Sprint(l.Lamps)), cell(fmt.Sprint(l.Answered)),
		percentCell(l.On, l.MedianError), percentCell(l.On, l.Bias), heldCell(l.Held),
	}
}

// percentCell is an error: of due hours as a share of them, of levels in
// points.
func percentCell(on string, v float64) Cell {
	if math.IsNaN(v) {
		return cell("none answered")
	}
	unit := " %"
	if on == forecast.OnLevel {
		unit = " points"
	}
	return cell(fmt.Sprintf("%.1f%s", 100*v, unit))
}

func heldCell(v float64) Cell {
	if math.IsNaN(v) {
		return cell("none answered")
	}
	return cell(fmt.Sprintf("%.0f %%", 100*v))
}

// recordSays is what the record means for today's intervals.
func recordSays(c forecast.Calibration, interval float64) string {
	switch {
	case c.Cases == 0:
		return "This site's past is too short to say how far its forecasts can be trusted."
	case c.Widen > 1:
		return c.Note + "."
	}
	return fmt.Sprintf("%.0f %% of the pooled model's %.0f %% intervals held (%d cases of %d lamps). Today's intervals are left as they are.", 100*c.Held, 100*interval, c.Cases, c.Lamps)
}
