package report

import (
	"fmt"
	"math"
	"strings"
	"time"

	"wane/cmd/wane/internal/pages/chart"
	"wane/transform/calendar"
	"wane/transform/due"
	"wane/transform/estimate"
	"wane/transform/fleet"
	"wane/transform/forecast"
)

// Value is a number as it is written: the centre, and its interval.
type Value struct {
	Centre   string
	Interval string // "0.89 to 0.93"; empty where nothing is known
}

// String writes both: "0.91 (0.89 to 0.93)".
func (v Value) String() string {
	if v.Interval == "" {
		return v.Centre
	}
	return v.Centre + " (" + v.Interval + ")"
}

// valueOf writes an estimate by a way of writing its numbers. Where only a
// lower bound or a range is claimed, that is what it says.
func valueOf(e estimate.Estimate, bound string, write func(float64) string) Value {
	switch {
	case estimate.Finite(e.Centre) && e.Bounded() && write(e.Lo) == write(e.Hi) && write(e.Lo) == write(e.Centre):
		return Value{Centre: write(e.Centre)} // surer than it is written
	case estimate.Finite(e.Centre) && e.Bounded():
		return Value{write(e.Centre), write(e.Lo) + " to " + write(e.Hi)}
	case estimate.Finite(e.Centre) && estimate.Finite(e.Lo):
		return Value{write(e.Centre), "from " + write(e.Lo) + ", open above"}
	case estimate.Finite(e.Centre) && estimate.Finite(e.Hi):
		return Value{write(e.Centre), "up to " + write(e.Hi) + ", open below"}
	case e.Bounded():
		return Value{Centre: "between " + write(e.Lo) + " and " + write(e.Hi)}
	case estimate.Finite(e.Lo):
		return Value{Centre: bound + " " + write(e.Lo)}
	}
	return Value{Centre: "not known"}
}

// Level writes a level: "0.91 (0.89 to 0.93)".
func Level(e estimate.Estimate) Value {
	return valueOf(e, "at least", func(x float64) string { return chart.Number(x, 2) })
}

// Hours writes run-hours, to tens.
func Hours(e estimate.Estimate) Value {
	v := valueOf(e, "more than", func(x float64) string { return chart.Number(math.Round(x/10)*10, 0) })
	return v.unit("h")
}

// Percent writes a share as per cent with one decimal.
func Percent(e estimate.Estimate) Value {
	v := valueOf(e, "at least", func(x float64) string { return chart.Number(100*x, 1) })
	return v.unit("%")
}

func (v Value) unit(u string) Value {
	if v.Centre == "not known" {
		return v
	}
	v.Centre += "\u00a0" + u
	if v.Interval != "" && !strings.Contains(v.Interval, ",\u0020open") {
		v.Interval += "\u00a0" + u
	}
	return v
}

// DateOf writes an estimate of a day.
func DateOf(e estimate.Estimate) Value {
	return valueOf(e, "not before", func(x float64) string {
		return date(int32(math.Round(min(max(x, -700000), 2900000))))
	})
}

// date writes a day as people do: "2 Mar 2027", its parts kept on one line.
func date(day int32) string { return calendar.Date(day).Format("2\u00a0Jan\u00a02006") }

func dateAt(t time.Time, loc *time.Location) string {
	if t.IsZero() {
		return "before the record"
	}
	return date(calendar.DayOf(t, loc))
}

// count writes a number of things: "1 lamp", "3 lamps".
func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return chart.Number(float64(n), 0) + " " + many
}

// percentage writes an interval's content: "80 %".
func percentage(p float64) string { return chart.Number(100*p, 0) + "\u00a0%" }

// lampTypes says each type in words.
var lampTypes = map[fleet.LampType]string{
	fleet.HPSDE: "HPS, double-ended", fleet.HPSSE: "HPS, single-ended", fleet.CMH: "ceramic metal halide",
	fleet.MH: "metal halide", fleet.Fluorescent: "fluorescent", fleet.LED: "LED",
}

func lampType(t fleet.LampType) string {
	if w, ok := lampTypes[t]; ok {
		return w
	}
	return string(t)
}

// statuses is what each status means, with the sign that stands beside it so
// that colour is not needed. The order is that of the legend.
var statuses = []Status{
	{forecast.StatusUnder, "▼", "under", "already under its threshold"},
	{forecast.StatusDark, "●", "dark", "failed and still hanging"},
	{forecast.StatusForecast, "◆", "forecast", "will fall under its threshold at the date given, within the " +
		"interval given"},
	{forecast.StatusBeyond, "▶", "beyond", "falls under it later than the readings can tell: only a date before which " +
		"it will not is given"},
	{forecast.StatusInseparable, "≈", "inseparable", "drift of the sensor, dirt, an unexplained step, or supply or air " +
		"that nobody reads would give the same readings, so there is no date until that is settled"},
	{forecast.StatusTooEarly, "◷", "too early", "too few run-hours for a date; the page of the fixture says when " +
		"to ask again"},
	{forecast.StatusNoData, "○", "no data", "neither a logger nor a survey tells of its light"},
}

// Status is a status in words.
type Status struct {
	Code          forecast.Status
	Sign          string
	Word, Meaning string
}

func statusOf(s forecast.Status) Status {
	for _, k := range statuses {
		if k.Code == s {
			return k
		}
	}
	return Status{Code: s, Sign: "?", Word: string(s), Meaning: ""}
}

// dueWords is what a table says under "due": a date, or why there is none.
func dueWords(d *due.Lamp) Value {
	switch d.Answer.Status {
	case forecast.StatusForecast, forecast.StatusBeyond:
		if v := DateOf(d.Answer.DueDay); v.Centre != "not known" {
			return v
		}
		return Value{Centre: "at " + Hours(d.Answer.DueHours).String() + "; no date: its room is not burning"}
	case forecast.StatusUnder:
		return Value{Centre: "now"}
	case forecast.StatusTooEarly:
		if d.Answer.Expected > 0 {
			return Value{Centre: fmt.Sprintf("ask again from %s", date(int32(d.Answer.Expected)))}
		}
		return Value{Centre: "ask again after more run-hours"}
	case forecast.StatusInseparable:
		return Value{Centre: "no date: see what would settle it"}
	case forecast.StatusDark:
		return Value{Centre: "replace"}
	}
	return Value{Centre: "no date"}
}

// sentence gives words a capital and a full stop.
func sentence(s string) string {
	if s == "" {
		return ""
	}
	r := []rune(s)
	s = strings.ToUpper(string(r[:1])) + string(r[1:])
	if !strings.HasSuffix(s, ".") {
		s += "."
	}
	return s
}
