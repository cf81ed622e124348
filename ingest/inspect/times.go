package inspect

import (
	"iter"
	"regexp"
	"slices"
	"strings"

	"wane/ingest/decode/stamp"
)

const (
	needed     = 0.6 // the share of stamps below the header that must read: footers and damage are the rest
	lookLines  = 400 // lines that a stamp is looked for in
	lookWide   = 60  // columns
	fewColumns = 4   // columns that may be the date, where others must be tried beside each
)

// clockText is a cell that may be a time of day beside a date.
var clockText = regexp.MustCompile(`^\d{1,2}[:.h]\d{2}|^\d{1,2}:\d{1,2}:\d{1,2}$|^\d{4} ?(UTC|GMT|Z)$|^\d{1,4}(\.0+)?$|^\d{1,2}\s*-\s*\d{1,2}$|` +
	`\d\s*[aApP]\.?\s?[mM]|^\d{6}$`)

// findTime finds the columns and the pattern of the stamp.
func (t *table) findTime() error {
	lines := t.dataLines()
	var all []candidate
	for c := range min(t.width, lookWide) {
		if k, ok := t.rate(lines, c); ok {
			all = append(all, k)
		}
	}
	dates := 0
	for _, date := range slices.Clone(all) {
		if date.clock || dates == fewColumns {
			continue
		}
		dates++
		for c := range min(t.width, lookWide) {
			if c != date.cols[0] && t.mayBeClock(lines, c) {
				// a bare number that tells no more moments than the date alone is no clock
				if k, ok := t.rate(lines, date.cols[0], c); ok && k.clock && (k.distinct > date.distinct ||
					!t.bare(lines, c)) {
					all = append(all, k)
				}
			}
		}
	}
	all = append(all, t.withHalves(lines, all)...)
	all = append(all, t.dateInParts(lines, all)...)
	best, ok := bestOf(all)
	if !ok {
		return t.noTime(lines)
	}
	best = t.withZone(lines, best)
	t.times = best.cols
	t.choose(best)
	t.markStamps()
	return nil
}

// withHalves adds a column of AM and PM to stamps whose clock has no half of its
// own.
func (t *table) withHalves(lines []record, all []candidate) (out []candidate) {
	for c := range min(t.width, lookWide) {
		if !nearlyAll(lines, c, func(cell string) bool { return isHalf(token{'w', cell}, token{}) > 0 }) {
			continue
		}
		for _, k := range all {
			if k.clock && !k.digits && !slices.Contains(k.cols, c) {
				if with, ok := t.rate(lines, append(slices.Clone(k.cols), c)...); ok && with.distinct > k.distinct {
					out = append(out, with)
				}
			}
		}
	}
	return out
}

// nearlyAll tells whether nine in ten of a column's cells are such, blank ones aside.
func nearlyAll(lines []record, c int, such func(string) bool) bool {
	n, of := 0, 0
	for _, r := range lines {
		if cell := r.cells[c]; cell != "" {
			of++
			if such(cell) {
				n++
			}
		}
	}
	return of > 0 && 10*n >= 9*of
}

// withZone adds a column of offsets or of zones' abbreviations to a stamp that says neither: it
// is what the stamps of these lines are in, whatever clock is set elsewhere.
func (t *table) withZone(lines []record, k candidate) candidate {
	if p, ok := compiled(k.shapes[0].pattern); !ok || p.format.OwnMoment() || !k.clock {
		return k
	}
	zones := t.zoneColumns(lines)
	for _, c := range zones {
		if slices.Contains(k.cols, c) || t.zonesDiffer(lines, zones) {
			continue
		}
		if with, ok := t.rate(lines, append(slices.Clone(k.cols), c)...); ok && 100*with.n >= 97*k.n {
			if p, ok := compiled(with.shapes[0].pattern); ok && p.format.OwnMoment() {
				return with
			}
		}
	}
	return k
}

// zoneColumns are those that hold offsets or zones' abbreviations.
func (t *table) zoneColumns(lines []record) (out []int) {
	for c := range min(t.width, lookWide) {
		isZone := func(cell string) bool { return stamp.IsZoneWord(cell) || offsetCell.MatchString(cell) }
		if nearlyAll(lines, c, isZone) {
			out = append(out, c)
		}
	}
	return out
}

// zonesDiffer tells whether columns of zones say different ones on one line, such as those of winter and of summer: then none
// is what the stamps are in.
func (t *table) zonesDiffer(lines []record, zones []int) bool {
	for _, r := range lines {
		was, have := int64(0), false
		for _, c := range zones {
			off, ok := zoneSays(r.cells[c])
			if ok && have && off != was {
				return true
			}
			was, have = off, have || ok
		}
	}
	return false
}

// zoneSays gives the seconds of an offset or of a zone's abbreviation.
func zoneSays(cell string) (int64, bool) {
	if off, ok := stamp.ParseOffset(cell); ok {
		return int64(off), true
	}
	return stamp.ZoneOffset(cell)
}

// offsetCell is an offset that cannot be a number.
var offsetCell = regexp.MustCompile(`^(UTC|GMT)?[+-]\d{2}:?\d{2}$`)

// dataLines are lines as wide as most that hold something like a number.
func (t *table) dataLines() []record {
	var lines []record
	for _, r := range t.recs {
		if len(r.cells) == t.width {
			lines = append(lines, r)
		}
	}
	for len(lines) > 1 && !slices.ContainsFunc(lines[0].cells,
		func(c string) bool { return c != "" && (isDigit(c[0]) || c[0] == '-') }) {
		lines = lines[1:]
	}
	return spread(lines, lookLines)
}

// spread takes some lines of the beginning, the middle and the end, each as they
// follow each other.
func spread(lines []record, most int) []record {
	if len(lines) <= most {
		return lines
	}
	third := most / 3
	middle := (len(lines) - third) / 2
	return slices.Concat(lines[:third], lines[middle:middle+third], lines[len(lines)-third:])
}

// bare tells whether a column holds plain numbers, or ones with decimals under another name than that of a time.
func (t *table) bare(lines []record, c int) bool {
	cell := lines[len(lines)-1].cells[c]
	if isDigitText(cell) || !bareNumber.MatchString(cell) {
		return isDigitText(cell)
	}
	for r := range t.heads() {
		if r.names(c) && !bareNumber.MatchString(r.cells[c]) {
			return !t.namedAsTime(c)
		}
	}
	return false
}

// mayBeClock tells whether a column may hold a time of day.
func (t *table) mayBeClock(lines []record, c int) bool {
	lines = lines[max(0, len(lines)-40):]
	numbers := 0
	for _, r := range lines {
		numbers += map[bool]int{true: 1}[isDigitText(r.cells[c])]
	}
	// Small numbers are many things: only a name makes a clock of them.
	return nearlyAll(lines, c, clockText.MatchString) && (2*numbers < len(lines) || t.namedAsTime(c))
}

// namedAsTime tells whether a column's name, wherever it stands above, is a word
// for time.
func (t *table) namedAsTime(c int) bool {
	for r := range t.heads() {
		if r.names(c) && isTimeWord(r.cells[c]) {
			return true
		}
	}
	return false
}

// names tells whether a line may name a column: no number does, nor a sentence.
func (r record) names(c int) bool {
	cell := r.cell(c)
	return cell != "" && len(cell) < 40 && !isDigitText(cell)
}

// heads are the first lines that are wide enough to hold names of columns, which titles and legends above them are not.
func (t *table) heads() iter.Seq[record] {
	return func(yield func(record) bool) {
		n := 0
		for _, r := range t.recs {
			if 2*len(r.cells) <= t.width {
				continue
			}
			if n++; n > 40 || !yield(r) {
				return
			}
		}
	}
}

func isDigitText(s string) bool { return s != "" && strings.Trim(s, "0123456789") == "" }

// stampsOf joins the stamp's cells of each line.
func (t *table) stampsOf(lines []record, cols []int) []string {
	var out []string
	for _, r := range lines {
		if s, ok := stampOf(r.cells, cols); ok {
			out = append(out, s)
		}
	}
	return out
}

// stampOf joins the stamp's cells of a line as the decoder does.
func stampOf(cells []string, cols []int) (string, bool) {
	if len(cols) == 1 {
		if cols[0] >= len(cells) {
			return "", false
		}
		return cells[cols[0]], cells[cols[0]] != ""
	}
	parts := make([]string, len(cols))
	for i, c := range cols {
		if c >= len(cells) || cells[c] == "" {
			return "", false
		}
		parts[i] = cells[c]
	}
	return strings.Join(parts, " "), true
}

func isDigit(c byte) bool { return c >= '0' && c <= '9' }

// markStamps notes which records have a stamp that reads.
func (t *table) markStamps() {
	var ps []pattern
	for _, text := range append([]string{t.format}, t.byOrder...) {
		if p, ok := compiled(text); text != "" && ok {
			ps = append(ps, p)
		}
	}
	t.stamped = make([]bool, len(t.recs))
	for i, r := range t.recs {
		s, ok := stampOf(r.cells, t.times)
		for _, p := range ps {
			if ok && !t.stamped[i] {
				_, t.stamped[i] = p.fits(s)
			}
		}
	}
}
