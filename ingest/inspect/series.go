package inspect

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"wane/ingest/decode/stamp"
)

// tellApart finds the columns that part the rows of one moment into series. A
// file can hold several fixtures under headings that inspect does not know; read
// without the column that names them their rows would contradict each other, and
// none would be used.
func (t *table) tellApart() {
	t.oneChannel()
	r := t.repeats(t.labels(-1))
	if 5*r.repeated < 2*r.rows || !r.differ || r.last-r.first < hour { // a clock put back gives one hour twice
		return
	}
	var names []int
	for c := range t.columns {
		if t.isLabel(c) {
			if left := t.repeats(t.labels(c)).repeated; 20*left < r.rows {
				names = append(names, c)
			}
		}
	}
	what := fmt.Sprintf("%d of %d rows repeat the time of another row", r.repeated, r.rows)
	switch len(names) {
	case 0:
		t.mixed = true
		t.report.add(Finding{"series", "", Asked, what + ", and no column tells them apart: where their values differ, neither is used until someone decides"})
		t.report.Questions = append(t.report.Questions, Question{Key: "series", Text: what + " with other values, and no column tells them apart; export one file a logger, or with seconds in the stamps"})
	case 1:
		c := &t.columns[names[0]]
		c.Role, c.Sure, c.Channel, c.missing = "sensor", Likely, "", nil
		c.Evidence = what + "; this column tells them apart"
		t.sensor.column = c.Position
	default:
		t.askSensor(what, names)
	}
}

// askSensor leaves it to a person which of the columns names the sensor.
func (t *table) askSensor(what string, names []int) {
	t.sensorOpen = names
	list := make([]string, len(names))
	choices := make([]string, len(names))
	for i, c := range names {
		col := &t.columns[c]
		if col.Role == "value" {
			col.Role, col.Channel, col.missing = "text", "", nil
		}
		list[i] = "column " + strconv.Itoa(col.Position)
		if col.Name != "" {
			list[i] = strconv.Quote(col.Name)
		}
		choices[i] = fmt.Sprintf("sensorFrom: {column: %s}", t.ref(c))
	}
	t.report.Questions = append(t.report.Questions, Question{Key: "sensor", Text: what + ": which column names the sensor, " + strings.Join(list, " or ") + "?", Choices: choices})
}

// oneChannel leaves one column of channels where two are named like one: that
// whose entries say what is measured. The other names the sensor, if none does.
func (t *table) oneChannel() {
	both := t.withRole("channel")
	if len(both) != 2 {
		return
	}
	channel, other := both[0], both[1]
	if a, b := t.measures(channel), t.measures(other); a < b || a == b && hasWord(t.columns[channel].Name, []string{"channel"}) {
		channel, other = other, channel
	}
	t.columns[other].Role = "sensor"
	t.columns[other].Evidence += fmt.Sprintf("; column %d tells what is measured", channel+1)
}

// measures is the share of a column's entries that name a quantity.
func (t *table) measures(c int) float64 {
	known, all := 0, 0
	for text := range t.statsOf(c).values {
		if all++; quantityOf(text).id != "" || hasWord(text, lightWords) {
			known++
		}
	}
	return float64(known) / float64(max(all, 1))
}

// isLabel tells whether a column could name the sensor of each row: its entries
// come again, and are names or whole numbers of no known quantity.
func (t *table) isLabel(c int) bool {
	col := t.columns[c]
	number := col.Role == "value" && col.Quantity == "" && roleOf(col.Name) != "value"
	if !number && col.Role != "sensor" && col.Role != "text" {
		return false
	}
	s := t.statsOf(c)
	if number {
		for entry := range s.values {
			if !isDigitText(entry) {
				return false
			}
		}
	}
	return len(s.values) >= 2 && 2*len(s.values) <= s.filled
}

// labels are the columns that part rows into series when the column sensor names
// the sensor; with -1 the one that is called so, if any.
func (t *table) labels(sensor int) []int {
	var out []int
	if t.isLong(sensor) {
		out = t.withRole("channel")
	}
	if sensor >= 0 {
		return append(out, sensor)
	}
	if called := t.withRole("sensor"); len(called) > 0 {
		out = append(out, called[0])
	}
	return out
}

// isLong tells wide from long, the column sensor aside: a long file has one
// column of channels and one of values.
func (t *table) isLong(sensor int) bool {
	values, channels := len(t.withRole("value")), len(t.withRole("channel"))
	if sensor >= 0 && t.columns[sensor].Role == "value" {
		values--
	}
	return channels == 1 && values == 1
}

// withRole gives the indices of the columns that have a role.
func (t *table) withRole(role string) (at []int) {
	for i, c := range t.columns {
		if c.Role == role {
			at = append(at, i)
		}
	}
	return at
}

const hour = 3600 // seconds

// repeats are the rows with a stamp, and those whose stamp and labels stood in a
// row before.
type repeats struct {
	rows, repeated int
	differ         bool  // any of the repeated ones has other values
	first, last    int64 // stamps of the repeated ones as the clock shows them, seconds
}

func (t *table) repeats(labels []int) (out repeats) {
	f, err := stamp.Compile(t.anyFormat())
	if err != nil {
		return out
	}
	clock := pattern{format: f}
	before := map[string]string{}
	for i, r := range t.recs {
		if i < t.first || !t.stamped[i] {
			continue
		}
		key, values := strings.Join(t.stampsOf([]record{r}, t.times), ""), ""
		at, ok := clock.fits(key)
		if !ok {
			continue
		}
		for c, cell := range r.cells {
			switch {
			case c >= len(t.columns):
			case slices.Contains(labels, c):
				key += "\x00" + cell
			case t.columns[c].Role == "value":
				values += "\x00" + cell
			}
		}
		out.rows++
		was, again := before[key]
		if !again {
			before[key] = values
			continue
		}
		if out.repeated == 0 {
			out.first, out.last = at, at
		}
		out.first, out.last = min(out.first, at), max(out.last, at)
		out.repeated++
		out.differ = out.differ || was != values
	}
	return out
}
