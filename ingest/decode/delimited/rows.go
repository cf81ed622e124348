package delimited

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"wane/ingest/decode/number"
	"wane/ingest/decode/stamp"
	"wane/ingest/reading"
	"wane/ingest/source"
)

// rows reads the data lines.
func (t *table) rows(ctx context.Context) error {
	for {
		if err := t.cleanRows(ctx); err != nil {
			return err
		}
		ln, open, err := t.lines.record(&t.cut)
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return err
		}
		if len(ln.text) == 0 && ln.terminated {
			continue
		}
		if ln.firstRaw > 0 && !open && t.swallows(ln) {
			ln, open = t.lines.firstOf(ln), true
		}
		switch {
		case t.isFooter(ln.text):
			if t.footer == 0 {
				t.footer = ln.no
			}
			continue
		case t.isComment(ln.text):
			continue
		case t.footer > 0:
			if err := t.behindFooter(ln); err != nil {
				return err
			}
			continue
		}
		if err := t.row(ln, open); err != nil {
			return err
		}
	}
}

// swallows tells whether a record of several lines is rather a stray quote that
// would take further records with it: the number of cells is wrong, or one of
// its lines begins with a time stamp of its own.
func (t *table) swallows(ln line) bool {
	if len(t.cut.cells) != t.need {
		return true
	}
	if len(t.times) > 1 || t.times[0] != 0 {
		return false
	}
	_, rest, _ := bytes.Cut(ln.text, []byte{'\n'})
	for l := range bytes.Lines(rest) {
		first, _, _ := bytes.Cut(l, []byte{t.cut.delim})
		if _, err := t.parser.Parse(trim(first)); err == nil {
			return true
		}
	}
	return false
}

func (t *table) isFooter(text []byte) bool {
	for _, p := range t.d.FooterPrefixes {
		if len(text) >= len(p) && string(text[:len(p)]) == p || len(text) > len(p) && text[0] == '"' &&
			string(text[1:1+len(p)]) == p {
			return true
		}
	}
	return false
}

// behindFooter passes over what follows the data, but for rows: these are rejected, so that no reading is gone without a
// word.
func (t *table) behindFooter(ln line) error {
	last := slices.Max(t.times)
	if cells := len(t.cut.cells); cells <= last || cells < 2 {
		return nil
	}
	if _, err := t.parser.Parse(t.joinTimes()); err != nil {
		return nil
	}
	return t.e.Reject(ln.no, "", "behind-footer", fmt.Sprintf("a row behind line %d, which ends the data by footerPrefixes: "+
		"take that prefix out if rows go on behind it, or cut the file there", t.footer), ln.text)
}

// row reads one line into readings and rejects.
func (t *table) row(ln line, open bool) error {
	text, cells := ln.text, len(t.cut.cells)
	switch {
	case ln.tooLong:
		return t.e.Reject(ln.no, "", "line-too-long", fmt.Sprintf("the line has more than %d bytes; is the file damaged?",
			maxLine), text)
	case bytes.IndexByte(text, 0) >= 0:
		return t.e.Reject(ln.no, "", "zero-bytes", "the line has zero bytes in it, as after a power cut; export "+
			"the time again", text)
	case open:
		return t.e.Reject(ln.no, "", "open-quote", "a quote is not closed, or text follows its end; set quoteChar: none "+
			"if quotes mean nothing here", text)
	case cells < t.need:
		if isBlank(text) {
			return nil
		}
		if !ln.terminated {
			return t.e.Reject(ln.no, "", "truncated-line", fmt.Sprintf("the last line ends after %d of %d cells: the file "+
				"was cut short; export it again", cells, t.need), text)
		}
		if t.d.ShortLines != "blank" || cells <= slices.Max(t.times) {
			if t.isTitle(text) {
				return nil
			}
			return t.e.Reject(ln.no, "", "short-line", fmt.Sprintf("%d cells where the header has %d; if the logger leaves "+
				"out empty cells, set shortLines: blank", cells, t.need), text)
		}
	case cells > t.need && t.asFirst(cells):
	case cells > t.need:
		for i := max(t.need, t.headCells); i < cells; i++ {
			if len(t.cut.cell(i)) > 0 {
				return t.e.Reject(ln.no, "", "long-line", fmt.Sprintf("%d cells where the header has %d; is a decimal comma "+
					"taken for the delimiter?", cells, t.need), text)
			}
		}
	}
	m, bad := t.stamp()
	if bad != nil {
		if skip, err := t.isHeaderAgain(ln); skip || err != nil {
			return err
		}
		return t.e.Reject(ln.no, t.label(t.times[0]), bad.Code, bad.Reason, t.joinTimes())
	}
	if !ln.terminated && t.looksCut() {
		return t.e.Reject(ln.no, "", "truncated-line", "the last line has no line end, and its last value lacks digits "+
			"that those before have: the file was cut short; export it again", text)
	}
	switch t.d.Layout {
	case source.Long:
		return t.longRow(ln, m)
	case source.Days:
		return t.dayRow(ln, m)
	}
	return t.wideRow(ln, m)
}

// asFirst tells whether a line has as many cells as the first one of a file whose
// header does not say how many there are. Where commas part the cells, more of
// them may be decimal signs, unless the line shows that none is.
func (t *table) asFirst(cells int) bool {
	if t.d.HeaderRowCount > 0 {
		return false
	}
	if t.firstWidth == 0 && (t.d.Format != source.Delimited || t.cut.delim != ',' || t.showsDecimals()) {
		t.firstWidth = cells
	}
	return t.firstWidth == cells
}

// showsDecimals tells whether a value of the line has decimals, or the first cell that is not read is none of digits: then
// the numbers are whole in their cells.
func (t *table) showsDecimals() bool {
	for _, v := range t.values {
		if bytes.IndexByte(t.cut.cell(v.at), t.notation.Decimal) > 0 {
			return true
		}
	}
	next := t.cut.cell(t.need)
	return len(bytes.Trim(next, "0123456789")) > 0
}

// stamp reads the line's time. Equal stamps, as in long files, are read once.
func (t *table) stamp() (stamp.Moment, *stamp.Error) {
	return t.readStamp(t.joinTimes())
}

// readStamp reads a stamp whose cells are joined.
func (t *table) readStamp(b []byte) (stamp.Moment, *stamp.Error) {
	if t.haveWas && string(b) == string(t.stampWas) {
		return t.moment, nil
	}
	m, err := t.parser.Parse(b)
	if err != nil {
		return m, err
	}
	if by := t.d.Time.ShiftBy(); by != 0 {
		m = t.parser.Later(m, by)
	}
	t.stampWas = append(t.stampWas[:0], b...)
	t.moment, t.haveWas = m, true
	return m, nil
}

// joinTimes gives the stamp's cells, joined by a blank.
func (t *table) joinTimes() []byte {
	if len(t.times) == 1 {
		return t.cut.cell(t.times[0])
	}
	t.joined = t.joined[:0]
	for i, at := range t.times {
		if i > 0 {
			t.joined = append(t.joined, ' ')
		}
		t.joined = append(t.joined, t.cut.cell(at)...)
	}
	return t.joined
}

// isHeaderAgain recognises what a restarted logger repeats: title lines and the
// header block. Where the repeated header has other columns they are bound anew.
func (t *table) isHeaderAgain(ln line) (bool, error) {
	if t.isTitle(ln.text) {
		return true, nil
	}
	at := t.times[0]
	if t.names == nil || at >= len(t.names) || oneLine(t.cut.cell(at)) != t.names[at] {
		return false, nil
	}
	names := make([]string, len(t.cut.cells))
	for i := range names {
		names[i] = oneLine(t.cut.cell(i))
	}
	for len(names) > 0 && names[len(names)-1] == "" {
		names = names[:len(names)-1]
	}
	if !slices.Equal(names, t.names) {
		t.names, t.nameAt = names, ln.no
		if err := t.bind(""); err != nil { // a constant sensor is known already
			return true, err
		}
		t.ends = ends{}
	}
	for range t.d.HeaderRowCount - t.d.NameRow {
		if _, _, err := t.lines.record(&t.cut); err != nil {
			if err == io.EOF {
				return true, nil
			}
			return true, err
		}
	}
	return true, nil
}

func (t *table) isTitle(text []byte) bool {
	for _, title := range t.titles {
		if bytes.Equal(title, text) {
			return true
		}
	}
	return false
}

// looksCut tells whether the last cell of the file's last line is a number that
// lacks its end, as far as those before tell: it has fewer decimals than any. Of whole numbers a fall to fewer
// digits alone
// says little (100, then 99): it must be less than half of the least, too, as a
// number is that lost a digit. A whole 0 is the end of nothing.
func (t *table) looksCut() bool {
	last := len(t.cut.cells) - 1
	if !slices.ContainsFunc(t.values, func(v value) bool { return v.at == last }) {
		return false
	}
	cell := t.cut.cell(last)
	v, st := t.notation.Parse(cell)
	switch w := &t.ends; {
	case st != number.OK || !w.any:
		return false
	case v.Digits < w.digits:
		return true
	case w.digits > 0 || v.Digits > 0 || v.Mantissa == 0:
		return false
	default:
		m := magnitude(v.Mantissa)
		return len(strconv.FormatInt(m, 10)) < len(strconv.FormatInt(w.least, 10)) && 2*m < w.least
	}
}

// ends is what looksCut knows of the last cells of the lines before.
type ends struct {
	any    bool
	digits uint8 // the fewest decimals
	least  int64 // the least mantissa without its sign: what counts where no decimals do
}

// noteEnd keeps what looksCut needs of a line's last cell.
func (t *table) noteEnd(v reading.Value) {
	m := magnitude(v.Mantissa)
	if w := &t.ends; !w.any {
		*w = ends{true, v.Digits, m}
	} else {
		w.digits, w.least = min(w.digits, v.Digits), min(w.least, m)
	}
}

func magnitude(m int64) int64 { return max(m, -m) }

// wideRow reads a value a column. A bad sensor or time condemns the line, a bad
// value only itself.
func (t *table) wideRow(ln line, m stamp.Moment) error {
	id, bad := t.lineSensor()
	if bad != nil {
		return t.e.Reject(ln.no, t.label(t.sensorAt), bad.Code, bad.Reason, ln.text)
	}
	at, bad := t.e.Place(id, m, t.zone)
	if bad != nil {
		return t.e.Reject(ln.no, t.label(t.times[0]), bad.Code, bad.Reason, t.joinTimes())
	}
	s := &t.known[id]
	if s.series == nil {
		s.series = make([]int32, len(t.values))
		for i := range s.series {
			s.series[i] = -1
		}
	}
	for i := range t.values {
		v := &t.values[i]
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
		if s.series[i] < 0 {
			name := v.sensor
			if name == "" {
				name = s.name
			}
			id, bad := t.e.Series(name, v.channel)
			if bad != nil {
				if err := t.e.Reject(ln.no, v.label, bad.Code, bad.Reason, t.cut.cell(v.at)); err != nil {
					return err
				}
				continue
			}
			s.series[i] = id
		}
		if err := t.e.Add(s.series[i], at, n, ln.no); err != nil {
			return err
		}
	}
	return nil
}

// longRow reads the one value of a line. A stamp is placed by its series, since
// long files may list one series after the other.
func (t *table) longRow(ln line, m stamp.Moment) error {
	v := &t.values[0]
	n, ok, err := t.value(ln, v)
	if err != nil || !ok {
		return err
	}
	sen, bad := t.lineSensor()
	if bad != nil {
		return t.e.Reject(ln.no, t.label(t.sensorAt), bad.Code, bad.Reason, ln.text)
	}
	id, bad := t.longSeries(sen)
	if bad != nil {
		return t.e.Reject(ln.no, t.label(max(t.channAt, 0)), bad.Code, bad.Reason, ln.text)
	}
	at, bad := t.e.Place(id, m, t.zone)
	if bad != nil {
		return t.e.Reject(ln.no, t.label(t.times[0]), bad.Code, bad.Reason, t.joinTimes())
	}
	return t.e.Add(id, at, n, ln.no)
}

// value reads one cell. ok is false where there is no reading: the cell is
// blank, or was rejected.
func (t *table) value(ln line, v *value) (reading.Value, bool, error) {
	cell := t.cut.cell(v.at)
	if len(cell) == 0 {
		t.e.Blank++
		return reading.Value{}, false, nil
	}
	n, st := t.notation.Parse(cell)
	if st != number.OK && len(t.d.CellUnits) > 0 {
		n, st = t.withoutUnit(cell, st)
	}
	if st != number.OK {
		if slices.Contains(v.texts, string(cell)) {
			t.e.Blank++
			return reading.Value{}, false, nil
		}
		return reading.Value{}, false, t.e.Reject(ln.no, v.label, "bad-number", t.whyNot(cell, st), cell)
	}
	if len(v.codes) > 0 && v.codes.Has(n) {
		t.e.Blank++
		return reading.Value{}, false, nil
	}
	if v.flagAt >= 0 {
		flag := ""
		if v.flagAt < len(t.cut.cells) {
			flag = string(t.cut.cell(v.flagAt))
		}
		if !slices.Contains(v.good, flag) {
			return reading.Value{}, false, t.e.Reject(ln.no, v.label, "flagged",
				fmt.Sprintf("the logger marked the value %q; add it to goodFlags if it is sound", short(flag)), cell)
		}
	}
	if v.at == len(t.cut.cells)-1 {
		t.noteEnd(n)
	}
	return n, true, nil
}

// withoutUnit reads a number behind which one of the described units stands.
func (t *table) withoutUnit(cell []byte, was number.Status) (reading.Value, number.Status) {
	for _, u := range t.d.CellUnits {
		if bare, ok := bytes.CutSuffix(cell, []byte(u)); ok {
			if n, st := t.notation.Parse(trim(bare)); st == number.OK {
				return n, st
			}
		}
	}
	return reading.Value{}, was
}

// whyNot finds words for a cell that is no number.
func (t *table) whyNot(cell []byte, st number.Status) string {
	if st == number.TooLarge {
		return "a number of 2^53 or more: no logger measures that"
	}
	if st == number.TooSmall {
		return "a number that is 0 at 9 decimals, and not 0 as printed; if the logger means 0 by it, add it to " +
			"missingValues or have 0 written"
	}
	other := byte(',')
	if t.notation.Decimal == ',' {
		other = '.'
	}
	if _, st := (number.Notation{Decimal: other}).Parse(cell); st == number.OK {
		return fmt.Sprintf("not a number with the decimal sign %q; if it is one with %q, set decimalChar",
			t.notation.Decimal, other)
	}
	switch strings.ToLower(string(cell)) {
	case "nan", "null", "na", "n/a", "-", "--", "---", "inf", "-inf", "err", "error", "ol", "#n/a", "nil", "none",
		"invalid", "no data":
		return "not a number; if it stands for no value, add it to missingValues"
	}
	return "not a number"
}

func short(s string) string {
	if len(s) > 60 {
		return strings.ToValidUTF8(s[:60], "") + "…"
	}
	return s
}
