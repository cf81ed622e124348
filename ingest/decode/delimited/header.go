package delimited

import (
	"bytes"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"wane/ingest/decode/emit"
	"wane/ingest/decode/number"
	"wane/ingest/decode/stamp"
	"wane/ingest/source"
)

const (
	maxTitles = 10000 // lines that may stand before a header
	keepTitle = 64    // of which so many are remembered
)

// header reads everything before the data and binds the columns.
func (t *table) header() error {
	d := t.d
	var found struct {
		zone   bool
		offset int
		sensor []string
	}
	look := func(text []byte, title bool) { // the zone in a line of names is that of the stamp's columns only
		if title && d.Zone == source.ZoneFromHeader && !found.zone {
			found.offset, found.zone = stamp.OffsetIn(string(text))
		}
		if p := d.HeaderLinePattern(); p != nil && found.sensor == nil {
			found.sensor = p.FindStringSubmatch(string(text))
		}
	}
	if err := t.skipTitles(func(text []byte) { look(text, true) }); err != nil {
		return err
	}
	var block [][]string
	var at []int
	for len(block) < d.HeaderRowCount {
		ln, open, err := t.lines.record(&t.cut)
		if err == io.EOF {
			return t.fail(t.lines.no, fmt.Sprintf("the file ends in its header: %d of %d header lines are there",
				len(block), d.HeaderRowCount),
				"copy the file again; if it is whole, mend skipRows or headerRowCount")
		}
		if err != nil {
			return err
		}
		if err := t.soundHeader(ln, open); err != nil {
			return err
		}
		look(ln.text, t.isComment(ln.text))
		if t.isComment(ln.text) || len(block) == 0 && isBlank(ln.text) {
			continue
		}
		row := make([]string, len(t.cut.cells))
		for i := range row {
			row[i] = oneLine(t.cut.cell(i))
		}
		block, at = append(block, row), append(at, ln.no)
	}
	constant, err := t.constantSensor(found.sensor)
	if err != nil {
		return err
	}
	t.ends = ends{}
	if d.NameRow > 0 {
		t.names, t.nameAt = block[d.NameRow-1], at[d.NameRow-1]
		t.headCells = len(t.names)
		for len(t.names) > 0 && t.names[len(t.names)-1] == "" {
			t.names = t.names[:len(t.names)-1]
		}
	}
	if err := t.bind(constant); err != nil {
		return err
	}
	t.zone = d.Location()
	if d.Zone == source.ZoneFromHeader {
		for i := 0; i < len(block) && !found.zone; i++ {
			found.offset, found.zone = stamp.OffsetInHeader(block[i], t.times)
		}
		if !found.zone {
			return t.fail(0, "no title or header line states the offset from UTC",
				"write the zone of the logger's clock under zone")
		}
		t.zone = stamp.Fixed(found.offset)
	}
	t.parser = stamp.NewParser(d.Stamp(), t.zone)
	if d.UnitRow > 0 {
		return t.checkUnits(block[d.UnitRow-1], at[d.UnitRow-1])
	}
	return nil
}

// skipTitles passes over what stands before the header block.
func (t *table) skipTitles(look func([]byte)) error {
	d := t.d
	for i := 0; d.HeaderStartsWith != "" || i < d.SkipRows; i++ {
		ln, err := t.lines.next()
		switch {
		case err == io.EOF && d.HeaderStartsWith != "":
			return t.fail(0, fmt.Sprintf("no line begins with %q", d.HeaderStartsWith),
				"mend headerStartsWith, or copy the file again")
		case err == io.EOF:
			return t.fail(t.lines.no, fmt.Sprintf("the file ends within the %d title lines", d.SkipRows),
				"copy the file again; if it is whole, mend skipRows")
		case err != nil:
			return err
		case i == maxTitles:
			return t.fail(ln.no, fmt.Sprintf("no header in the first %d lines", maxTitles), "mend headerStartsWith")
		}
		if d.HeaderStartsWith != "" && bytes.HasPrefix(bytes.TrimLeft(ln.text, " \""), []byte(d.HeaderStartsWith)) {
			t.lines.pos -= ln.raw // give the line back
			t.lines.no--
			return nil
		}
		look(ln.text)
		if len(t.titles) < keepTitle && !isBlank(ln.text) && len(ln.text) <= 1000 {
			t.titles = append(t.titles, bytes.Clone(ln.text))
		}
	}
	return nil
}

// soundHeader refuses a header line that is no text.
func (t *table) soundHeader(ln line, open bool) error {
	switch {
	case ln.tooLong || len(t.cut.cells) > source.MaxColumns:
		return t.fail(ln.no, fmt.Sprintf("the header line has more than %d columns or %d bytes", source.MaxColumns, maxLine),
			"is this a logger file, and the delimiter right?")
	case bytes.IndexByte(ln.text, 0) >= 0:
		return t.fail(ln.no, "the header has zero bytes in it",
			"set encoding: utf-16le if it is that, or export the file again")
	case !utf8.Valid(ln.text):
		return t.fail(ln.no, "the header is not UTF-8", "set encoding: windows-1252, or whatever the logger's "+
			"software writes")
	case open:
		return t.fail(ln.no, "a quote in the header is never closed", "set quoteChar: none if quotes mean nothing here")
	}
	return nil
}

// constantSensor works out the sensor of the whole file, "" where lines or
// columns name it.
func (t *table) constantSensor(headerMatch []string) (string, error) {
	d := t.d
	switch {
	case d.FileNamePattern() != nil:
		m := d.FileNamePattern().FindStringSubmatch(t.fileName)
		if m == nil {
			return "", t.fail(0, fmt.Sprintf("the file name does not fit sensorFrom.fileName (%s), so the sensor is not known",
				d.SensorFrom.FileName), "name the file as usual, or mend the pattern")
		}
		return source.Fill(d.Sensor, m), nil
	case d.HeaderLinePattern() != nil:
		if headerMatch == nil {
			return "", t.fail(0, fmt.Sprintf("no title or header line fits sensorFrom.headerLine (%s), so the sensor "+
				"is not known", d.SensorFrom.HeaderLine), "mend the pattern, or export with the logger's name")
		}
		return source.Fill(d.Sensor, headerMatch), nil
	case !d.SensorFrom.Column.IsZero(), len(d.SensorFrom.Columns) > 0:
		return "", nil
	}
	return d.Sensor, nil
}

// bind looks the described columns up in the header.
func (t *table) bind(constant string) error {
	d := t.d
	t.extent = 0
	find := func(r source.Ref) (int, error) {
		i, err := t.find(r)
		t.extent = max(t.extent, i+1)
		return i, err
	}
	optional := func(r source.Ref) (int, error) {
		if r.IsZero() {
			return -1, nil
		}
		return find(r)
	}
	var err error
	t.times = t.times[:0]
	for _, r := range d.Time.Columns {
		i, err := find(r)
		if err != nil {
			return err
		}
		t.times = append(t.times, i)
	}
	sensorRef := d.SensorFrom.Column
	if d.Layout == source.Long && !d.Long.Sensor.IsZero() {
		sensorRef = d.Long.Sensor
	}
	if t.sensorAt, err = optional(sensorRef); err != nil {
		return err
	}
	t.nameAts = t.nameAts[:0]
	for _, r := range d.SensorFrom.Columns {
		i, err := find(r)
		if err != nil {
			return err
		}
		t.nameAts, t.sensorAt = append(t.nameAts, i), i
	}
	if t.channAt, err = optional(d.Long.Channel); err != nil {
		return err
	}
	t.values = t.values[:0]
	switch d.Layout {
	case source.Days:
		if err := t.bindDay(find); err != nil {
			return err
		}
	case source.Long:
		v := value{channel: d.Channel, good: d.Long.GoodFlags}
		if v.at, err = find(d.Long.Value); err != nil {
			return err
		}
		if v.flagAt, err = optional(d.Long.Flag); err != nil {
			return err
		}
		t.add(v, d.MissingValues)
	default:
		if err := t.bindWide(find, optional); err != nil {
			return err
		}
	}
	for i := range t.known { // columns bound anew: the names stay, their series are looked up again
		t.known[i].series, t.known[i].full = nil, false
	}
	if t.sensorAt < 0 && len(t.known) == 0 {
		if why := emit.BadName(constant); why != "" && constant != "" {
			return t.fail(0, "the sensor's name "+why, "mend sensor or sensorFrom")
		}
		t.known = append(t.known, sensor{name: constant})
	}
	t.need = max(len(t.names), t.extent)
	t.plan()
	return nil
}

func (t *table) bindWide(find, optional func(source.Ref) (int, error)) error {
	taken := map[int]string{}
	for k := range t.d.Columns {
		c := &t.d.Columns[k]
		var at []int
		var groups [][]string
		if p := c.Pattern(); p != nil {
			for i, n := range t.names {
				if m := p.FindStringSubmatch(n); m != nil && !t.isTime(i) {
					at, groups = append(at, i), append(groups, m)
				}
			}
			if len(at) == 0 {
				return t.fail(t.nameAt, fmt.Sprintf("no column fits the pattern %s", c.Match), "columns here: "+t.listNames())
			}
		} else {
			i, err := find(source.Ref{Name: c.Name, Position: c.Position})
			if err != nil {
				return err
			}
			at, groups = []int{i}, [][]string{nil}
		}
		flag, err := optional(c.Flag)
		if err != nil {
			return err
		}
		for j, i := range at {
			if t.isTime(i) {
				return t.fail(t.nameAt, fmt.Sprintf("column %q is described as time and as value", t.label(i)),
					"mend columns or time")
			}
			if _, twice := taken[i]; twice {
				return t.fail(t.nameAt, fmt.Sprintf("column %q is described twice", t.label(i)), "mend columns")
			}
			taken[i] = c.Channel
			t.extent = max(t.extent, i+1)
			v := value{at: i, sensor: c.Sensor, channel: c.Channel, unit: c.Unit, flagAt: flag, good: c.GoodFlags}
			if groups[j] != nil {
				v.sensor, v.channel = source.Fill(v.sensor, groups[j]), source.Fill(v.channel, groups[j])
			}
			t.add(v, append(append([]string(nil), t.d.MissingValues...), c.MissingValues...))
		}
	}
	return nil
}

// add finishes a value column: its label and missing codes.
func (t *table) add(v value, missing []string) {
	v.label = t.label(v.at)
	for _, m := range missing {
		if n, st := t.notation.Parse([]byte(m)); st == number.OK {
			v.codes.Add(n)
		} else if n, st := (number.Notation{Decimal: '.'}).Parse([]byte(m)); st == number.OK {
			v.codes.Add(n)
		} else {
			v.texts = append(v.texts, m)
		}
	}
	t.values = append(t.values, v)
}

func (t *table) isTime(i int) bool {
	for _, k := range t.times {
		if k == i {
			return true
		}
	}
	return false
}

// find gives the index of a column.
func (t *table) find(r source.Ref) (int, error) {
	if r.Position > 0 {
		if t.names != nil && r.Position > len(t.names) {
			return 0, t.fail(t.nameAt, fmt.Sprintf("the header has %d columns, the description asks for column %d", len(t.names),
				r.Position), "mend the position, or the delimiter")
		}
		return r.Position - 1, nil
	}
	want := oneLine([]byte(r.Name))
	at := -1
	for i, n := range t.names {
		if n != want {
			continue
		}
		if at >= 0 {
			return 0, t.fail(t.nameAt, fmt.Sprintf("%d columns or more are named %q", 2, want),
				fmt.Sprintf("use positions (%d, %d, …)", at+1, i+1))
		}
		at = i
	}
	if at < 0 {
		return 0, t.fail(t.nameAt, fmt.Sprintf("no column is named %q", want),
			"mend the description, or the delimiter; columns here: "+t.listNames())
	}
	return at, nil
}

func (t *table) listNames() string {
	const most = 12
	var b strings.Builder
	for i, n := range t.names {
		if i == most {
			fmt.Fprintf(&b, " and %d more", len(t.names)-most)
			break
		}
		if i > 0 {
			b.WriteString(", ")
		}
		if len(n) > 40 {
			n = strings.ToValidUTF8(n[:40], "") + "…"
		}
		fmt.Fprintf(&b, "%q", n)
	}
	return b.String()
}

// checkUnits holds the header's unit line against the declared units. A logger
// that was set to another unit must not pass unseen.
func (t *table) checkUnits(units []string, at int) error {
	for _, v := range t.values {
		if v.unit == "" || v.at >= len(units) || units[v.at] == "" || source.SameUnit(units[v.at], v.unit) {
			continue
		}
		return t.fail(at, fmt.Sprintf("column %q is in %q here, the description says %q", v.label, units[v.at], v.unit),
			"if the logger was set to another unit, describe these files apart; else mend unit")
	}
	return nil
}
