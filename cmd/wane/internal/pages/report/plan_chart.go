package report

import (
	"fmt"
	"math"
	"sort"
	"time"

	"wane/cmd/wane/internal/pages/chart"
	"wane/transform/calendar"
	"wane/transform/fleet"
	"wane/transform/plan"
	"wane/transform/plan/renewal"
)

// calendar draws the visits by room, each with the span of days that is about
// as good, and the orders with their way from order to need.
func (p planBook) calendar() *Figure {
	r := p.r
	spans := goodDays(r.Lamps)
	day := func(t time.Time) float64 { return float64(calendar.DayOf(t, time.UTC)) }
	visit, order := chart.Look{Tone: chart.Blue, Mark: chart.Diamond},
		chart.Look{Tone: chart.Vermilion, Mark: chart.Square}
	c := chart.Ranges{Title: "Calendar of the relamp plan",
		X:       chart.Axis{Days: true, Min: day(r.AsOf) - 14, Max: day(r.Until)},
		Moments: []chart.Moment{{Name: "today", At: day(r.AsOf), Look: chart.Look{Tone: chart.Ink}}}}
	data := Table{Caption: "Calendar of the relamp plan", Head: columns("What", "Day", "As good from", "to")}
	byRoom := map[string][]plan.Visit{}
	var rooms []string
	for _, v := range r.Visits {
		if byRoom[v.Room] == nil {
			rooms = append(rooms, v.Room)
		}
		byRoom[v.Room] = append(byRoom[v.Room], v)
	}
	sort.Strings(rooms)
	for _, room := range rooms {
		g := chart.RangeGroup{Heading: roomWords(room)}
		data.Rows = append(data.Rows, Row{Heading: roomWords(room)})
		for _, v := range byRoom[room] {
			s, ok := spans[room][v.Date]
			if !ok {
				s = goodSpan{v.Date, v.Date}
			}
			lo, hi := math.Min(day(s.from), day(v.Date)), math.Max(day(s.to), day(v.Date))
			words := visitWords(v)
			g.Rows = append(g.Rows, chart.Range{Label: words, Lo: lo, Centre: day(v.Date), Hi: hi, Look: visit})
			data.Rows = append(data.Rows, Row{Cells: []Cell{cell(words), cell(planDay(v.Date)), cell(date(int32(lo))),
				cell(date(int32(hi)))}})
		}
		c.Groups = append(c.Groups, g)
	}
	orders := chart.RangeGroup{Heading: "Orders"}
	for _, o := range r.Orders {
		if o.Quantity > 0 {
			what := fmt.Sprintf("%d %s", o.Quantity, lampType(fleet.LampType(o.LampType)))
			if o.Item == "gear" {
				what += " gear"
			}
			orders.Rows = append(orders.Rows, chart.Range{Label: what, Lo: day(o.OrderBy), Centre: day(o.OrderBy),
				Hi: day(o.NeededBy), Look: order})
		}
	}
	if len(orders.Rows) > 0 {
		c.Groups = append(c.Groups, orders)
	}
	if len(c.Groups) == 0 {
		return nil
	}
	c.Samples = []chart.Key{chart.Sample(visit, "visit, with the days that are about as good"),
		chart.Sample(order, "order by, and the way to the day of need")}
	c.Desc = fmt.Sprintf("%s in %s and %s, each at its day. The numbers are in the table below.",
		count(len(r.Visits), "visit", "visits"), count(len(rooms), "room", "rooms"),
		count(len(orders.Rows), "order", "orders"))
	return figure("calendar", "Visits and orders over the horizon. A line by a visit spans the days within the flat "+
		"part of the cost, before crop gaps and lead times.", c, data)
}

// goodSpan is a run of days, from and to among them.
type goodSpan struct{ from, to time.Time }

// goodDays gives the days about as good as a visit's own, by room and the visit's day.
func goodDays(lamps []plan.LampPlan) map[string]map[time.Time]goodSpan {
	spans := map[string]map[time.Time]goodSpan{}
	for _, l := range lamps {
		if l.Date.IsZero() || l.Earliest.IsZero() || l.Latest.IsZero() {
			continue
		}
		if spans[l.Room] == nil {
			spans[l.Room] = map[time.Time]goodSpan{}
		}
		s, ok := spans[l.Room][l.Date]
		if !ok {
			s = goodSpan{l.Earliest, l.Latest}
		}
		// a day is good for the visit where it is good for all its lamps
		if l.Earliest.After(s.from) {
			s.from = l.Earliest
		}
		if l.Latest.Before(s.to) {
			s.to = l.Latest
		}
		spans[l.Room][l.Date] = s
	}
	return spans
}

// visitWords are a visit's work in the few letters that a label has.
func visitWords(v plan.Visit) string {
	n, gear, clean := v.Disposal, 0, false
	for _, w := range v.Work {
		gear += map[bool]int{true: 1}[w.Do == plan.ReplaceGear]
		clean = clean || w.Do == plan.Clean
	}
	switch {
	case n > 0 && gear > 0:
		return fmt.Sprintf("%d lamps, %d gear", n, gear)
	case n > 0:
		return count(n, "lamp", "lamps")
	case gear > 0:
		return fmt.Sprintf("%d gear", gear)
	}
	return "clean"
}

// A curve is drawn up to steep times the least cost, and up to far times the
// interval at which it is least.
const (
	steep = 2.0
	far   = 2.5
)

// curve draws a room's cost rate over the interval, with the band within 2 %.
func (p planBook) curve(r *plan.RoomPlan, n int) *Figure {
	iv := r.Chosen()
	if !iv.Known || len(iv.Curve) < 3 {
		return nil
	}
	way := "spot"
	if r.ByGroup {
		way = "group"
	}
	s := chart.Series{Name: fmt.Sprintf("cost of %s relamping", way), Look: chart.Look{Tone: chart.Blue}}
	band := chart.Band{Name: "within 2 % of the least", Tone: chart.Green}
	data := Table{Caption: "Room " + r.Room + ": cost a lamp and year over the interval",
		Head: columns("#Interval, h", "#Cost a lamp and year")}
	least, highest := iv.RateYear, 0.0
	for _, pt := range iv.Curve {
		if pt.RateYear > steep*least || pt.Hours > far*iv.Hours {
			continue
		}
		highest = max(highest, pt.RateYear)
		s.Points = append(s.Points, chart.Point{X: pt.Hours, Y: pt.RateYear})
	}
	for i := 0; i < len(s.Points); i += max(1, len(s.Points)/15) {
		data.Rows = append(data.Rows, Row{Cells: []Cell{cell(tens(s.Points[i].X)), cell(chart.Number(s.Points[i].Y, 1))}})
	}
	floor := least - (highest-least)*0.15
	edge := least * (1 + renewal.Tolerance)
	band.Spans = append(band.Spans, chart.Span{X: iv.Lo, Lo: floor, Hi: edge})
	for _, pt := range s.Points {
		if pt.X > iv.Lo && pt.X < iv.Hi {
			band.Spans = append(band.Spans, chart.Span{X: pt.X, Lo: floor, Hi: pt.Y})
		}
	}
	if !iv.HiOpen && iv.Hi <= far*iv.Hours {
		band.Spans = append(band.Spans, chart.Span{X: iv.Hi, Lo: floor, Hi: edge})
	}
	unit := "money"
	if p.r.Currency != "" {
		unit = p.r.Currency
	}
	kind := ""
	for _, l := range p.r.Lamps {
		if l.Room == r.Room {
			kind = lampType(fleet.LampType(l.LampType))
			break
		}
	}
	c := chart.XY{Title: fmt.Sprintf("Cost of %s relamping in room %s", way, r.Room), Slim: true,
		Desc: fmt.Sprintf("The cost a lamp and year is least, %s, at %s h, and within 2 %% of that from %s h to %s h.",
			p.money(least), chart.Number(iv.Hours, 0), chart.Number(iv.Lo, 0), chart.Number(iv.Hi, 0)),
		X: chart.Axis{Label: "Interval between relamps, run-hours"},
		Y: chart.Axis{Label: unit + " a lamp and year", Min: floor, Max: highest},
		Layers: []chart.Layer{band, s, chart.Moment{Name: "least cost", At: iv.Hours,
			Look: chart.Look{Tone: chart.Ink, Dash: chart.Dashed}}}}
	caption := fmt.Sprintf("Room %s, %s: work, light lost, failures and uneven light a lamp and year, in the long run, "+
		"if the lamps are replaced by %s at this interval. Within 2 %% of the least from %s to %s h: any day in "+
		"between will do.",
		r.Room, kind, way, tens(iv.Lo), tens(iv.Hi))
	if iv.HiOpen {
		caption = fmt.Sprintf("Room %s, %s: work, light lost and failures a lamp and year in the long run. Within 2 %% of "+
			"the least from %s h on, as far as was looked.", r.Room, kind, tens(iv.Lo))
	}
	return figure(fmt.Sprintf("cost-%d", n+1), caption, c, data)
}

// whatFigure draws the cost of each way with its interval.
func (p planBook) whatFigure() *Figure {
	look := chart.Look{Tone: chart.Blue, Mark: chart.Dot}
	g := chart.RangeGroup{Heading: "Cost over the horizon"}
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, r := range p.m.Beside.Rows {
		lo, hi = min(lo, r.Cost.Lo), max(hi, r.Cost.Hi)
		g.Rows = append(g.Rows, chart.Range{Label: r.Name, Lo: r.Cost.Lo, Centre: r.Cost.Centre, Hi: r.Cost.Hi, Look: look})
	}
	unit := "money"
	if p.r.Currency != "" {
		unit = p.r.Currency
	}
	c := chart.Ranges{Title: "What each way of keeping the lamps costs",
		X: chart.Axis{Label: unit, Min: lo - (hi-lo)/20, Max: hi + (hi-lo)/20}, Groups: []chart.RangeGroup{g},
		Samples: []chart.Key{chart.Sample(look, "mean of the draws, with the interval that holds 80 % of them")},
		Desc:    "Each way's cost as a mark with a line over its interval. The numbers are in the table below."}
	return figure("ways", "Cost of each way over the horizon: work and light lost, less what the lamps gained in "+
		"value. All ways meet the same draws of crossings and failures.", c, Table{})
}
