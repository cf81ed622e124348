package inspect

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"wane/ingest/source"
)

// findHeader finds where the data begins, which lines above it are the header
// block, and which of these hold names and units.
func (t *table) findHeader() {
	if t.as != nil && t.as.refs != nil { // its columns have names by themselves, in the first line of the text made of it
		t.first, t.block, t.nameRow = min(1, len(t.recs)), []int{0}, 1
		return
	}
	t.first = len(t.recs)
	for i, r := range t.recs {
		if len(r.cells) >= t.width-1 && t.stamped[i] {
			t.first = i
			break
		}
	}
	t.findComments()
	for _, r := range t.recs[:t.first] {
		if m := saidMissing.FindStringSubmatch(r.text); m != nil {
			t.saidCodes = append(t.saidCodes, m[1])
			t.report.add(Finding{"missing code", m[1], Likely, fmt.Sprintf("line %d tells it: %s", r.line, clip(r.text))})
		}
	}
	t.doubtLost()
	for i := t.first - 1; i >= 0 && len(t.block) < 9; i-- {
		r := t.recs[i]
		if t.isComment(r) || len(t.block) == 0 && i > t.first-3 && allBlank(r.cells) { // a blank line may part the names from the data
			continue
		}
		if n := len(r.cells); n != t.width && !(n == t.width+1 && r.cells[n-1] == "") && !(n < t.width && t.unnamedTail(n)) ||
			allBlank(r.cells) {
			break
		}
		t.block = append([]int{i}, t.block...)
	}
	t.placeNames()
	t.nameBlock()
	t.findFooter()
}

// placeNames takes a head that has one name for a stamp of two cells, as blanks part it, and the units below.
func (t *table) placeNames() {
	if len(t.block) > 0 || t.as == nil || len(t.times) != 2 || t.times[1] != t.times[0]+1 {
		return
	}
	for _, r := range t.recs[max(0, t.first-2):t.first] {
		switch n := len(r.cells); {
		case t.placed == nil && n == t.width-1 && nameLike(r.cells) && t.nameScore(r.cells) > 0 && isTimeWord(r.cells[t.times[0]]) &&
			!isTimeWord(r.cells[t.times[1]]):
			t.placed = slices.Insert(slices.Clone(r.cells), t.times[0], r.cells[t.times[0]])
			t.report.add(Finding{"header", r.text, Likely, "it has one name for the date and the time of day"})
		case t.placed != nil && n == t.width-2 && t.times[0] == 0:
			t.placedUnit = append([]string{"", ""}, r.cells...)
		}
	}
}

// saidMissing is a title line that tells which number stands for no value.
var saidMissing = regexp.MustCompile(`(?i)\b(?:missing|no[ _-]?data|no[ _-]?value|invalid|fill[ _-]?value|fehlwert|fehlend)` +
	`[a-z ]*[:;=,\t]\s*"?(-?\d+(?:\.\d+)?)"?\s*$`)

// doubtLost refuses where lines above the first stamp look like data: to take them
// for titles would lose them.
func (t *table) doubtLost() {
	if t.first >= len(t.recs) {
		return
	}
	like := func(r record) (n int) {
		for c, cell := range r.cells {
			if !t.isTimeColumn(c) && pointNumber.MatchString(strings.Replace(cell, ",", ".", 1)) {
				n++
			}
		}
		return n
	}
	usual := like(t.recs[t.first])
	var lost []Row
	n := 0
	for i := range t.first {
		r := t.recs[i]
		s, _ := stampOf(r.cells, t.times)
		if len(r.cells) == t.width && usual > 0 && 2*like(r) > usual && !t.isComment(r) &&
			strings.ContainsAny(s, "0123456789") {
			n++
			lost = append(lost, Row{Line: r.line, Time: s})
		}
	}
	if n > 1 {
		t.report.doubt("header", fmt.Sprintf("%d lines above the first stamp that reads look like data: their stamps are "+
			"written in another way", n), lost...)
	}
}

// unnamedTail tells whether the columns from n on are blank in all data lines.
func (t *table) unnamedTail(n int) bool {
	for _, r := range t.recs[t.first:] {
		for c := n; c < len(r.cells); c++ {
			if r.cells[c] != "" {
				return false
			}
		}
	}
	return n > 1
}

// nameBlock picks the line of names, the line of units, and drops title lines
// that happen to have as many cells as the table.
func (t *table) nameBlock() {
	best := -1.0
	for k, i := range t.block {
		if s := t.nameScore(t.recs[i].cells); s >= best {
			best, t.nameRow = s, k+1
		}
	}
	if t.nameRow == 0 {
		t.report.add(Finding{"header", "none", Likely, "the first line has a time stamp already; columns are named by " +
			"position"})
		return
	}
	for k := t.nameRow; k < len(t.block); k++ {
		known, like, filled := 0, 0, 0
		for c, cell := range t.recs[t.block[k]].cells {
			if cell == "" || cell == "-" || t.isTimeColumn(c) {
				continue
			}
			filled++
			if _, ok := source.CanonicalUnit(strings.Trim(cell, "()[]")); ok {
				known++
			} else if unitLike.MatchString(cell) {
				like++
			}
		}
		if known > 0 && 2*(known+like) >= filled || known > 1 {
			t.unitRow = k + 1
			break
		}
	}
	names := t.block[t.nameRow-1]
	t.block, t.unitRow, t.nameRow = t.block[t.nameRow-1:], t.unitRow-t.nameRow+1, 1
	if t.unitRow < 1 {
		t.unitRow = 0
	}
	evidence := fmt.Sprintf("line %d holds the names", t.recs[names].line)
	if t.unitRow > 0 {
		evidence += fmt.Sprintf(", line %d the units", t.recs[t.block[t.unitRow-1]].line)
	}
	t.report.add(Finding{"header", fmt.Sprintf("%d title lines, %d header lines", t.titles(), len(t.block)),
		sureIf(best > 0), evidence})
}

// titles counts the lines of the file before the header block, or before the
// data where there is none.
func (t *table) titles() int {
	at := t.first
	if len(t.block) > 0 {
		at = t.block[0]
	}
	if at >= len(t.recs) {
		return 0
	}
	n := t.recs[at].line - 1
	if t.comment != "" { // comment lines are passed over by themselves
		all := true
		for i := range at {
			all = all && (t.isComment(t.recs[i]) || allBlank(t.recs[i].cells))
		}
		if all {
			return 0
		}
	}
	return n
}

// nameScore says how much a line looks like column names.
func (t *table) nameScore(cells []string) float64 {
	score, seen := 0.0, map[string]bool{}
	for c, cell := range cells {
		_, unit := source.CanonicalUnit(strings.Trim(cell, "()[]"))
		switch {
		case cell == "" || seen[cell]:
			score -= 0.2
		case pointNumber.MatchString(cell):
			score--
		case unit && !t.isTimeColumn(c):
			score -= 0.5
		case quantityOf(cell).id != "" || isTimeWord(cell) || roleOf(cell) != "":
			score += 1
		default:
			score += 0.3
		}
		seen[cell] = true
	}
	return score / float64(max(len(cells), 1))
}

func (t *table) isTimeColumn(c int) bool {
	return slices.Contains(t.times, c)
}

// findComments tells whether lines that begin with # are remarks, or those that are one and the same word.
func (t *table) findComments() {
	for _, p := range append([]string{"#", "//", "%"}, t.filler()...) {
		n := 0
		for _, r := range t.recs {
			if strings.HasPrefix(r.text, p) {
				if len(r.cells) == t.width && t.first > 0 && strings.HasPrefix(t.recs[t.first-1].text, p) {
					n = 0 // a header may begin like that
					break
				}
				n++
			}
		}
		if n > 0 {
			t.comment = p
			t.report.add(Finding{"comments", p, Likely, fmt.Sprintf("%d lines begin with it", n)})
			return
		}
	}
}

// filler is a word without digits that stands alone on every few lines, such as the mark of a page's line break.
func (t *table) filler() []string {
	count, most := map[string]int{}, ""
	for _, r := range t.recs[t.first:] {
		if text := strings.TrimSpace(r.text); text != "" && len(r.cells) == 1 && !strings.ContainsAny(text, "0123456789") {
			if count[text]++; count[text] > count[most] {
				most = text
			}
		}
	}
	if count[most] < 3 || 10*count[most] < len(t.recs)-t.first {
		return nil
	}
	return []string{most}
}

func (t *table) isComment(r record) bool {
	return t.comment != "" && strings.HasPrefix(r.text, t.comment)
}

// findFooter looks at what stands behind the last stamp.
func (t *table) findFooter() {
	if t.cut {
		return
	}
	last := len(t.recs) - 1
	for last > t.first && !t.stamped[last] {
		last--
	}
	for i := last + 1; i < len(t.recs); i++ {
		r := t.recs[i]
		if allBlank(r.cells) || t.isComment(r) {
			continue
		}
		word := strings.FieldsFunc(r.cells[0], func(c rune) bool { return c == ' ' || c == ':' || c == '=' })
		if len(word) > 0 && slices.ContainsFunc(t.recs[t.first:last], func(o record) bool { return strings.HasPrefix(o.text, word[0]) }) {
			continue // rows go on behind such lines
		}
		if len(word) == 0 || isDigit(word[0][0]) || strings.HasPrefix(r.text, t.recs[t.first].text[:1]) &&
			isDigit(r.text[0]) || len(word[0]) < 3 {
			return // a damaged line is a reject, no footer
		}
		t.footer = word[0]
		t.report.add(Finding{"footer", t.footer, Likely,
			fmt.Sprintf("line %d, behind the last stamp, begins with it", r.line)})
		return
	}
}

func allBlank(cells []string) bool {
	for _, c := range cells {
		if c != "" {
			return false
		}
	}
	return true
}
