package yearly

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"wane/cmd/wane/internal/pages/chart"
	"wane/transform/estimate"
	"wane/transform/yearly"
)

// pictures are the three that the summary opens with; one that there is nothing
// to draw for is left out.
func pictures(s *yearly.Summary) (out []*figure) {
	for _, f := range []*figure{roomFigure(s), lastedFigure(s), worthFigure(s)} {
		if f != nil {
			out = append(out, f)
		}
	}
	return out
}

// typed writes the codes of lamp types in a sentence as words.
func typed(w string) string {
	if code, rest, ok := strings.Cut(w, ": "); ok && typeWords[code] != "" {
		return typeWords[code] + ": " + rest
	}
	return w
}

// roomFigure draws the light kept by room over the year.
func roomFigure(s *yearly.Summary) *figure {
	var bands, lines []chart.Layer
	var names chart.Names
	end := float64(s.AsOf)
	most, least := brightest(s.RoomLight)
	for i, r := range s.RoomLight {
		if i == len(chart.Looks) {
			break
		}
		look := chart.Looks[i]
		look.Mark = chart.NoMark
		var pts []chart.Point
		var spans []chart.Span
		for _, m := range r.Months {
			x := float64(m.First) + 14
			pts = append(pts, chart.Point{X: x, Y: float64(m.Median)})
			if estimate.Finite(float64(m.Lo)) {
				spans = append(spans, chart.Span{X: x, Lo: float64(m.Lo), Hi: float64(m.Hi)})
			}
		}
		last := pts[len(pts)-1]
		name := r.Room
		if name == "" {
			name = "no room"
		}
		if i == most || i == least { // those that the findings name: six bands hide each other
			bands = append(bands, chart.Band{Tone: look.Tone, Spans: spans})
		}
		lines = append(lines, chart.Series{Look: look, Points: pts})
		names = append(names, chart.Named{Words: name, X: last.X, Y: last.Y, Tone: look.Tone})
	}
	if len(lines) == 0 {
		return nil
	}
	caption := fmt.Sprintf("Light kept by room, as it hangs: the median lamp of each month against its own output when new, "+
		"the wash of the brightest room and of the dimmest holding it with %.0f %% where there are lamps enough.", 100*s.Level)
	if n := len(s.RoomLight) - len(lines); n > 0 {
		caption += fmt.Sprintf(" %d rooms more stand in the file.", n)
	}
	start := float64(s.First)
	return draw("rooms-kept", caption, "light_by_room", chart.XY{Title: "Light kept by room over the year", Desc: caption,
		X: chart.Axis{Days: true, Min: start, Max: end + chart.NameRoom*(end-start)},
		Y: chart.Axis{Label: "light kept", Places: 2}, Height: 320,
		Layers: append(append(bands, lines...), names)})
}

// brightest gives the rooms that kept most and least at the year's end.
func brightest(rooms []yearly.RoomLight) (most, least int) {
	last := func(i int) float64 { return float64(rooms[i].Months[len(rooms[i].Months)-1].Median) }
	for i := range rooms {
		if last(i) > last(most) {
			most = i
		}
		if last(i) < last(least) {
			least = i
		}
	}
	return most, least
}

// lastedFigure draws by when a tenth of each make's lamps had failed.
func lastedFigure(s *yearly.Summary) *figure {
	var groups []chart.RangeGroup
	told := false
	for _, t := range typesOf(s) {
		g := chart.RangeGroup{Heading: lampType(t.LampType)}
		for i := range s.Groups {
			m := &s.Groups[i]
			if m.By != "make" || m.LampType != t.LampType {
				continue
			}
			row := chart.Range{Label: m.Name, Lo: math.NaN(), Centre: math.NaN(), Hi: math.NaN(),
				Look: chart.Look{Tone: chart.Blue, Mark: chart.Dot},
				Note: fmt.Sprintf("%d lamps, %d failed", m.Units, m.Failures)}
			switch b := m.B10; {
			case b.Known():
				row.Lo, row.Centre, row.Hi, told = b.Lo, b.Centre, b.Hi, true
			case estimate.Finite(b.Lo) && b.Lo > 0:
				row.Lo, row.Hi, told = b.Lo, math.Inf(1), true
			case m.Failures == 0:
				row.Note = fmt.Sprintf("not known: %d lamps, none failed by %s h", m.Units, inHours(m.Oldest))
			default:
				row.Note = "not known: " + row.Note
			}
			g.Rows = append(g.Rows, row)
		}
		if len(g.Rows) > 0 {
			groups = append(groups, g)
		}
	}
	if !told {
		return nil
	}
	caption := fmt.Sprintf("How long lamps lasted, by make: the run-hours by which a tenth had failed, with %.0f %% limits. An arrow is open: no more than a bound is known.", 100*s.Level)
	return draw("lasted", caption, "survival", chart.Ranges{Title: "How long lamps lasted, by make", Desc: caption,
		X:      chart.Axis{Label: "run-hours by which a tenth had failed, h"},
		Groups: groups})
}

// mostWorth is how many due dates the picture holds.
const mostWorth = 24

// worthFigure draws last year's due dates that can be judged, with what came.
func worthFigure(s *yearly.Summary) *figure {
	var rows []chart.Range
	for _, c := range s.Score.List {
		if !c.Counts || !c.Due.Known() || !c.Crossed.Known() {
			continue
		}
		look := chart.Look{Tone: chart.Blue, Mark: chart.Diamond}
		note := "came inside"
		if !c.InBand {
			look.Tone, note = chart.Vermilion, "came outside"
		}
		rows = append(rows, chart.Range{Label: c.Fixture, Lo: c.Due.Lo - c.Crossed.Centre,
			Centre: c.Due.Centre - c.Crossed.Centre, Hi: c.Due.Hi - c.Crossed.Centre, Look: look, Note: note})
	}
	if len(rows) == 0 {
		return nil
	}
	all := len(rows)
	slices.SortStableFunc(rows, func(a, b chart.Range) int { return int(a.Centre - b.Centre) })
	if all > mostWorth { // every n-th, so that both ends stand in it
		var some []chart.Range
		for i := range mostWorth {
			some = append(some, rows[i*(all-1)/(mostWorth-1)])
		}
		rows = some
	}
	caption := fmt.Sprintf("What last year's due dates were worth: days from the day on which each lamp did cross to the date said, with its %.0f %% interval; %d of the %d that can be judged held.", 100*s.Score.Nominal, s.Score.Held, s.Score.Judged)
	if all > len(rows) {
		caption += fmt.Sprintf(" Drawn are %d of %d.", len(rows), all)
	}
	return draw("worth", caption, "scorecard", chart.Ranges{Title: "Last year's due dates against what came",
		Desc: caption, X: chart.Axis{Label: "days too early (left) or too late (right)"},
		Groups: []chart.RangeGroup{{Rows: rows}}, Moments: []chart.Moment{{Name: "the day it crossed", At: 0,
			Look: chart.Look{Tone: chart.Ink, Thin: true}}},
		Samples: []chart.Key{chart.Sample(chart.Look{Tone: chart.Blue, Mark: chart.Diamond}, "the interval held"),
			chart.Sample(chart.Look{Tone: chart.Vermilion, Mark: chart.Diamond}, "it did not")}})
}
