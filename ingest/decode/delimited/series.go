package delimited

import (
	"bytes"
	"fmt"

	"wane/ingest/decode/emit"
	"wane/ingest/decode/stamp"
	"wane/ingest/source"
)

const (
	maxNames = 65536   // sensors or channels met in one file
	maxSlots = 4 << 20 // sensors times columns
)

var errTooMany = &stamp.Error{Code: "too-many-series",
	Reason: fmt.Sprintf("more than %d sensors or channels in one file; is the right column taken?", maxNames)}

// sensor gives the number of a sensor's name in this file.
func (t *table) sensor(name []byte) (int32, *stamp.Error) {
	if t.lastSen < int32(len(t.known)) && string(name) == t.known[t.lastSen].name {
		return t.lastSen, nil
	}
	id, ok := t.sensors[string(name)]
	if !ok {
		if why := emit.BadName(string(name)); why != "" {
			return 0, &stamp.Error{Code: "bad-name", Reason: "the sensor's name " + why}
		}
		if len(t.known) >= maxNames || t.d.Layout == source.Wide && len(t.known)*len(t.values) > maxSlots {
			return 0, errTooMany
		}
		id = int32(len(t.known))
		t.known = append(t.known, sensor{name: string(name), bare: t.bare(name)})
		t.sensors[string(name)] = id
	}
	t.lastSen = id
	return id, nil
}

// lineSensor gives the line's sensor.
func (t *table) lineSensor() (int32, *stamp.Error) {
	if t.sensorAt < 0 {
		return 0, nil
	}
	if len(t.nameAts) == 0 {
		return t.sensor(t.cut.cell(t.sensorAt))
	}
	t.called = t.called[:0]
	for _, at := range t.nameAts {
		if name := t.cut.cell(at); len(name) > 0 {
			if len(t.called) > 0 {
				t.called = append(t.called, '/')
			}
			t.called = append(t.called, name...)
		}
	}
	return t.sensor(t.called)
}

// longSeries gives the series of a long line.
func (t *table) longSeries(sen int32) (int32, *stamp.Error) {
	name := []byte(nil)
	ch := int32(0)
	if t.channAt >= 0 {
		name = t.cut.cell(t.channAt)
		var ok bool
		if ch, ok = t.channels[string(name)]; !ok {
			if len(t.channels) >= maxNames {
				return 0, errTooMany
			}
			ch = int32(len(t.channels))
			t.channels[string(name)] = ch
			t.channelNames = append(t.channelNames, channelName{string(name), t.bare(name)})
		}
	}
	key := pairKey(sen, ch)
	if i, ok := t.pairs[key]; ok {
		return t.pairList[i].series, nil
	}
	channel := t.d.Channel
	if t.channAt >= 0 {
		channel = string(name)
	}
	id, bad := t.e.Series(t.known[sen].name, channel)
	if bad == nil {
		t.pairs[key] = int32(len(t.pairList))
		t.pairList = append(t.pairList, pair{sen: sen, ch: ch, series: id})
	}
	return id, bad
}

func pairKey(sen, ch int32) uint64 { return uint64(sen)<<32 | uint64(ch) }

// bare tells whether a name's bytes, found between two delimiters, are that name:
// no delimiter or quote is in it.
func (t *table) bare(name []byte) bool {
	return bytes.IndexByte(name, t.cut.delim) < 0 && (t.cut.quote == 0 || bytes.IndexByte(name, t.cut.quote) < 0)
}
