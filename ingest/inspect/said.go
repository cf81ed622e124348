package inspect

import (
	"fmt"
	"slices"
	"strings"
	"unicode"

	"wane/ingest/source"
)

// A column is stored where the file says what it measures, by its name or a unit, and its numbers behave like that. What
// nothing tells of is stored under its own name if it behaves like a measurement; a few whole numbers, a counter or a
// constant are left out, with the line that would store them.

// keepSaid leaves out the numbers that are no readings, and settings.
func (t *table) keepSaid() {
	t.leaveCopies()
	if t.days.count > 0 || t.isLong(nil) { // the times of the day, or the channels, say it
		return
	}
	t.leaveSettings()
	kept := 0
	unsaid := map[int]stats{}
	for _, c := range t.withRole("value") {
		if s := t.statsOf(c); t.speaks(c, s) || s.measured() && !t.isCode(c, s) && (kept > 0 || !t.isKey(c, s)) {
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

// speaks tells whether a column's name or unit says that it is measured. A constant in a unit, and a few fixed per cents, may
// be settings.
func (t *table) speaks(c int, s stats) bool {
	col := t.columns[c]
	least := 1
	if col.Unit == "%" || col.Unit == "" {
		least = 3 + len(s.texts)
	}
	named := col.Quantity != "" && (col.Unit != "" || s.measured() || quantityOf(col.Name).beyond(col.Name) == "")
	return named || (col.Unit != "" || t.inSomeUnit(c)) && (len(s.values) > least || s.numbers < few) ||
		roleOf(col.Name) == "value" || hasWord(col.Name, lightWords) && (len(s.values) > 1 || s.numbers < few) || hasWord(col.Name, otherWords)
}

// few lines do not tell whether numbers are codes: under so many.
const few = 12

// otherWords head what no command computes with, and may stand still for days.
var otherWords = []string{"pressure", "druck", "pression", "albedo", "wind*", "precip*", "prcp*", "snow*", "co2", "noise*"}

// isCode tells whether numbers are those of a status, or count; of few, whether a name stands over whole numbers that never
// change.
func (t *table) isCode(c int, s stats) bool {
	if s.numbers < few {
		return s.whole && t.columns[c].Name != "" && s.still()
	}
	return s.whole && (roleOf(t.columns[c].Name) == "flag" || t.counts(c) || t.leaps(c) &&
		!hasWord(t.columns[c].Name, []string{"peak", "max", "min", "mean", "avg", "average", "sum", "total"}))
}

// leaps tells whether numbers hardly ever come again and differ from line to line as much as any two of them do, as ids and
// check sums do, and measurements seldom: the mean square of the steps is more than that of the deviations (of numbers in no order it is twice
// that: J. von Neumann 1941, from memory).
func (t *table) leaps(c int) bool {
	if s := t.statsOf(c); 3*len(s.values) < min(s.numbers, 200) {
		return false
	}
	labels := t.groups()
	last := map[string]float64{}
	var n, sum, squares, steps float64
	for r := range t.rows() {
		v, ok := t.numberIn(r, c)
		if !ok {
			continue
		}
		x, key := v.Float(), r.key(labels)
		if was, ok := last[key]; ok {
			n, sum, squares, steps = n+1, sum+x, squares+x*x, steps+(x-was)*(x-was)
		}
		last[key] = x
	}
	return n >= few && steps > 1.2*(squares-sum*sum/n)
}

// isKey tells whether a column without a name is the same on each of a few lines: before the values that is the station, its
// place, its version.
func (t *table) isKey(c int, s stats) bool {
	return s.numbers < few && t.columns[c].Name == "" && s.still()
}

// still tells whether all cells are the same.
func (s stats) still() bool { return len(s.values) == 1 && s.filled > 2 }

// inSomeUnit tells whether brackets behind a column's name, or the line of units, hold a unit that is not known here: wind in
// m/s, rain in kg/m2. Settings have such ones too, of time above all.
func (t *table) inSomeUnit(c int) bool {
	unit := t.units()[c]
	if m := bracketUnit.FindStringSubmatch(t.columns[c].Name); m != nil {
		unit = m[2]
	}
	return strings.ContainsFunc(unit, unicode.IsLetter) && len(unit) < 10 &&
		!hasWord(unit, noUnits)
}

// noUnits are what settings are in, of time above all, and what counts.
var noUnits = []string{"s", "ms", "us", "min", "d", "no", "1", "x"}

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

// leaveCopies leaves out a column that has the numbers of another one on all lines, with their units for people.
func (t *table) leaveCopies() {
	values := t.withRole("value")
	for i, c := range values {
		s := t.statsOf(c)
		if s.numbers < few || len(s.values) < 4 {
			continue
		}
		for _, first := range values[:i] {
			same := t.columns[first].Role == "value"
			for r := range t.rows() {
				a, ok := t.numberIn(r, first)
				b, also := t.numberIn(r, c)
				same = same && ok == also && a.Float() == b.Float() && (r.cell(c) == "" || r.cell(c) != r.cell(first))
				if !same {
					break
				}
			}
			if same {
				t.leave(c, "copy", "its numbers are those of "+t.called(first))
				break
			}
		}
	}
}

// settingWords say that a number was set, planned or computed, and not measured. Of dimming that is what is wanted.
var settingWords = []string{"set", "setpoint*", "setpt", "sp", "soll*", "vorgabe", "ziel*", "nenn*", "grenz*", "consigne",
	"consigna", "objetivo", "gewenst*", "nastaw*", "zadan*", "target*", "goal*", "limit*", "thresh*", "nominal", "rated",
	"rating", "default", "preset", "planned", "forecast*", "predict*", "expected", "gain", "offset", "factor", "coeff*",
	"calib*", "min_allowed", "max_allowed", "tolerance", "deadband", "hysteresis", "cmd", "command*", "demand", "request*",
	"recipe"}

// rawWords say that a number is what a converter counts, in no unit.
var rawWords = []string{"raw*", "adc", "counts", "digits", "lsb", "ticks"}

// leaveSettings leaves out what is named as a setting, or stands still beside columns that vary, and what has the name of a
// quantity and a few fixed values, where another column of that quantity varies as measurements do.
func (t *table) leaveSettings() {
	var vary []int // columns that vary as measurements do
	values := t.withRole("value")
	for _, c := range values {
		if s := t.statsOf(c); s.measured() && len(s.values) > 10 && !t.isSetting(c) {
			vary = append(vary, c)
		}
	}
	for _, c := range values {
		s, q := t.statsOf(c), t.columns[c].Quantity
		kinds := len(s.values) - len(s.texts)
		switch {
		case len(vary) == 0 || slices.Equal(vary, []int{c}):
		case q == "run_hours" && t.falls(c) && slices.ContainsFunc(values, func(o int) bool {
			up, down := t.upsAndDowns(o)
			return t.columns[o].Quantity == q && up > 0 && down == 0
		}):
			t.leave(c, "setting", "its hours fall again and again, where others count up")
		case t.isSetting(c):
			t.leave(c, "setting", "its name says that it was set, or counts in no unit, and not that it was measured")
		case kinds > 3 || s.numbers < 50 || s.min == 0 && s.max == 0 || t.oneOfMany(c) || q == "" || q == "dim_pct" ||
			q == "energy_kwh":
		case kinds == 1 && q != "run_hours":
			t.leave(c, "setting", fmt.Sprintf("it is the same on all %d lines", s.numbers))
		default:
			for _, other := range vary { // the message names the first
				if t.columns[other].Quantity == q {
					t.leave(c, "setting", fmt.Sprintf("it has %d values, and %s varies", kinds, t.called(other)))
					break
				}
			}
		}
	}
}

// isSetting tells whether a column's name says that its numbers are none of an instrument in a unit. A set point of dimming
// is what lamps are driven with, where nothing tells what came of it.
func (t *table) isSetting(c int) bool {
	named := func(c int) bool {
		name := t.columns[c].Name
		return hasWord(name, settingWords) || hasWord(name, rawWords)
	}
	return named(c) && (t.columns[c].Quantity != "dim_pct" || slices.ContainsFunc(t.withRole("value"), func(o int) bool {
		return t.columns[o].Quantity == "dim_pct" && !named(o)
	}))
}

// measured tells whether numbers behave like those of an instrument, and not like codes and settings, which are few. A few
// lines do not tell.
func (s stats) measured() bool {
	kinds := len(s.values) - len(s.texts)
	return s.numbers < few || kinds > 12 || kinds > 3 && !s.whole
}

// upsAndDowns counts the steps up and down of numbers within a series.
func (t *table) upsAndDowns(c int) (up, down int) {
	last := map[string]float64{}
	labels := t.groups()
	for r := range t.rows() {
		v, ok := t.numberIn(r, c)
		if !ok {
			continue
		}
		key := r.key(labels)
		if was, again := last[key]; again && v.Float() > was {
			up++
		} else if again && v.Float() < was {
			down++
		}
		last[key] = v.Float()
	}
	return up, down
}

// groups are the columns that may part the rows into series, before it is known which do.
func (t *table) groups() (out []int) {
	for c, col := range t.columns {
		if col.Role == "sensor" || (col.Role == "text" || col.Role == "id") && t.isLabel(c) {
			out = append(out, c)
		}
	}
	return out
}

// counts tells whether numbers never fall within a series.
func (t *table) counts(c int) bool {
	_, down := t.upsAndDowns(c)
	return down == 0
}

// falls tells whether numbers fall more often than a meter is set back.
func (t *table) falls(c int) bool {
	up, down := t.upsAndDowns(c)
	return 3*down > up && down > 1
}

// wobbles tells whether numbers rise and fall about as often, which no meter does.
func (t *table) wobbles(c int) bool {
	up, down := t.upsAndDowns(c)
	return min(up, down) > 2 && 3*min(up, down) > max(up, down)
}

// proposeLeft writes the lines that would store what is left out.
func (t *table) proposeLeft(line func(string, ...any)) {
	taken := map[string]bool{}
	for _, c := range t.columns {
		taken[c.Channel] = true
	}
	for _, c := range t.columns {
		if c.Role != "unsaid" && c.Role != "setting" && c.Role != "copy" {
			continue
		}
		bare, _ := unitIn(c.Name)
		channel := unique(ownName(bare, c.Position), taken, c.Position)
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
