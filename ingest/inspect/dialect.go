package inspect

import (
	"fmt"
	"regexp"
	"strings"

	"wane/ingest/decode/emit"
	"wane/ingest/source"
)

// record is one line of the file cut into cells.
type record struct {
	line  int // 1 = first
	text  string
	cells []string
}

// cutRecords cuts lines into records. A quoted cell may span lines; a quote that
// is never closed within a few lines is text.
func cutRecords(lines []textLine, delim byte) []record {
	out := make([]record, 0, len(lines))
	for i := 0; i < len(lines); i++ {
		start := i
		whole := lines[i].text
		cells, ok := cutCells(whole, delim)
		for k := 1; !ok && k < 20 && start+k < len(lines) && lines[start+k].no == lines[start].no+k; k++ {
			whole += lines[start+k].text
			if cells, ok = cutCells(whole, delim); ok {
				i = start + k
			}
		}
		if !ok {
			whole = lines[start].text
			cells = strings.Split(strings.TrimRight(whole, "\r\n"), string(delim))
		}
		for c := range cells {
			cells[c] = strings.TrimSpace(cells[c])
		}
		out = append(out, record{line: lines[start].no, text: strings.TrimRight(whole, "\r\n"), cells: cells})
	}
	return out
}

// cutCells cuts one record; ok is false where a quote is open at its end.
func cutCells(text string, delim byte) (cells []string, ok bool) {
	text = strings.TrimRight(text, "\r\n")
	for {
		lead := strings.TrimLeft(text, " ")
		if !strings.HasPrefix(lead, `"`) {
			i := strings.IndexByte(text, delim)
			if i < 0 {
				return append(cells, text), true
			}
			cells = append(cells, text[:i])
			text = text[i+1:]
			continue
		}
		var b strings.Builder
		rest := lead[1:]
		for {
			i := strings.IndexByte(rest, '"')
			if i < 0 {
				return nil, false
			}
			b.WriteString(rest[:i])
			rest = rest[i+1:]
			if !strings.HasPrefix(rest, `"`) {
				break
			}
			b.WriteByte('"')
			rest = rest[1:]
		}
		cells = append(cells, b.String())
		i := strings.IndexByte(rest, delim)
		if i < 0 {
			return cells, strings.TrimSpace(rest) == ""
		}
		if strings.TrimSpace(rest[:i]) != "" {
			return nil, false
		}
		text = rest[i+1:]
	}
}

// otherSigns are thousands marks that are no decimal sign; otherMarks is any of them.
const (
	otherSigns = " '\u00a0\u202f\u2019"
	otherMarks = "[" + otherSigns + "]"
)

var (
	pointNumber = regexp.MustCompile(`^([+-] *)?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?$|^\d+(\.\d*)?-$|^\(\d+(\.\d*)?\)$`)
	commaNumber = regexp.MustCompile(`^([+-] *)?(\d+,?\d*|,\d+)([eE][+-]?\d+)?$|^\d+(,\d*)?-$|^\(\d+(,\d*)?\)$`)
	groupPoint  = regexp.MustCompile(`^[+-]?(\d{1,3}(,\d{3})+\.\d+|[1-9]\d{0,2}(,\d{3}){2,})$`)  // 12,001.25 or 1,012,001
	groupComma  = regexp.MustCompile(`^[+-]?(\d{1,3}(\.\d{3})+,\d+|[1-9]\d{0,2}(\.\d{3}){2,})$`) // 12.001,25 or 1.012.001
	groupOther  = regexp.MustCompile(`^[+-]?(\d{1,3}(` + otherMarks + `\d{3})+[.,]\d+|[1-9]\d{0,2}(` + otherMarks +
		`\d{3})+)$`) // 12 001,25 or 12 001
	otherMark  = regexp.MustCompile(otherMarks)
	threeOnly  = regexp.MustCompile(`^[+-]?[1-9]\d{0,2},\d{3}$`)  // 12,001: either
	threePoint = regexp.MustCompile(`^[+-]?[1-9]\d{0,2}\.\d{3}$`) // 12.001: thousands only where commas are decimal signs
	stampLike  = regexp.MustCompile(`^\d{1,4}[-/.]([A-Za-z]{3}|\d{1,2})[-/.]\d{1,4}([ T].*)?$|` +
		`^\d{1,2}:\d{2}(:\d{2})?([ .].*)?$`)
)

// makesSense tells whether a cell is empty, a number or a time. Neither is without a digit, which is far sooner seen.
func makesSense(c string) bool {
	return c == "" || strings.ContainsAny(c, "0123456789") && (pointNumber.MatchString(c) || commaNumber.MatchString(c) ||
		groupPoint.MatchString(c) || groupComma.MatchString(c) || groupOther.MatchString(c) || stampLike.MatchString(c) ||
		unitCell.MatchString(c) || len(c) < 50 && len(shapesOf(c, false)) > 0)
}

// dialect picks the delimiter with which the lines are most alike and their
// cells make most sense, then the decimal sign.
func (t *table) dialect() error {
	best := 0.0
	for _, delim := range t.delims() {
		recs := cutRecords(t.lines, delim)
		width, share := usual(recs)
		if width < 2 {
			continue
		}
		sense, cells := 0, 0
		for _, r := range recs {
			if len(r.cells) != width {
				continue
			}
			for _, c := range r.cells {
				cells++
				if strings.ContainsAny(c, ";\t|") { // another delimiter within a number or a stamp makes it none
					continue
				}
				if makesSense(c) {
					sense++
				}
			}
		}
		// A comma that parts numbers is worth less than another delimiter that
		// explains the same lines: it may be the decimal sign.
		score := share * (0.2 + float64(sense)/float64(max(cells, 1)))
		if delim == ',' {
			score *= 0.95
		}
		if score > best {
			best, t.delim, t.recs, t.width = score, delim, recs, width
		}
	}
	if best == 0 {
		return &emit.FileError{File: t.name, What: "no delimiter parts its lines into columns",
			Do: "is this a logger's table? Write the description by hand if it is"}
	}
	if t.width > source.MaxColumns {
		return &emit.FileError{File: t.name, What: fmt.Sprintf("its lines have %d columns", t.width),
			Do: "is this a logger's table?"}
	}
	t.fit = best
	_, share := usual(t.recs)
	t.report.add(Finding{"delimiter", delimName(t.delim), sureIf(share > 0.9),
		fmt.Sprintf("%.0f %% of the lines have %d cells", 100*share, t.width)})
	t.findCellUnits()
	t.decimals()
	return nil
}

// delims are the delimiters that can be.
func (t *table) delims() []byte {
	if t.as != nil {
		return []byte{','}
	}
	return []byte{';', '\t', ',', '|', '^'}
}

// usual gives the most frequent number of cells (of equal ones that which comes
// first, as headers do; of more than one cell, 0 where there is none) and the share of lines with it, blank lines
// aside.
func usual(recs []record) (width int, share float64) {
	count := map[int]int{}
	total := 0
	for _, r := range recs {
		if strings.TrimSpace(r.text) != "" {
			count[len(r.cells)]++
			total++
		}
	}
	for _, r := range recs {
		if w := len(r.cells); w > 1 && count[w] > count[width] {
			width = w
		}
	}
	return width, float64(count[width]) / float64(max(total, 1))
}

// marksSeen counts how numbers are written.
type marksSeen struct {
	point, comma int            // with that decimal sign
	pointThree   int            // 12.001: thousands only where commas are decimal signs
	ambiguous    int            // 12,001: either
	thousands    map[string]int // by mark
	example      map[string]string
}

// note keeps the first cell of a kind.
func (m *marksSeen) note(kind, cell string) {
	if m.example[kind] == "" {
		m.example[kind] = cell
	}
}

// parts counts a mark as one between thousands, as the example of a kind shows.
func (m *marksSeen) parts(mark string, n int, kind string) {
	m.thousands[mark] += n
	m.note("group", m.example[kind])
}

// decimals tells the decimal sign and the thousands mark.
func (t *table) decimals() {
	m := marksSeen{thousands: map[string]int{}, example: map[string]string{}}
	for _, r := range t.recs {
		for _, c := range r.cells {
			m.cell(t.withoutUnit(c))
		}
	}
	t.pointsBeforeThree(&m)
	t.report.add(t.decimalSign(&m))
	most := 0
	for _, k := range []string{",", ".", " ", "'", "\u00a0", "\u202f", "\u2019"} {
		if m.thousands[k] > most && k != string(t.decimal) {
			most, t.group = m.thousands[k], k
		}
	}
	if t.group != "" {
		t.report.add(Finding{"thousands mark", markName(t.group), sureIf(most > m.ambiguous),
			"numbers such as " + m.example["group"]})
	}
}

// cell counts what a cell shows.
func (m *marksSeen) cell(c string) {
	switch {
	case strings.ContainsAny(c, otherSigns) && groupOther.MatchString(c):
		m.thousands[otherMark.FindString(c)]++
		m.note("group", c)
		if strings.Contains(c, ",") {
			m.comma++
		} else if strings.Contains(c, ".") {
			m.point++
		}
	case !strings.ContainsAny(c, ".,"):
	case stampLike.MatchString(c) && !pointNumber.MatchString(c):
	case groupPoint.MatchString(c):
		m.point++
		m.thousands[","]++
		m.note(".", c)
		m.note("group", c)
	case groupComma.MatchString(c):
		m.comma++
		m.thousands["."]++
		m.note(",", c)
		m.note("group", c)
	case threeOnly.MatchString(c):
		m.ambiguous++
		m.note("either", c)
	case threePoint.MatchString(c):
		m.pointThree++
		m.note(".", c)
		m.note("three", c)
	case pointNumber.MatchString(c):
		m.point++
		m.note(".", c)
	case commaNumber.MatchString(c):
		m.comma++
		m.note(",", c)
	}
}

// pointsBeforeThree settles what points before three digits are, by what else is
// written or by asking.
func (t *table) pointsBeforeThree(m *marksSeen) {
	if m.pointThree == 0 {
		return
	}
	if m.point > 0 || m.comma == 0 && (t.delim == ',' || !t.sameColumn(threePoint)) {
		m.point += m.pointThree
		return
	}
	if m.comma > 0 {
		m.parts(".", m.pointThree, "three")
		return
	}
	switch t.answers.Decimal {
	case ",":
		m.comma = m.pointThree
		m.parts(".", m.pointThree, "three")
		m.note(",", m.example["three"])
		return
	case "":
		t.ask("decimalChar", "whole numbers stand beside numbers such as "+m.example["three"]+
			": is the point the decimal sign (\".\") or a thousands mark (\",\" is the decimal sign)?", `decimalChar: "."`,
			`decimalChar: "," with groupChar: "."`)
	}
	m.point = m.pointThree
}

// decimalSign sets the decimal sign, and says why.
func (t *table) decimalSign(m *marksSeen) Finding {
	t.decimal = '.'
	f := Finding{What: "decimal sign", Value: ".", Sure: Certain}
	switch either := m.example["either"]; {
	case m.comma > m.point:
		t.decimal, f.Value, f.Evidence = ',', ",", "numbers such as "+m.example[","]
		f.Sure = sureIf(m.point == 0)
	case m.point > 0:
		f.Evidence = "numbers such as " + m.example["."]
		f.Sure = sureIf(m.comma == 0)
		if m.ambiguous > 0 {
			m.parts(",", m.ambiguous, "either")
		}
	case m.ambiguous > 0 && t.delim != ',' && t.answers.Decimal != "":
		f.Evidence = "as answered"
		if t.decimal = t.answers.Decimal[0]; t.decimal == '.' {
			m.parts(",", m.ambiguous, "either")
		}
		f.Value = t.answers.Decimal
	case m.ambiguous > 0 && t.delim != ',' && t.threeDecimals() != "":
		t.decimal, f.Value, f.Sure, f.Evidence = ',', ",", Likely, t.threeDecimals()
	case m.ambiguous > 0 && t.delim != ',':
		t.decimalOpen = true
		f.Value, f.Sure, f.Evidence = "", Asked, fmt.Sprintf("%q has a comma before three digits: decimal sign or "+
			"thousands mark", either)
		t.ask("decimalChar", "is the comma in "+either+" the decimal sign (\",\") or a thousands mark?", `decimalChar: ","`,
			`groupChar: ","`)
	case m.ambiguous > 0:
		m.parts(",", m.ambiguous, "either")
		f.Evidence = "commas stand before three digits only, inside quotes"
	default:
		f.Evidence = "no number has decimals"
	}
	return f
}

// dottedDate is a date as it is written where the comma is the decimal sign; so is
// a day before a month.
var (
	dottedDate = regexp.MustCompile(`^\d{1,2}\.\d{1,2}\.\d{2,4}(\s|$)`)
	dayFirst   = regexp.MustCompile(`^(1[3-9]|2\d|3[01])[/-]\d{1,2}[/-]\d{2,4}(\s|$)`)
)

// threeDecimals says why commas before three digits are decimal signs, in a table
// in which each number has one; "" where nothing tells.
func (t *table) threeDecimals() string {
	plain, dated, tens, all := 0, "", 0, 0
	for _, r := range t.recs {
		for _, c := range r.cells {
			switch c = t.withoutUnit(c); {
			case threeOnly.MatchString(c):
				all++
				if strings.HasSuffix(c, "0") {
					tens++
				}
			case isDigitText(c) && len(c) < 7 && !strings.HasPrefix(c, "20"):
				plain++
			case dottedDate.MatchString(c), dayFirst.MatchString(c):
				dated = c
			}
		}
	}
	switch {
	case plain > 0 && t.sameColumn(threeOnly):
		return "" // whole numbers among them: marks of thousands look so
	case tens == all && all > 3:
		return "each number has a comma before three digits of which the last is 0: decimals of a fixed number"
	case dated != "":
		return fmt.Sprintf("each number has a comma before three digits, and dates such as %s go with decimal commas", dated)
	}
	return ""
}

// sameColumn tells whether a column has numbers with a mark before three digits
// beside whole numbers without.
func (t *table) sameColumn(marked *regexp.Regexp) bool {
	for c := range t.width {
		with, without := 0, 0
		for _, r := range t.recs {
			if c >= len(r.cells) {
				continue
			}
			if cell := t.withoutUnit(r.cells[c]); marked.MatchString(cell) {
				with++
			} else if isDigitText(cell) {
				without++
			}
		}
		if with > 0 && without > 1 { // one may be the column's name
			return true
		}
	}
	return false
}

// markName shows blanks, which no table shows.
func markName(mark string) string {
	switch mark {
	case " ":
		return "blank"
	case "\u00a0":
		return "no-break blank"
	case "\u202f":
		return "narrow no-break blank"
	}
	return mark
}

func sureIf(ok bool) Sure {
	if ok {
		return Certain
	}
	return Likely
}

func delimName(c byte) string {
	if c == '\t' {
		return "tab"
	}
	return string(c)
}
