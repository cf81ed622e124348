package delimited

import (
	"wane/ingest/decode/stamp"
	"wane/ingest/source"
)

// bindDay looks up the columns of a day a line: all of one channel, each at its own
// time of day.
func (t *table) bindDay(find func(source.Ref) (int, error)) error {
	d := t.d
	first, err := find(d.Days.First)
	if err != nil {
		return err
	}
	for k := range d.Days.Count {
		at, err := find(source.Ref{Position: first + k + 1})
		if err != nil {
			return err
		}
		if t.isTime(at) {
			return t.fail(t.nameAt, "the columns of the day reach into those of the date", "mend days or time")
		}
		t.add(value{at: at, channel: d.Channel, unit: d.Days.Unit, flagAt: -1}, d.MissingValues)
	}
	return nil
}

// dayRow reads a line that holds a day. date is its midnight. Each value is placed
// by its own time of day, which on the nights of a change of clocks may come twice
// or not at all.
func (t *table) dayRow(ln line, date stamp.Moment) error {
	sen, bad := t.lineSensor()
	if bad != nil {
		return t.e.Reject(ln.no, t.label(t.sensorAt), bad.Code, bad.Reason, ln.text)
	}
	series := int32(-1)
	for k := range t.values {
		v := &t.values[k]
		if v.at >= len(t.cut.cells) {
			t.e.Blank++ // shortLines: blank
			continue
		}
		n, ok, err := t.value(ln, v)
		if err != nil {
			return err
		}
		if !ok {
			continue
		}
		if series < 0 {
			if series, bad = t.e.Series(t.known[sen].name, v.channel); bad != nil {
				return t.e.Reject(ln.no, v.label, bad.Code, bad.Reason, ln.text)
			}
		}
		at, bad := t.e.Place(sen, t.parser.Later(date, t.d.Days.At(k)), t.zone)
		if bad != nil {
			if err := t.e.Reject(ln.no, v.label, bad.Code, bad.Reason, t.cut.cell(v.at)); err != nil {
				return err
			}
			continue
		}
		if err := t.e.Add(series, at, n, ln.no); err != nil {
			return err
		}
	}
	return nil
}
