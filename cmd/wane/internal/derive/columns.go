package derive

import (
	"fmt"
	"math"
	"slices"

	"wane/ingest/archive"
	"wane/transform/daily"
)

// table builds columns from rows. NaN becomes null.
type table struct {
	rows int
	cols []archive.Column
}

func (t *table) text(name string, at func(i int) string) {
	c := archive.Column{Name: name, Type: archive.String, Text: make([]string, t.rows)}
	for i := range c.Text {
		c.Text[i] = at(i)
	}
	t.cols = append(t.cols, c)
}

func (t *table) whole(name string, typ archive.Type, at func(i int) int64) {
	c := archive.Column{Name: name, Type: typ, Int: make([]int64, t.rows)}
	for i := range c.Int {
		c.Int[i] = at(i)
	}
	t.cols = append(t.cols, c)
}

func (t *table) number(name string, at func(i int) float64) {
	c := archive.Column{Name: name, Type: archive.Float64, Float: make([]float64, t.rows)}
	for i := range c.Float {
		c.Float[i] = at(i)
	}
	t.cols = append(t.cols, c)
}

// maybe is a number that may be missing.
func (t *table) maybe(name string, at func(i int) float64) {
	c := archive.Column{Name: name, Type: archive.Float64, Float: make([]float64, t.rows), Valid: make([]bool, t.rows)}
	for i := range c.Float {
		if v := at(i); !math.IsNaN(v) {
			c.Float[i], c.Valid[i] = v, true
		}
	}
	t.cols = append(t.cols, c)
}

// moment is a time in microseconds that may be missing (0).
func (t *table) moment(name string, at func(i int) int64) {
	c := archive.Column{Name: name, Type: archive.Timestamp, Int: make([]int64, t.rows), Valid: make([]bool, t.rows)}
	for i := range c.Int {
		c.Int[i] = at(i)
		c.Valid[i] = c.Int[i] != 0
	}
	t.cols = append(t.cols, c)
}

// ifRead is a meter's face, NaN where it was not read.
func ifRead(m daily.Meter, face float64) float64 {
	if !m.Read() {
		return math.NaN()
	}
	return face
}

// dailyColumns lays rows out as schema/daily.sql of package queries says.
func dailyColumns(rows []DailyRow) []archive.Column {
	t := &table{rows: len(rows)}
	t.text("fixture", func(i int) string { return rows[i].Fixture })
	t.whole("day", archive.Date, func(i int) int64 { return int64(rows[i].Day.Day) })
	t.number("hours", func(i int) float64 { return rows[i].Hours })
	t.text("sensor", func(i int) string { return rows[i].Sensor })
	t.text("channel", func(i int) string { return rows[i].Channel })
	t.whole("readings", archive.Int64, func(i int) int64 { return int64(rows[i].Readings) })
	t.whole("usable", archive.Int64, func(i int) int64 { return int64(rows[i].Usable) })
	t.maybe("ppfd", func(i int) float64 { return rows[i].PPFD })
	t.maybe("spread", func(i int) float64 { return rows[i].Spread })
	t.maybe("dim_pct", func(i int) float64 { return rows[i].DimPct })
	t.maybe("supply_v", func(i int) float64 { return rows[i].SupplyV })
	t.maybe("ambient_c", func(i int) float64 { return rows[i].AmbientC })
	t.maybe("power_w", func(i int) float64 { return rows[i].PowerW })
	t.maybe("current_a", func(i int) float64 { return rows[i].CurrentA })
	t.number("lit_h", func(i int) float64 { return rows[i].LitH })
	t.number("edge_h", func(i int) float64 { return rows[i].EdgeH })
	t.number("gap_h", func(i int) float64 { return rows[i].GapH })
	t.whole("starts", archive.Int64, func(i int) int64 { return int64(rows[i].Starts) })
	t.maybe("meter_first", func(i int) float64 { return ifRead(rows[i].Counter, rows[i].Counter.First) })
	t.moment("meter_first_at", func(i int) int64 { return rows[i].Counter.FirstAt })
	t.maybe("meter_last", func(i int) float64 { return ifRead(rows[i].Counter, rows[i].Counter.Last) })
	t.moment("meter_last_at", func(i int) int64 { return rows[i].Counter.LastAt })
	t.maybe("energy_first", func(i int) float64 { return ifRead(rows[i].Energy, rows[i].Energy.First) })
	t.maybe("energy_last", func(i int) float64 { return ifRead(rows[i].Energy, rows[i].Energy.Last) })
	for r, name := range leftOutColumns {
		t.whole(name, archive.Int64, func(i int) int64 { return int64(rows[i].Left[r]) })
	}
	t.whole("conflicting", archive.Int64, func(i int) int64 { return int64(rows[i].Conflicting) })
	return t.cols
}

// leftOutColumns names the column of each daily.Reason.
var leftOutColumns = [daily.Reasons]string{"unlit", "daylight", "implausible", "running_up", "edge", "stuck", "odd_dim", "odd_supply", "shadowed"}

// readDaily gives the rows of table daily up to the day last, by fixture in
// day order.
func readDaily(a *archive.Archive, last int32) (map[string][]DailyRow, error) {
	out := map[string][]DailyRow{}
	for _, p := range a.Parts(TableDaily) { // partitions by month: their order is that of days
		cols, err := a.ReadTable(p)
		if err != nil {
			return nil, fmt.Errorf("read daily roll-up: %w", err)
		}
		c := map[string]*archive.Column{}
		for i := range cols {
			c[cols[i].Name] = &cols[i]
		}
		for _, want := range dailyColumns(nil) {
			if c[want.Name] == nil {
				return nil, fmt.Errorf("the daily roll-up lacks the column %s: another version of wane made it; run `wane nightly` or `wane rebuild`", want.Name)
			}
		}
		for _, r := range appendRows(nil, cols) {
			if r.Day.Day <= last {
				out[r.Fixture] = append(out[r.Fixture], r)
			}
		}
	}
	return out, nil
}

// appendRows makes rows of the columns that are there; what is not there stays
// NaN or nil.
func appendRows(rows []DailyRow, cols []archive.Column) []DailyRow {
	c := map[string]*archive.Column{}
	for i := range cols {
		c[cols[i].Name] = &cols[i]
	}
	num := func(name string) func(int) float64 {
		col := c[name]
		if col == nil {
			return func(int) float64 { return math.NaN() }
		}
		return func(i int) float64 {
			if col.Valid != nil && !col.Valid[i] {
				return math.NaN()
			}
			return col.Float[i]
		}
	}
	whole := func(name string) func(int) int64 {
		col := c[name]
		if col == nil {
			return func(int) int64 { return 0 }
		}
		return func(i int) int64 { return col.Int[i] }
	}
	text := func(name string) func(int) string {
		col := c[name]
		if col == nil {
			return func(int) string { return "" }
		}
		return func(i int) string { return col.Text[i] }
	}
	fixture, sensor, channel := text("fixture"), text("sensor"), text("channel")
	day, readings, usable, starts, conflicting := whole("day"), whole("readings"), whole("usable"), whole("starts"), whole("conflicting")
	hours, ppfd, spread, dim, supply, ambient := num("hours"), num("ppfd"), num("spread"), num("dim_pct"), num("supply_v"), num("ambient_c")
	power, current, lit, edge, gap := num("power_w"), num("current_a"), num("lit_h"), num("edge_h"), num("gap_h")
	first, last, firstAt, lastAt := num("meter_first"), num("meter_last"), whole("meter_first_at"), whole("meter_last_at")
	energyFirst, energyLast := num("energy_first"), num("energy_last")
	var left [daily.Reasons]func(int) int64
	for k, name := range leftOutColumns {
		left[k] = whole(name)
	}
	n := len(rows)
	rows = slices.Grow(rows, c["fixture"].Len())[:n+c["fixture"].Len()]
	for i := range rows[n:] {
		r := &rows[n+i]
		d := day(i)
		*r = DailyRow{
			Fixture: fixture(i), Sensor: sensor(i), Channel: channel(i), Conflicting: int(conflicting(i)),
			Day: daily.Day{
				Day: int32(d), Hours: hours(i), Readings: int(readings(i)), Usable: int(usable(i)),
				PPFD: ppfd(i), Spread: spread(i), DimPct: dim(i), SupplyV: supply(i), AmbientC: ambient(i), PowerW: power(i), CurrentA: current(i),
				LitH: lit(i), EdgeH: edge(i), GapH: gap(i), Starts: int(starts(i)),
				Counter: meterOf(first(i), last(i), firstAt(i), lastAt(i)),
				// The roll-up keeps no moments of the energy meter: it was read some time that day.
				Energy: meterOf(energyFirst(i), energyLast(i), d*86400e6, (d+1)*86400e6-1),
			},
		}
		for k := range left {
			r.Left[k] = int(left[k](i))
		}
	}
	return rows
}

func meterOf(first, last float64, firstAt, lastAt int64) daily.Meter {
	if math.IsNaN(last) {
		return daily.Meter{}
	}
	return daily.Meter{First: first, Last: last, FirstAt: firstAt, LastAt: lastAt}
}
