package derive

import (
	"math"
	"slices"
	"strings"
	"time"

	"wane/ingest/archive"
	"wane/transform/calendar"
	"wane/transform/estimate"
	"wane/transform/fleet"
	"wane/transform/level"
)

// What the register says is written as small tables, so that the SQL joins it and
// anyone can see it.

// stretch is some days of a fixture or a sensor on which the same holds.
type stretch struct{ first, last int32 }

// touches says whether the stretch has a day from first to last.
func (x stretch) touches(first, last int32) bool { return x.first <= last && x.last >= first }

// gain is a row of table gains.
type gain struct {
	sensor string
	level.Span
}

// gainsOf gives how each sensor's gain drifts between its recalibrations; begun is
// the first day of each sensor.
func gainsOf(reg *fleet.Register, begun map[string]int32, loc *time.Location) []gain {
	var out []gain
	for _, sensor := range sortedKeys(begun) {
		var cals []level.Calibration
		for _, c := range reg.Calibrations(sensor) {
			cals = append(cals, level.Calibration{Day: calendar.DayOf(c.At, loc), AsFound: c.AsFound})
		}
		for _, x := range level.Drift(begun[sensor], cals) {
			x.Last = min(x.Last, calendar.Forever)
			out = append(out, gain{sensor, x})
		}
	}
	return out
}

func gainColumns(rows []gain) []archive.Column {
	t := &table{rows: len(rows)}
	t.text("sensor", func(i int) string { return rows[i].sensor })
	t.whole("first_day", archive.Date, func(i int) int64 { return int64(rows[i].First) })
	t.whole("last_day", archive.Date, func(i int) int64 { return int64(rows[i].Last) })
	t.number("per_day", func(i int) float64 { return rows[i].PerDay })
	t.yes("measured", func(i int) bool { return rows[i].Measured })
	t.yes("known", func(i int) bool { return rows[i].Known })
	return t.cols
}

// period is a row of table sensor_periods: one series that read the fixture's
// light. By noon of its first day it did.
type period struct {
	fixture string
	row     *fleet.SensorPeriod
	stretch
}

// place is a row of table placements.
type place struct {
	fixture string
	fleet.Place
	stretch
}

// chained is a row of table chains.
type chained struct {
	fixture, chain string
	stretch
}

// registered is the fixtures' stretches of each kind, by fixture.
type registered struct {
	periods []period
	places  []place
	chains  []chained
}

// registeredIn gives what the register says of where the fixtures hung, what
// watched them, and the epochs of their optical chains.
func registeredIn(reg *fleet.Register, loc *time.Location) registered {
	fixtures := byName(reg)
	made := make([]registered, len(fixtures))
	each(len(fixtures), func(i int) { made[i] = registeredOf(reg, fixtures[i], loc) })
	var out registered
	for i := range made {
		out.periods = append(out.periods, made[i].periods...)
		out.places = append(out.places, made[i].places...)
		out.chains = append(out.chains, made[i].chains...)
	}
	return out
}

func registeredOf(reg *fleet.Register, f *fleet.Fixture, loc *time.Location) (out registered) {
	for _, w := range reg.Watched(f, fleet.PPFD) {
		x := stretch{calendar.NoonFrom(w.From, loc), calendar.Forever}
		if !w.To.IsZero() {
			x.last = calendar.NoonFrom(w.To, loc) - 1
		}
		if x.last >= x.first {
			out.periods = append(out.periods, period{f.ID, w.Row, x})
		}
	}
	hung := calendar.NoonFrom(f.Installed, loc)
	out.places = []place{{f.ID, reg.PlaceAt(f, f.Installed), stretch{hung, calendar.Forever}}}
	for _, e := range reg.Events(f) {
		if e.What != fleet.Move {
			continue
		}
		at := calendar.NoonFrom(e.At, loc)
		old, now := &out.places[len(out.places)-1], reg.PlaceAt(f, e.At)
		switch {
		case now == old.Place:
		case at <= old.first: // moved before it hung for a day
			old.Place = now
		default:
			old.last = at - 1
			out.places = append(out.places, place{f.ID, now, stretch{at, calendar.Forever}})
		}
	}
	epochs := reg.Chain(f)
	for _, e := range epochs {
		at := calendar.NoonFrom(e.From, loc)
		if n := len(out.chains); n > 0 {
			if out.chains[n-1].first == at {
				continue
			}
			out.chains[n-1].last = at - 1
		}
		out.chains = append(out.chains, chained{f.ID, fleet.ChainAt(epochs, calendar.Start(at, loc).Add(12*time.Hour)),
			stretch{at, calendar.Forever}})
	}
	return out
}

func periodColumns(rows []period) []archive.Column {
	t := &table{rows: len(rows)}
	t.whole("period", archive.Int64, func(i int) int64 { return int64(i) + 1 })
	t.text("fixture", func(i int) string { return rows[i].fixture })
	t.text("sensor", func(i int) string { return rows[i].row.Sensor })
	t.text("channel", func(i int) string { return rows[i].row.Channel })
	t.number("factor", func(i int) float64 { return rows[i].row.Factor })
	t.whole("first_day", archive.Date, func(i int) int64 { return int64(rows[i].first) })
	t.whole("last_day", archive.Date, func(i int) int64 { return int64(rows[i].last) })
	return t.cols
}

func placeColumns(rows []place) []archive.Column {
	t := &table{rows: len(rows)}
	t.whole("placement", archive.Int64, func(i int) int64 { return int64(i) + 1 })
	t.text("fixture", func(i int) string { return rows[i].fixture })
	t.text("room", func(i int) string { return rows[i].Room })
	t.text("bay", func(i int) string { return rows[i].Bay })
	t.text("circuit", func(i int) string { return rows[i].Circuit })
	t.whole("first_day", archive.Date, func(i int) int64 { return int64(rows[i].first) })
	t.whole("last_day", archive.Date, func(i int) int64 { return int64(rows[i].last) })
	return t.cols
}

func chainColumns(rows []chained) []archive.Column {
	t := &table{rows: len(rows)}
	t.text("fixture", func(i int) string { return rows[i].fixture })
	t.whole("first_day", archive.Date, func(i int) int64 { return int64(rows[i].first) })
	t.whole("last_day", archive.Date, func(i int) int64 { return int64(rows[i].last) })
	t.text("chain", func(i int) string { return rows[i].chain })
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

func (c *coefficients) rows() []coefficient {
	var out []coefficient
	unknown := estimate.Estimate{Centre: math.NaN(), Lo: math.NaN(), Hi: math.NaN(), Level: math.NaN()}
	add := func(what, kind string, used float64, e estimate.Estimate, ok bool) {
		if !ok {
			e = unknown
		}
		out = append(out, coefficient{what, kind, used, e})
	}
	for _, g := range sortedKeys(c.used.Supply) {
		e, ok := c.supply[g]
		add(supplyCoefficient, string(g), c.used.Supply[g], e, ok)
	}
	for _, g := range sortedKeys(c.supply) {
		if _, had := c.used.Supply[g]; !had {
			add(supplyCoefficient, string(g), 0, c.supply[g], true)
		}
	}
	for _, t := range sortedKeys(c.used.Ambient) {
		e, ok := c.ambient[t]
		add(ambientCoefficient, string(t), c.used.Ambient[t], e, ok)
	}
	for _, t := range sortedKeys(c.ambient) {
		if _, had := c.used.Ambient[t]; !had {
			add(ambientCoefficient, string(t), 0, c.ambient[t], true)
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
func coefficientsIn(f frame, declared level.Corrections) coefficients {
	c := coefficients{
		used: level.Corrections{Supply: map[fleet.Gear]float64{}, Ambient: map[fleet.LampType]float64{},
			Estimate: declared.Estimate, ReferenceC: declared.ReferenceC},
		supply: map[fleet.Gear]estimate.Estimate{}, ambient: map[fleet.LampType]estimate.Estimate{},
	}
	for i, what := range f["what"].Text {
		kind, used := f.text("of_kind", i), f.number("used", i)
		e := estimate.Estimate{Centre: f.number("estimate", i), Lo: f.number("estimate_lo", i),
			Hi:    f.number("estimate_hi", i),
			Level: f.number("estimate_level", i), N: int(f.whole("n", i)), Method: f.text("method",
				i), Warnings: lines(f.text("said", i))}
		if what == supplyCoefficient {
			c.used.Supply[fleet.Gear(kind)] = used
			if e.Method != "" {
				c.supply[fleet.Gear(kind)] = e
			}
			continue
		}
		c.used.Ambient[fleet.LampType(kind)] = used
		if e.Method != "" {
			c.ambient[fleet.LampType(kind)] = e
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
