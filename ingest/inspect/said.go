package inspect

import (
	"fmt"
	"slices"
	"strings"

	"wane/ingest/source"
)

// A column is stored where the file says what it measures, by its name or a unit, and its numbers behave like that. What
// nothing tells of is stored under its own name if it behaves like a measurement; a few whole numbers, a counter or a
// constant are left out, with the line that would store them.

// keepSaid leaves out the numbers that are no readings, and settings.
func (t *table) keepSaid() {
	if t.days.count > 0 || t.isLong(nil) { // the times of the day, or the channels, say it
		return
	}
	t.leaveSettings()
	kept := 0
	unsaid := map[int]stats{}
	for _, c := range t.withRole("value") {
		col, s := t.columns[c], t.statsOf(c)
		if col.Quantity != "" || col.Unit != "" && (len(s.values) > 1 || s.numbers < 12) || roleOf(col.Name) == "value" || hasWord(col.Name, lightWords) ||
			s.measured() && !(s.whole && (roleOf(col.Name) == "flag" || t.counts(c))) {
			kept++
		} else {
			unsaid[c] = s
		}
	}
	for c, s := range unsaid {
		if kept > 0 || len(s.values) == 1 && s.min != 0 {
			t.leave(c, "unsaid", "neither its name nor a unit tells what it measures, and its numbers are few, or count")
		}
	}
}

func (t *table) leave(c int, role, why string) {
	col := &t.columns[c]
	col.Role, col.Evidence, col.missing = role, why, nil
}

// called is what a column is called in a message.
func (t *table) called(c int) string {
	if name := t.columns[c].Name; name != "" {
		return name
	}
	return fmt.Sprintf("column %d", c+1)
}

// listed joins names, not more than eight of them.
func listed(names []string) string {
	if len(names) > 8 {
		names = append(slices.Clone(names[:8]), "…")
	}
	return strings.Join(names, ", ")
}

// leaveSettings leaves out what has the name of a quantity and a few fixed values, where another column of that quantity
// varies as measurements do.
func (t *table) leaveSettings() {
	kinds := map[int]int{}
	for _, c := range t.withRole("value") {
		s := t.statsOf(c)
		if kinds[c] = len(s.values) - len(s.texts); s.numbers < 50 || s.min == 0 && s.max == 0 || t.oneOfMany(c) {
			kinds[c] = 4 // may be measured
		}
	}
	for c, n := range kinds {
		q := t.columns[c].Quantity
		if n > 3 || q == "" || q == "dim_pct" || q == "energy_kwh" {
			continue
		}
		for other := range kinds {
			if s := t.statsOf(other); t.columns[other].Quantity == q && s.measured() && len(s.values) > 10 {
				t.leave(c, "setting", fmt.Sprintf("it has %d values, and %s varies", n, t.called(other)))
				break
			}
		}
	}
}

// measured tells whether numbers behave like those of an instrument, and not like codes and settings, which are few. A few
// lines do not tell.
func (s stats) measured() bool {
	kinds := len(s.values) - len(s.texts)
	return s.numbers < 12 || kinds > 12 || kinds > 3 && !s.whole
}

// counts tells whether whole numbers never fall within a series.
func (t *table) counts(c int) bool {
	last := map[string]string{}
	labels := t.labels(nil)
	for i, r := range t.recs {
		if i < t.first || !t.stamped[i] || c >= len(r.cells) || r.cells[c] == "" {
			continue
		}
		key := ""
		for _, l := range labels {
			if l < len(r.cells) {
				key += r.cells[l] + "\x00"
			}
		}
		if was := last[key]; len(r.cells[c]) < len(was) || len(r.cells[c]) == len(was) && r.cells[c] < was {
			return false
		}
		last[key] = r.cells[c]
	}
	return true
}

// proposeLeft writes the lines that would store what is left out.
func (t *table) proposeLeft(line func(string, ...any)) {
	taken := map[string]bool{}
	for _, c := range t.columns {
		taken[c.Channel] = true
	}
	for _, c := range t.columns {
		if c.Role != "unsaid" && c.Role != "setting" {
			continue
		}
		bare, _ := unitIn(c.Name)
		channel := unique(channelOf(Column{Position: c.Position}, bare), taken, c.Position)
		line("  # - {%s}   # not stored unless you take out the first #: %s", t.itemOf(c, channel), c.Evidence)
	}
}

// itemOf describes a column under a channel's name.
func (t *table) itemOf(c Column, channel string) string {
	item := "name: " + t.ref(c.Position-1)
	if ref := t.ref(c.Position - 1); ref == fmt.Sprint(c.Position) {
		item = "position: " + ref
	}
	item += ", channel: " + yamlWord(channel)
	if u := t.units()[c.Position-1]; c.Unit != "" && t.unitRow > 0 {
		if _, known := source.CanonicalUnit(strings.Trim(u, "()[]")); known {
			return item + ", unit: " + quote(u)
		}
	}
	if c.Unit != "" {
		item += ", unit: " + quote(c.Unit)
	}
	return item + missingOf(c)
}
