package delimited

import (
	"bytes"
	"context"

	"wane/ingest/decode/stamp"
	"wane/ingest/reading"
	"wane/ingest/source"
)

// A clean line is one in which everything is as expected: as many cells as the
// header has, a stamp that reads, names met before, every value a number or
// declared missing. Nearly all lines of nearly all files are clean, so these are
// read in one pass (scan) and handed on (take). scan changes nothing that can be
// seen: at the first surprise it gives up, and the line is read by rows.go, which
// has the words for what is wrong. Both ways give the same for every line that
// scan accepts; FuzzCleanIsGeneral holds them against each other.

// role is what a column is for.
type role uint8

const (
	unused role = iota
	stampCell
	sensorCell
	channelCell
	flagCell
	valueCell
)

// column is what clean needs to know of a column.
type column struct {
	role role
	k    int32 // stampCell: which of table.times; flagCell: which of clean.flags; valueCell: which of table.values
}

// clean holds how clean lines are read, and what the line in hand came to.
type clean struct {
	off   bool // tests want the general way for every line
	taken int  // lines read as clean

	columns []column // one a cell; nil where the file must be read the general way
	flagOf  []int    // by value: index in flags, -1 for none
	last    int      // the value in the last column, -1 for none

	stamps   [][]byte // the stamp's cells
	rawStamp []byte   // the only stamp cell as printed, of the last line that had another than the one before
	stamp    []byte   // the stamp's content
	moment   stamp.Moment

	// Lines name their sensors in turns: the names that followed the last line's
	// the time before are compared first.
	sen  int32 // sensor of the line
	ch   int32 // long: channel of the line
	pair int32 // long: index of both in table.pairs

	flags   [][]byte
	cells   int
	values  []reading.Value // by index in table.values
	state   []state
	missing int // of the values
}

// state is what became of a cell that should hold a value.
type state uint8

const (
	isValue state = iota
	isMissing
)

// plan works out the columns of clean lines, once the columns are bound.
func (t *table) plan() {
	c := &t.clean
	*c = clean{last: -1, off: c.off, taken: c.taken}
	if c.off || t.d.Layout == source.Days || len(t.nameAts) > 0 || t.d.Time.ShiftBy() != 0 || t.cut.delim == '+' ||
		t.cut.delim == '-' || t.cut.delim < ' ' && t.cut.delim != '\t' ||
		t.cut.quote != 0 && (t.cut.quote <= ' ' || t.cut.quote >= '+' && t.cut.quote <= '9') {
		return // a character with two meanings
	}
	columns := make([]column, t.need)
	twice := false
	put := func(at int, r role, k int) {
		if at < 0 {
			return
		}
		twice = twice || columns[at].role != unused
		columns[at] = column{r, int32(k)}
	}
	for k, at := range t.times {
		put(at, stampCell, k)
	}
	put(t.sensorAt, sensorCell, 0)
	if t.d.Layout == source.Long {
		put(t.channAt, channelCell, 0)
	}
	for k := range t.values {
		put(t.values[k].at, valueCell, k)
		if t.values[k].at == t.need-1 {
			c.last = k
		}
	}
	c.flagOf = make([]int, len(t.values))
	for k := range t.values {
		at := t.values[k].flagAt
		c.flagOf[k] = -1
		if at < 0 {
			continue
		}
		if columns[at].role != flagCell { // else it is the flag of several values
			put(at, flagCell, len(c.flags))
			c.flags = append(c.flags, nil)
		}
		c.flagOf[k] = int(columns[at].k)
	}
	if twice {
		return
	}
	c.columns = columns
	c.stamps = make([][]byte, len(t.times))
	c.values, c.state = make([]reading.Value, len(t.values)), make([]state, len(t.values))
}

// cleanRows reads lines up to the first that is not clean or not yet whole in
// the buffer.
func (t *table) cleanRows(ctx context.Context) error {
	l := t.lines
	for t.footer == 0 {
		if t.seen&1023 == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		t.seen++
		i := bytes.IndexByte(l.buf[l.pos:l.end], '\n')
		if i < 0 || i > maxLine {
			return nil
		}
		text := trimCR(l.buf[l.pos : l.pos+i])
		if t.isFooter(text) || t.isComment(text) || !t.scan(text) {
			return nil
		}
		l.pos += i + 1
		l.no++
		t.clean.taken++
		if err := t.take(l.no); err != nil {
			return err
		}
	}
	return nil
}

// scan reads a line into t.clean; ok is false where it is not clean.
func (t *table) scan(text []byte) (ok bool) {
	c := &t.clean
	if c.columns == nil || len(text) == 0 || t.cut.delim == ' ' && t.cut.quote != 0 &&
		bytes.IndexByte(text, t.cut.quote) >= 0 {
		return false // blanks before a quote belong to its cell, even where they part cells
	}
	c.missing = 0
	delim, quote := t.cut.delim, t.cut.quote
	i := -1 // the delimiter before the cell in hand
	for k := range c.columns {
		if i >= len(text) {
			return false // too few cells
		}
		i++
		col := c.columns[k]
		switch col.role {
		case valueCell:
			if i, ok = t.scanValue(text, i, int(col.k)); !ok {
				return false
			}
		case sensorCell:
			if i, ok = t.scanSensor(text, i); !ok {
				return false
			}
		case channelCell:
			if i, ok = t.scanChannel(text, i); !ok {
				return false
			}
		case stampCell:
			if len(c.stamps) == 1 {
				if i, ok = t.scanStamp(text, i); !ok {
					return false
				}
				continue
			}
			if c.stamps[col.k], i, ok = cellAt(text, i, delim, quote); !ok {
				return false
			}
		case flagCell:
			if c.flags[col.k], i, ok = cellAt(text, i, delim, quote); !ok {
				return false
			}
		default:
			if _, i, ok = cellAt(text, i, delim, quote); !ok {
				return false
			}
		}
	}
	c.cells = len(c.columns)
	for ; i < len(text); i++ { // more cells, if empty, may follow
		if text[i] != delim {
			return false
		}
		c.cells++
	}
	return t.settle()
}

// scanValue reads the cell at i as value k and gives where it ends; ok is false
// where it is neither a number nor declared missing.
func (t *table) scanValue(text []byte, i, k int) (end int, ok bool) {
	delim, j, n := t.cut.delim, i, 0
	neg := false
	if j < len(text) && (text[j] == '-' || text[j] == '+') {
		neg = text[j] == '-'
		j++
	}
	var m int64
	from := j
	for ; j < len(text) && text[j]-'0' <= 9; j++ {
		m = m*10 + int64(text[j]-'0')
	}
	digits := j - from
	if j < len(text) && text[j] != delim && text[j] == t.notation.Decimal {
		j++
		from = j
		for ; j < len(text) && text[j]-'0' <= 9; j++ {
			m = m*10 + int64(text[j]-'0')
		}
		n = j - from
		digits += n
	}
	// At most 15 digits are below 2^53 for certain.
	if uint(digits-1) >= 15 || n > reading.MaxDigits || j < len(text) && text[j] != delim {
		return t.oddValue(text, i, k)
	}
	if neg {
		m = -m
	}
	c, v := &t.clean, reading.Value{Mantissa: m, Digits: uint8(n)}
	c.values[k], c.state[k] = v, isValue
	if codes := t.values[k].codes; len(codes) > 0 && codes.Has(v) {
		c.state[k] = isMissing
		c.missing++
	}
	return j, true
}

// settle looks up what only the whole line tells.
func (t *table) settle() (ok bool) {
	c := &t.clean
	for k, f := range c.flagOf {
		if f >= 0 && c.state[k] == isValue && !among(t.values[k].good, trimmed(c.flags[f])) {
			return false
		}
	}
	if len(c.stamps) > 1 && !t.joinStamp() {
		return false
	}
	if t.d.Layout == source.Long {
		return c.missing > 0 || t.settlePair()
	}
	s := &t.known[c.sen]
	if s.full {
		return true
	}
	if s.series == nil {
		return false
	}
	s.full = true
	for k, id := range s.series {
		if id < 0 {
			s.full = false
			if c.state[k] == isValue {
				return false // the first value of its series
			}
		}
	}
	return true
}

// take hands on the line just scanned.
func (t *table) take(no int) error {
	c := &t.clean
	if t.d.Layout == source.Long {
		return t.takeLong(no)
	}
	at, bad := t.e.Place(c.sen, c.moment, t.zone)
	if bad != nil {
		return t.e.Reject(no, t.label(t.times[0]), bad.Code, bad.Reason, c.stamp)
	}
	if k := c.last; k >= 0 && c.state[k] == isValue && c.cells == t.need {
		t.noteEnd(c.values[k])
	}
	series := t.known[c.sen].series
	if c.missing == 0 {
		return t.e.AddRow(series, at, c.values, no)
	}
	t.e.Blank += int64(c.missing)
	for k, st := range c.state {
		if st != isValue {
			continue
		}
		if err := t.e.Add(series[k], at, c.values[k], no); err != nil {
			return err
		}
	}
	return nil
}

// takeLong hands on the one value of a line.
func (t *table) takeLong(no int) error {
	c := &t.clean
	if c.missing > 0 {
		t.e.Blank++
		return nil
	}
	if c.last >= 0 && c.cells == t.need {
		t.noteEnd(c.values[0])
	}
	id := t.pairList[c.pair].series
	at, bad := t.e.Place(id, c.moment, t.zone)
	if bad != nil {
		return t.e.Reject(no, t.label(t.times[0]), bad.Code, bad.Reason, c.stamp)
	}
	return t.e.Add(id, at, c.values[0], no)
}
