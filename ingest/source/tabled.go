package source

import (
	"fmt"
	"slices"

	"wane/ingest/decode/jsontable"
)

// Tabled tells whether files of this description are read as tables of rows and
// columns. The others are in the plain form, or SenML.
func (d *Description) Tabled() bool {
	switch d.Format {
	case SenML, JSONLines, Plain, Messages, Registers:
		return false
	case Parquet:
		return len(d.Time.Columns) > 0 // else the plain form
	}
	return true
}

// named tells whether the columns have names by themselves, without a header
// line.
func (d *Description) named() bool {
	return d.Format != Delimited && d.Format != Workbook && d.Format != Aligned && d.Tabled()
}

// Names lists the columns that the description names, each once.
func (d *Description) Names() []string {
	refs := append(slices.Concat(d.Time.Columns, d.SensorFrom.Columns), d.Days.First, d.SensorFrom.Column, d.Long.Sensor,
		d.Long.Channel, d.Long.Value, d.Long.Flag)
	for i := range d.Columns {
		refs = append(refs, Ref{Name: d.Columns[i].Name}, d.Columns[i].Flag)
	}
	var out []string
	for _, r := range refs {
		if r.Name != "" && !slices.Contains(out, r.Name) {
			out = append(out, r.Name)
		}
	}
	return out
}

// keys that say how lines of text part into cells, and how a header is found.
var (
	cellKeys   = []string{"delimiter", "quoteChar"}
	headerKeys = []string{"commentPrefix", "skipRows", "headerStartsWith", "headerRowCount", "nameRow", "unitRow",
		"footerPrefixes", "shortLines", "sensorFrom.headerLine"}
	tableKeys = []string{"decimalChar", "groupChar", "cellUnits", "layout", "columns", "long", "days", "sensorFrom",
		"sensor"}
)

// formatKeys refuses the keys that mean nothing for the format, and fills in what
// a fixed form says by itself.
func (c *checker) formatKeys() {
	d := c.d
	var strange []string
	switch {
	case d.Format == Delimited:
	case !d.Tabled():
		strange = slices.Concat(cellKeys, headerKeys, tableKeys)
	case d.Format == Workbook:
		strange = append(slices.Clone(cellKeys), "encoding")
	case d.Format == Aligned:
		strange = slices.Clone(cellKeys)
	case d.Format == Parquet:
		strange = append(slices.Concat(cellKeys, headerKeys), "encoding")
	default:
		strange = slices.Concat(cellKeys, headerKeys)
	}
	if d.Format != JSON {
		strange = append(strange, "json")
	}
	if d.Format != Workbook {
		strange = append(strange, "sheet")
	}
	if d.Format != Aligned {
		strange = append(strange, "columnStarts")
	}
	for _, k := range strange {
		if c.doc.Has(k) {
			c.bad(k, "means nothing for format "+string(d.Format), "take it out")
		}
	}
	switch {
	case d.points():
		c.pointForm()
	case d.Format == JSON:
		c.json()
	}
	if d.named() {
		c.byName()
	}
	for i, at := range d.ColumnStarts {
		if at < 1 || at > MaxColumns || i > 0 && at <= d.ColumnStarts[i-1] {
			c.bad(fmt.Sprintf("columnStarts[%d]", i), fmt.Sprintf("%d is no place behind the one before", at),
				"write the places in order, 1 for the first character")
		}
	}
}

// points tells whether files of this description hold single values, each with
// its name and tags.
func (d *Description) points() bool {
	return d.Format == Lines || d.Format == Exposed || d.Format == Annotated
}

// pointForm fills in what such a form says by itself, and refuses what it has not.
func (c *checker) pointForm() {
	d := c.d
	for _, k := range []string{"layout", "columns", "sensorFrom", "time.columns", "long.value", "long.flag",
		"long.goodFlags", "decimalChar", "groupChar", "missingValues"} {
		if c.doc.Has(k) {
			c.bad(k, "means nothing for format "+string(d.Format), "take it out")
		}
	}
	d.Layout, d.Time.Columns, d.Long.Value = Long, []Ref{{Name: "time"}}, Ref{Name: "value"}
	if d.Time.Format == "" && d.Format == Annotated {
		d.Time.Format = "rfc3339"
	}
	if d.Long.Sensor.IsZero() && d.Sensor == "" {
		d.Long.Sensor = Ref{Name: "series"}
	}
	if d.Long.Channel.IsZero() && d.Channel == "" {
		d.Long.Channel = Ref{Name: "field"}
	}
}

// json checks the paths.
func (c *checker) json() {
	d := c.d
	if (d.JSON.Rows == "") == (d.JSON.Lists == "") {
		c.bad("json", "needs one of rows and lists", "write the path of the rows, such as {rows: $.data[*]}; {rows: $} for JSON lines")
		return
	}
	for _, p := range jsontable.Check(jsontable.Spec(d.JSON), d.Names()) {
		at := "json." + p.Of
		if i := slices.IndexFunc(d.Columns, func(col Column) bool { return col.Name == p.Of }); i >= 0 {
			at = fmt.Sprintf("columns[%d].name", i)
		} else if i := slices.Index(d.Time.Columns, Ref{Name: p.Of}); i >= 0 {
			at = fmt.Sprintf("time.columns[%d]", i)
		} else if !c.doc.Has(at) {
			at = "json"
		}
		c.bad(at, p.What, p.Do)
	}
}

// byName refuses columns that are not named.
func (c *checker) byName() {
	const do = "name the column"
	for i, r := range c.d.Time.Columns {
		if r.Position > 0 {
			c.bad(fmt.Sprintf("time.columns[%d]", i), "columns have no positions in this format", do)
		}
	}
	for i := range c.d.Columns {
		col := &c.d.Columns[i]
		at := fmt.Sprintf("columns[%d]", i)
		if col.Position > 0 || col.Flag.Position > 0 {
			c.bad(at, "columns have no positions in this format", do)
		}
		if col.Match != "" && c.d.Format != Parquet {
			c.bad(at+".match", "columns cannot be matched in this format", do)
		}
	}
	for _, r := range []Ref{c.d.Long.Sensor, c.d.Long.Channel, c.d.Long.Value, c.d.Long.Flag, c.d.SensorFrom.Column} {
		if r.Position > 0 {
			c.bad("long", "columns have no positions in this format", do)
		}
	}
}
