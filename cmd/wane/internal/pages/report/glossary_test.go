package report

import (
	"math"
	"strings"
	"testing"

	"wane/transform/forecast"
)

// Each term has a place of its own, and facts find theirs.
func TestGlossary(t *testing.T) {
	seen := map[string]bool{}
	for _, x := range terms {
		if seen[x.ID] || x.Name == "" || !strings.HasSuffix(strings.TrimSuffix(x.Meaning, " (Our word.)"), ".") &&
			!strings.HasSuffix(x.Meaning, ")") {
			t.Errorf("%+v", x)
		}
		seen[x.ID] = true
	}
	if termOf("level of the lamp now") != "level" || termOf("Due") != "due" || termOf("nothing of the sort") != "" {
		t.Error("a fact's name does not find its term")
	}
	if termOf("Run-hours now, h") != "hours" {
		t.Error("a heading with its unit does not find its term")
	}
}

// What was said is drawn against what held, by lamp type, and lines of other
// methods or horizons are not.
func TestHeldFigure(t *testing.T) {
	line := func(on, method, class, ahead string, held float64) forecast.BacktestLine {
		return forecast.BacktestLine{On: on, Method: method, Class: class, Ahead: ahead, N: 40, Lamps: 20, Answered: 30,
			Held: held}
	}
	f := heldFigure([]forecast.BacktestLine{line(forecast.OnCrossing, forecast.Method, "all", "all", .8),
		line(forecast.OnCrossing, forecast.Method, "led", "all", .75),
		line(forecast.OnCrossing, forecast.Method, "led", "to 2,000 h", .1),
		line(forecast.OnCrossing, "a line", "led", "all", .2),
		line(forecast.OnLevel, forecast.Method, "led", "all", math.NaN())}, .8)
	if f == nil || len(f.Data.Rows) != 2 || f.Data.Rows[1].Cells[0].Text != "LED, due hours" ||
		f.Data.Rows[1].Cells[3].Text != "75\u00a0%" {
		t.Fatalf("%+v", f)
	}
	if !strings.Contains(string(f.Drawing), "said 80") || !strings.Contains(string(f.Drawing), "held 75 %, 20 lamps") {
		t.Error("the drawing does not say what was said, or what held")
	}
	if heldFigure(nil, .8) != nil {
		t.Error("nothing has come, and it is drawn")
	}
}
