package derive

import (
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

// yes is a truth value.
func (t *table) yes(name string, at func(i int) bool) {
	c := archive.Column{Name: name, Type: archive.Bool, Flag: make([]bool, t.rows)}
	for i := range c.Flag {
		c.Flag[i] = at(i)
	}
	t.cols = append(t.cols, c)
}

// maybeWhole is a whole number or a date that may be missing.
func (t *table) maybeWhole(name string, typ archive.Type, at func(i int) (int64, bool)) {
	c := archive.Column{Name: name, Type: typ, Int: make([]int64, t.rows), Valid: make([]bool, t.rows)}
	for i := range c.Int {
		c.Int[i], c.Valid[i] = at(i)
	}
	t.cols = append(t.cols, c)
}

// frame is the columns of a part by name, to be read.
type frame map[string]*archive.Column

func frameOf(cols []archive.Column) frame {
	f := frame{}
	for i := range cols {
		f[cols[i].Name] = &cols[i]
	}
	return f
}

func (f frame) text(name string, i int) string { return f[name].Text[i] }

func (f frame) whole(name string, i int) int64 { return f[name].Int[i] } // 0 where it is null

func (f frame) yes(name string, i int) bool { return f[name].Flag[i] }

func (f frame) number(name string, i int) float64 { return orNaN(f[name], i) }

// numbers is number for a column that is read row after row.
func (f frame) numbers(name string) func(i int) float64 {
	c := f[name]
	return func(i int) float64 { return orNaN(c, i) }
}

// ifRead is a meter's face, NaN where it was not read.
func ifRead(m daily.Meter, face float64) float64 {
	if !m.Read() {
		return math.NaN()
	}
	return face
}

// dailyColumns lays rows out as schema/daily.sql of package queries says.
func dailyColumns(rows []daily.Row) []archive.Column {
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
var leftOutColumns = [daily.Reasons]string{"unlit", "daylight", "implausible", "running_up", "edge", "stuck",
	"odd_dim", "odd_supply", "shadowed"}

// appendRows makes rows of the columns that are there; what is not there stays
// NaN or nil.
func appendRows(rows []daily.Row, cols []archive.Column) []daily.Row {
	nan := math.NaN()
	none := daily.Row{Day: daily.Day{Hours: nan, PPFD: nan, Spread: nan, DimPct: nan, SupplyV: nan, AmbientC: nan,
		PowerW: nan, CurrentA: nan, LitH: nan, EdgeH: nan, GapH: nan}}
	n := len(rows)
	rows = slices.Grow(rows, cols[0].Len())[:n+cols[0].Len()]
	in := rows[n:]
	for i := range in {
		in[i] = none
	}
	var meter, energy struct{ first, last, firstAt, lastAt *archive.Column }
	for k := range cols {
		c := &cols[k]
		switch c.Name {
		case "meter_first":
			meter.first = c
		case "meter_last":
			meter.last = c
		case "meter_first_at":
			meter.firstAt = c
		case "meter_last_at":
			meter.lastAt = c
		case "energy_first":
			energy.first = c
		case "energy_last":
			energy.last = c
		default:
			fillRows(in, c)
		}
	}
	if meter.last != nil {
		for i := range in {
			in[i].Counter = meterOf(orNaN(meter.first, i), orNaN(meter.last, i), meter.firstAt.Int[i],
				meter.lastAt.Int[i])
		}
	}
	if energy.last != nil { // the roll-up keeps no moments of the energy meter: it was read some time that day
		for i := range in {
			day := int64(in[i].Day.Day)
			in[i].Energy = meterOf(orNaN(energy.first, i), orNaN(energy.last, i), day*86400e6, (day+1)*86400e6-1)
		}
	}
	return rows
}

// fillRows puts one column into the rows.
func fillRows(rows []daily.Row, c *archive.Column) {
	set := rowFields[c.Name]
	for i := range rows {
		if len(c.Valid) == 0 || c.Valid[i] {
			set(&rows[i], c, i)
		}
	}
}

func orNaN(c *archive.Column, i int) float64 {
	if len(c.Valid) > 0 && !c.Valid[i] {
		return math.NaN()
	}
	return c.Float[i]
}

// rowFields puts a column's value into a row, by the column's name.
var rowFields = map[string]func(*daily.Row, *archive.Column, int){
	"fixture":     func(r *daily.Row, c *archive.Column, i int) { r.Fixture = c.Text[i] },
	"sensor":      func(r *daily.Row, c *archive.Column, i int) { r.Sensor = c.Text[i] },
	"channel":     func(r *daily.Row, c *archive.Column, i int) { r.Channel = c.Text[i] },
	"day":         func(r *daily.Row, c *archive.Column, i int) { r.Day.Day = int32(c.Int[i]) },
	"readings":    func(r *daily.Row, c *archive.Column, i int) { r.Readings = int(c.Int[i]) },
	"usable":      func(r *daily.Row, c *archive.Column, i int) { r.Usable = int(c.Int[i]) },
	"starts":      func(r *daily.Row, c *archive.Column, i int) { r.Starts = int(c.Int[i]) },
	"conflicting": func(r *daily.Row, c *archive.Column, i int) { r.Conflicting = int(c.Int[i]) },
	"hours":       func(r *daily.Row, c *archive.Column, i int) { r.Hours = c.Float[i] },
	"ppfd":        func(r *daily.Row, c *archive.Column, i int) { r.PPFD = c.Float[i] },
	"spread":      func(r *daily.Row, c *archive.Column, i int) { r.Spread = c.Float[i] },
	"dim_pct":     func(r *daily.Row, c *archive.Column, i int) { r.DimPct = c.Float[i] },
	"supply_v":    func(r *daily.Row, c *archive.Column, i int) { r.SupplyV = c.Float[i] },
	"ambient_c":   func(r *daily.Row, c *archive.Column, i int) { r.AmbientC = c.Float[i] },
	"power_w":     func(r *daily.Row, c *archive.Column, i int) { r.PowerW = c.Float[i] },
	"current_a":   func(r *daily.Row, c *archive.Column, i int) { r.CurrentA = c.Float[i] },
	"lit_h":       func(r *daily.Row, c *archive.Column, i int) { r.LitH = c.Float[i] },
	"edge_h":      func(r *daily.Row, c *archive.Column, i int) { r.EdgeH = c.Float[i] },
	"gap_h":       func(r *daily.Row, c *archive.Column, i int) { r.GapH = c.Float[i] },
}

func init() {
	for k, name := range leftOutColumns {
		rowFields[name] = func(r *daily.Row, c *archive.Column, i int) { r.Left[k] = int(c.Int[i]) }
	}
}

func meterOf(first, last float64, firstAt, lastAt int64) daily.Meter {
	if math.IsNaN(last) {
		return daily.Meter{}
	}
	return daily.Meter{First: first, Last: last, FirstAt: firstAt, LastAt: lastAt}
}
