package derive

import (
	"math"
	"slices"
	"strings"

	"wane/ingest/archive"
	"wane/transform/estimate"
	"wane/transform/fleet"
	"wane/transform/lamp"
	"wane/transform/level"
)

// What the register says is written as small tables, so that the SQL joins it and
// anyone can see it.

func gainColumns(rows []level.Gain) []archive.Column {
	t := &table{rows: len(rows)}
	t.text("sensor", func(i int) string { return rows[i].Sensor })
	t.whole("first_day", archive.Date, func(i int) int64 { return int64(rows[i].First) })
	t.whole("last_day", archive.Date, func(i int) int64 { return int64(rows[i].Last) })
	t.number("per_day", func(i int) float64 { return rows[i].PerDay })
	t.yes("measured", func(i int) bool { return rows[i].Measured })
	t.yes("known", func(i int) bool { return rows[i].Known })
	return t.cols
}

func periodColumns(rows []fleet.Period) []archive.Column {
	t := &table{rows: len(rows)}
	t.whole("period", archive.Int64, func(i int) int64 { return int64(i) + 1 })
	t.text("fixture", func(i int) string { return rows[i].Fixture })
	t.text("sensor", func(i int) string { return rows[i].Row.Sensor })
	t.text("channel", func(i int) string { return rows[i].Row.Channel })
	t.number("factor", func(i int) float64 { return rows[i].Row.Factor })
	t.whole("first_day", archive.Date, func(i int) int64 { return int64(rows[i].First) })
	t.whole("last_day", archive.Date, func(i int) int64 { return int64(rows[i].Last) })
	return t.cols
}

func placeColumns(rows []fleet.Placement) []archive.Column {
	t := &table{rows: len(rows)}
	t.whole("placement", archive.Int64, func(i int) int64 { return int64(i) + 1 })
	t.text("fixture", func(i int) string { return rows[i].Fixture })
	t.text("room", func(i int) string { return rows[i].Room })
	t.text("bay", func(i int) string { return rows[i].Bay })
	t.text("circuit", func(i int) string { return rows[i].Circuit })
	t.whole("first_day", archive.Date, func(i int) int64 { return int64(rows[i].First) })
	t.whole("last_day", archive.Date, func(i int) int64 { return int64(rows[i].Last) })
	return t.cols
}

func chainColumns(rows []fleet.Chained) []archive.Column {
	t := &table{rows: len(rows)}
	t.text("fixture", func(i int) string { return rows[i].Fixture })
	t.whole("first_day", archive.Date, func(i int) int64 { return int64(rows[i].First) })
	t.whole("last_day", archive.Date, func(i int) int64 { return int64(rows[i].Last) })
	t.text("chain", func(i int) string { return rows[i].Chain })
	return t.cols
}

// coefficient is a row of table coefficients.
type coefficient struct {
	what, kind string
	used       float64
	estimate   estimate.Estimate
}

const (
	supplyCoefficient  = "supply"
	ambientCoefficient = "ambient"
)

func coefficientRows(c *lamp.Coefficients) []coefficient {
	var out []coefficient
	unknown := estimate.Estimate{Centre: math.NaN(), Lo: math.NaN(), Hi: math.NaN(), Level: math.NaN()}
	add := func(what, kind string, used float64, e estimate.Estimate, ok bool) {
		if !ok {
			e = unknown
		}
		out = append(out, coefficient{what, kind, used, e})
	}
	for _, g := range sortedKeys(c.Used.Supply) {
		e, ok := c.Supply[g]
		add(supplyCoefficient, string(g), c.Used.Supply[g], e, ok)
	}
	for _, g := range sortedKeys(c.Supply) {
		if _, had := c.Used.Supply[g]; !had {
			add(supplyCoefficient, string(g), 0, c.Supply[g], true)
		}
	}
	for _, t := range sortedKeys(c.Used.Ambient) {
		e, ok := c.Ambient[t]
		add(ambientCoefficient, string(t), c.Used.Ambient[t], e, ok)
	}
	for _, t := range sortedKeys(c.Ambient) {
		if _, had := c.Used.Ambient[t]; !had {
			add(ambientCoefficient, string(t), 0, c.Ambient[t], true)
		}
	}
	return out
}

func coefficientColumns(rows []coefficient) []archive.Column {
	t := &table{rows: len(rows)}
	t.text("what", func(i int) string { return rows[i].what })
	t.text("of_kind", func(i int) string { return rows[i].kind })
	t.number("used", func(i int) float64 { return rows[i].used })
	t.maybe("estimate", func(i int) float64 { return rows[i].estimate.Centre })
	t.maybe("estimate_lo", func(i int) float64 { return rows[i].estimate.Lo })
	t.maybe("estimate_hi", func(i int) float64 { return rows[i].estimate.Hi })
	t.maybe("estimate_level", func(i int) float64 { return rows[i].estimate.Level })
	t.whole("n", archive.Int64, func(i int) int64 { return int64(rows[i].estimate.N) })
	t.text("method", func(i int) string { return rows[i].estimate.Method })
	t.text("said", func(i int) string { return strings.Join(rows[i].estimate.Warnings, "\n") })
	return t.cols
}

// coefficientsIn reads the table back.
func coefficientsIn(f frame, declared level.Corrections) lamp.Coefficients {
	c := lamp.Coefficients{
		Used: level.Corrections{Supply: map[fleet.Gear]float64{}, Ambient: map[fleet.LampType]float64{},
			Estimate: declared.Estimate, ReferenceC: declared.ReferenceC},
		Supply: map[fleet.Gear]estimate.Estimate{}, Ambient: map[fleet.LampType]estimate.Estimate{},
	}
	for i, what := range f["what"].Text {
		kind, used := f.text("of_kind", i), f.number("used", i)
		e := estimate.Estimate{Centre: f.number("estimate", i), Lo: f.number("estimate_lo", i),
			Hi:    f.number("estimate_hi", i),
			Level: f.number("estimate_level", i), N: int(f.whole("n", i)), Method: f.text("method",
				i), Warnings: lines(f.text("said", i))}
		if what == supplyCoefficient {
			c.Used.Supply[fleet.Gear(kind)] = used
			if e.Method != "" {
				c.Supply[fleet.Gear(kind)] = e
			}
			continue
		}
		c.Used.Ambient[fleet.LampType(kind)] = used
		if e.Method != "" {
			c.Ambient[fleet.LampType(kind)] = e
		}
	}
	return c
}

// lines are the lines of a text; none of an empty one.
func lines(text string) []string {
	if text == "" {
		return nil
	}
	return strings.Split(text, "\n")
}

func sortedKeys[K ~string, V any](m map[K]V) []K {
	out := make([]K, 0, len(m))
	for k := range m {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}
