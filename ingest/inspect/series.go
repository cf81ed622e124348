package inspect

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"wane/ingest/decode/number"
)

// tellApart finds the columns that part the rows of one moment into series. A
// file can hold several fixtures under headings that inspect does not know; read
// without the column that names them their rows would contradict each other, and
// none would be used.
func (t *table) tellApart() {
	if t.days.count > 0 {
		return
	}
	t.oneChannel()
	t.oneSensor()
	r := t.repeats(t.labels(nil))
	if 5*r.repeated < 2*r.rows || !r.differ || r.last-r.first < hour { // a clock put back gives one hour twice
		if cols := t.apartNowAndThen(r); cols != nil {
			t.nameBy(cols, fmt.Sprintf("%d of %d rows repeat the time of another row; this column tells all of them apart",
				r.repeated, r.rows))
			return
		}
		t.askOfLevels()
		return
	}
	var can, names []int
	for c := range t.columns {
		if t.isLabel(c) {
			can = append(can, c)
			if left := t.repeats(t.labels([]int{c})).repeated; 20*left < r.rows {
				names = append(names, c)
			}
		}
	}
	what := fmt.Sprintf("%d of %d rows repeat the time of another row", r.repeated, r.rows)
	switch {
	case len(names) > 1 && t.sameThing(names):
		slices.SortStableFunc(names, func(a, b int) int { return t.inWords(b) - t.inWords(a) })
		t.nameBy(names[:1], what+"; this column tells them apart, as others do that go with it")
	case len(names) == 1:
		t.nameBy(names, what+"; this column tells them apart")
	case len(names) > 1:
		t.askSensor(what, names)
	default:
		if pair := t.pairApart(can, r.rows); pair != nil {
			t.nameBy(pair, what+"; these columns together tell them apart")
			return
		}
		t.mixed = true
		t.report.add(Finding{"series", "", Asked, what +
			", and no column tells them apart: where their values differ, neither is used until someone decides"})
		t.ask("series", what+" with other values, and no column tells them apart; export one file a logger, or with "+
			"seconds in the stamps")
	}
}

// apartNowAndThen finds the one column that tells all rows of one time apart
// where these are few, as where sums by the hour and by the day stand among
// readings by the minute, with those that name the sensor already; nil where none or more than one does.
func (t *table) apartNowAndThen(r repeats) (found []int) {
	const least = 12 // fewer may differ in a column by chance
	if r.repeated < least || !r.differ || r.last-r.first < hour {
		return nil
	}
	named := t.withRole("sensor")
	for c := range t.columns {
		cols := append(slices.Clone(named), c)
		if slices.Contains(named, c) || !t.isLabel(c) || len(t.statsOf(c).values) > 50 || t.repeats(t.labels(cols)).repeated > 0 {
			continue
		}
		if found != nil {
			return nil
		}
		found = cols
	}
	return found
}

// nameBy has columns name the sensor of each row.
func (t *table) nameBy(cols []int, evidence string) {
	for _, k := range t.withRole("sensor") { // what was called so does not tell the rows apart
		if !slices.Contains(cols, k) {
			t.columns[k].Role = "id"
		}
	}
	for _, k := range cols {
		c := &t.columns[k]
		c.Role, c.Sure, c.Channel, c.missing, c.Quantity, c.Unit = "sensor", Likely, "", nil, "", ""
		c.Evidence = evidence
		t.sensor.column = c.Position
		if len(cols) > 1 {
			t.sensor.columns = append(t.sensor.columns, c.Position)
		}
	}
}

// sameThing tells whether columns name the same things in different words.
func (t *table) sameThing(cols []int) bool {
	for _, c := range cols[1:] {
		if n := t.kinds(cols[0]); t.kinds(c) != n || t.kinds(cols[0], c) != n {
			return false
		}
	}
	return true
}

// kinds counts the different entries of columns taken together.
func (t *table) kinds(cols ...int) int {
	seen := map[string]bool{}
	for r := range t.rows() {
		seen[r.key(cols)] = true
	}
	return len(seen)
}

// inWords tells whether a column's entries are more than numbers, and so say more as names of sensors.
func (t *table) inWords(c int) int {
	for entry := range t.statsOf(c).values {
		if !isDigitText(entry) {
			return 1
		}
	}
	return 0
}

// pairApart finds two columns that together tell the rows apart.
func (t *table) pairApart(can []int, rows int) []int {
	for i, a := range can {
		for _, b := range can[i+1:] {
			if left := t.repeats(t.labels([]int{a, b})).repeated; 20*left < rows {
				return []int{a, b}
			}
		}
	}
	return nil
}

// oneSensor leaves, of several columns named like sensors, those that it takes to
// name each: not those that are the same throughout, nor those that another one
// implies.
func (t *table) oneSensor() {
	all := t.withRole("sensor")
	if len(all) < 2 {
		return
	}
	needed := slices.Clone(all)
	whole := t.kinds(all...)
	for i := len(needed) - 1; i >= 0 && len(needed) > 1; i-- {
		rest := slices.Delete(slices.Clone(needed), i, i+1)
		if t.kinds(rest...) == whole {
			needed = rest
		}
	}
	for _, c := range all {
		if !slices.Contains(needed, c) {
			t.columns[c].Role, t.columns[c].Evidence = "id", "another column names the sensors as well"
		}
	}
	if len(needed) > 1 {
		t.nameBy(needed, "these columns together name the sensors")
	}
}

// askOfLevels asks of a column of words by which the values differ much more than
// within: rows that alternate between such levels are of several series, even
// where no two have one time. A column that says nothing beyond those that name the
// series, such as the unit of each channel, tells no more of them apart.
func (t *table) askOfLevels() {
	for c := range t.columns {
		if t.columns[c].Role != "text" || !t.isLabel(c) {
			continue
		}
		if named := t.labels(nil); len(named) > 0 && t.kinds(append(slices.Clone(named), c)...) == t.kinds(named...) {
			continue
		}
		s := t.statsOf(c)
		if len(s.values) > 50 || 5*t.turns(c) < s.filled {
			continue
		}
		for _, v := range t.withRole("value") {
			if t.between(c, v) > 0.6 {
				t.askSensor(fmt.Sprintf("the values of column %d differ by what column %d says much more than otherwise", v+1, c+1),
					[]int{c})
				return
			}
		}
	}
}

// turns counts the rows in which a column has another entry than in the row before.
func (t *table) turns(c int) (n int) {
	last, any := "", false
	for r := range t.rows() {
		if any && r.cell(c) != last {
			n++
		}
		last, any = r.cell(c), true
	}
	return n
}

// notation is how numbers are written, or may be while that is open.
func (t *table) notation() number.Notation {
	if t.decimalOpen {
		return number.Notation{Decimal: ','}
	}
	return number.Notation{Decimal: t.decimal, Group: t.group}
}

// between is the share of the variance of column v that the entries of column c
// explain (the correlation ratio, eta squared: R. A. Fisher 1925, from memory).
func (t *table) between(c, v int) float64 {
	type group struct{ n, sum float64 }
	groups := map[string]*group{}
	var n, sum, squares float64
	for r := range t.rows() {
		x, ok := t.numberIn(r, v)
		if !ok || c >= len(r.cells) {
			continue
		}
		g := groups[r.cells[c]]
		if g == nil {
			g = &group{}
			groups[r.cells[c]] = g
		}
		f := x.Float()
		g.n, g.sum = g.n+1, g.sum+f
		n, sum, squares = n+1, sum+f, squares+f*f
	}
	total := squares - sum*sum/max(n, 1)
	if n < 10 || !(total > 0) {
		return 0
	}
	explained := -sum * sum / n
	for _, g := range groups {
		explained += g.sum * g.sum / g.n
	}
	return explained / total
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
	t.ask("sensor", what+": which column names the sensor, "+strings.Join(list, " or ")+"?", choices...)
}

// oneChannel leaves one column of channels where two are named like one: that
// whose entries say what is measured. The other names the sensor, if none does.
func (t *table) oneChannel() {
	both := t.withRole("channel")
	if len(both) != 2 {
		return
	}
	channel, other := both[0], both[1]
	if a, b := t.measures(channel), t.measures(other); a < b || a == b &&
		hasWord(t.columns[channel].Name, []string{"channel"}) {
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
	s := t.statsOf(c)
	if !slices.Contains([]string{"unsaid", "value", "sensor", "text", "id"}, col.Role) || col.Role == "value" && (col.Quantity != "" ||
		t.speaks(c, s)) {
		return false
	}
	if col.Role == "unsaid" || col.Role == "value" {
		for entry := range s.values {
			if !isDigitText(entry) {
				return false
			}
		}
	}
	return len(s.values) >= 2 && 2*len(s.values) <= s.filled
}

// labels are the columns that part rows into series when the columns sensors name
// the sensor; with none those that are called so.
func (t *table) labels(sensors []int) []int {
	var out []int
	if t.isLong(sensors) {
		out = t.withRole("channel")
	}
	if len(sensors) > 0 {
		return append(out, sensors...)
	}
	return append(out, t.withRole("sensor")...)
}

// isLong tells wide from long, the columns that name the sensor aside: a long file
// has one column of channels and one of values.
func (t *table) isLong(sensors []int) bool {
	values, channels := len(t.withRole("value")), len(t.withRole("channel"))
	for _, c := range sensors {
		if t.columns[c].Role == "value" {
			values--
		}
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
	before := map[string]string{}
	held := slices.DeleteFunc(t.withRole("value"), func(c int) bool { return slices.Contains(labels, c) })
	for at, r := range t.moments() {
		key, values := r.key(append(slices.Clone(t.times), labels...)), r.key(held)
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
