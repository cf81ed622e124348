package inspect

import (
	"regexp"
	"slices"
	"strings"
)

// nameSeries gives every value column the name under which its readings are
// stored, as the description will say it: columns that differ in a number only
// share an item there. No two columns get one name.
func (t *table) nameSeries() {
	if t.days.count > 0 {
		for _, c := range t.withRole("value") {
			t.columns[c].Channel = "value"
		}
		return
	}
	if t.long {
		return
	}
	taken := map[string]bool{}
	done := map[string]bool{}
	for _, c := range t.withRole("value") {
		shape, _, ok := numbered(t.columns[c].Name)
		if !ok || done[shape] || !t.alike(shape) {
			continue
		}
		done[shape] = true
		t.nameFamily(shape, taken)
	}
	for _, c := range t.withRole("value") {
		if col := &t.columns[c]; col.family == "" {
			col.Channel = unique(t.channelOf(c), taken, col.Position)
		}
	}
}

// nameFamily names the columns of one shape by one pattern, unless a name of theirs is taken: then each gets its own.
func (t *table) nameFamily(shape string, taken map[string]bool) {
	var family []int
	for _, c := range t.withRole("value") {
		if s, _, ok := numbered(t.columns[c].Name); ok && s == shape {
			family = append(family, c)
		}
	}
	_, parts, _ := numbered(t.columns[family[0]].Name)
	item, sensor, channel := t.matching(family[0], parts)
	named := func(c int) (sen, ch string) {
		n := digits.FindString(t.columns[c].Name)
		return strings.ReplaceAll(sensor, "{1}", n), strings.ReplaceAll(channel, "{1}", n)
	}
	for _, c := range family {
		if sen, ch := named(c); taken[sen+"\x00"+ch] || sen == "" && taken[ch] {
			return
		}
	}
	for _, c := range family {
		col := &t.columns[c]
		col.family = item
		col.Sensor, col.Channel = named(c)
		taken[col.Sensor+"\x00"+col.Channel] = true
		if col.Sensor == "" {
			taken[col.Channel] = true
		}
	}
}

var digits = regexp.MustCompile(`[0-9]+`)

// numbered parts a name at its only number: "F012 PPFD" is "F" and " PPFD".
func numbered(name string) (shape string, parts [2]string, ok bool) {
	at := digits.FindAllStringIndex(name, -1)
	if len(at) != 1 {
		return "", parts, false
	}
	parts = [2]string{name[:at[0][0]], name[at[0][1]:]}
	return parts[0] + "\x00" + parts[1], parts, true
}

// alike tells whether three columns or more have the shape, all of them values
// of one quantity and unit with the same missing codes.
func (t *table) alike(shape string) bool {
	if t.as != nil && t.as.refs != nil {
		return false // they are not matched by name
	}
	n, first := 0, -1
	for i, c := range t.columns {
		if s, _, ok := numbered(c.Name); !ok || s != shape {
			continue
		}
		if n++; first < 0 {
			first = i
		}
		f := t.columns[first]
		if c.Role != "value" || c.Quantity != f.Quantity || c.Unit != f.Unit || !slices.Equal(c.missing, f.missing) ||
			t.nameCount[c.Name] > 1 {
			return false
		}
	}
	return n >= 3
}

// matching describes columns of one shape at once, and says how sensor and channel
// are named. What stands before the number is taken for the sensor, unless it says
// what is measured, or nothing else does.
func (t *table) matching(at int, parts [2]string) (item, sensor, channel string) {
	item = "match: " + quote("^"+regexp.QuoteMeta(parts[0])+"([0-9]+)"+regexp.QuoteMeta(parts[1])+"$")
	before := slug(parts[0])
	bare, _ := unitIn(strings.TrimSpace(parts[1]))
	c := t.columns[at]
	if channel, _ = t.calledSo(at); channel == "" {
		channel = slug(bare)
	}
	switch {
	case channel == "":
		words := []string{before, "{1}", slug(bare)}
		channel = strings.Join(slices.DeleteFunc(words, func(w string) bool { return w == "" }), "_")
		if channel == "{1}" {
			channel = "channel_{1}"
		}
		item += ", channel: " + quote(channel)
	case before == "" || quantityOf(parts[0]).id != "":
		channel += "_{1}"
		item += ", channel: " + quote(channel)
	default:
		sensor = before + "{1}"
		item += ", sensor: " + quote(sensor) + ", channel: " + yamlWord(channel)
	}
	if c.Unit != "" {
		item += ", unit: " + quote(c.Unit)
	}
	return item + missingOf(c), sensor, channel
}

// asides are the roles of columns that are left out though they hold something.
var asides = []string{"id", "record number", "other time", "zone", "flag", "text", "beside the day", "unsaid", "setting", "copy"}

// sayLeftOut lists the columns that the proposal does not store.
func (t *table) sayLeftOut() {
	for _, role := range asides {
		var list []string
		why := ""
		for i, c := range t.columns {
			if c.Role != role || t.sensor.column == c.Position || slices.Contains(t.sensor.columns, c.Position) ||
				slices.Contains(t.sensorOpen, i) || role == "flag" && t.long {
				continue
			}
			list = append(list, t.called(i))
			why = c.Evidence
		}
		if len(list) > 0 {
			t.leftOut = append(t.leftOut, listed(list)+" ("+role+")")
			t.report.add(Finding{"left out", listed(list), Likely, role + ": " + why})
		}
	}
}
