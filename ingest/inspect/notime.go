package inspect

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"wane/ingest/decode/emit"
	"wane/ingest/decode/number"
)

// noTime refuses a table without stamps, and says which of its columns tells a time in a way that no format reads, and
// what to write in its place.
func (t *table) noTime(lines []record) error {
	columns := make([][]string, min(t.width, lookWide))
	for c := range columns {
		for _, r := range lines {
			if cell := r.cells[c]; cell != "" && (len(columns[c]) > 0 || isDigit(cell[0])) { // names stand above
				columns[c] = append(columns[c], cell)
			}
		}
	}
	if month, day := t.partAt('M'), t.partAt('d'); month >= 0 && day >= 0 && t.partAt('y') < 0 {
		return &emit.FileError{File: t.name, Line: lines[0].line,
			What: fmt.Sprintf("columns %d and %d hold the month and the day, and no column says which year", month+1, day+1),
			Do:   "put the year before them in a column of its own, and write time: {columns: ['Year', 'Month', 'Day', 'Hour'], format: 'yyyy M d H'}"}
	}
	for _, odd := range []func([]string) (what, do string){t.elapsed, isoWeeks, julianDays, dayless, yearless} {
		for c, cells := range columns {
			if len(cells) < 3 {
				continue
			}
			if what, do := odd(cells); what != "" {
				return &emit.FileError{File: t.name, Line: lines[0].line, What: fmt.Sprintf("column %d %s", c+1, what), Do: do}
			}
		}
	}
	return &emit.FileError{File: t.name, What: "no column reads as a time stamp",
		Do: "write the description by hand; sources/ says how a time format is written"}
}

var weekStamp = regexp.MustCompile(`^\d{4}-?W\d{2}(-?[1-7])?\b`)

func isoWeeks(cells []string) (what, do string) {
	if !all(weekStamp, cells) {
		return "", ""
	}
	return fmt.Sprintf("holds weeks of ISO 8601 (%s), which no time format reads", cells[0]),
		"write the date of the day in their place, and time: {columns: ['Date'], format: 'yyyy-MM-dd HH:mm'}"
}

// all tells whether each cell looks so.
func all(look *regexp.Regexp, cells []string) bool {
	return !slices.ContainsFunc(cells, func(cell string) bool { return !look.MatchString(cell) })
}

// numbers reads cells as numbers that never fall, nil where they are none.
func numbers(cells []string) []float64 {
	var out []float64
	for _, cell := range cells {
		v, st := number.Notation{Decimal: '.'}.Parse([]byte(cell))
		if x := v.Float(); st != number.OK || len(out) > 0 && x < out[len(out)-1] {
			return nil
		}
		out = append(out, v.Float())
	}
	return out
}

// julianDay is that of 1899-12-30, day 0 of a spreadsheet (computed from JD 2440587.5 for 1970-01-01, which is day 25569).
const julianDay = 2440587.5 - 25569

func julianDays(cells []string) (what, do string) {
	n := numbers(cells)
	if n == nil || n[0] < julianDay+20000 || n[len(n)-1] > julianDay+60000 {
		return "", ""
	}
	return fmt.Sprintf("counts Julian days (%s)", cells[0]), fmt.Sprintf("take %.1f from each, and write "+
		"time: {columns: ['Day'], format: serial-days}", julianDay)
}

// partAt is the first column that is named for a part of a stamp, -1 for none.
func (t *table) partAt(part byte) int {
	for c := range t.width {
		if t.partNamed(c, part) {
			return c
		}
	}
	return -1
}

func dayless(cells []string) (what, do string) {
	if !all(clockOnly, cells) {
		return "", ""
	}
	return fmt.Sprintf("holds times of day (%s), and no column says of which day", cells[0]),
		"put the date before it in a column of its own, and write time: {columns: ['Date', 'Time'], format: 'yyyy-MM-dd HH:mm:ss'}"
}

func yearless(cells []string) (what, do string) {
	n := numbers(cells)
	if n == nil || n[0] < 1 || n[len(n)-1] > 367 || n[0] != float64(int(n[0])) || n[len(n)-1]-n[0] > 366 || len(cells[0]) > 3 ||
		n[0] == n[len(n)-1] {
		return "", ""
	}
	return fmt.Sprintf("may count the days of a year (%s), and no column says which year", cells[0]),
		"put the year before it in a column of its own, and write time: {columns: ['Year', 'Day'], format: 'yyyy DDD'}"
}

var sinceStart = regexp.MustCompile(`^(\d{1,5}):(\d{2})(?::(\d{2}))?(\.\d+)?$`)

// elapsed tells of cells that go on from nought, evenly, as time since a start does; the start stands above, if anywhere.
func (t *table) elapsed(cells []string) (what, do string) {
	var at []float64
	for _, cell := range cells {
		if m := sinceStart.FindStringSubmatch(cell); m != nil {
			h, _ := strconv.Atoi(m[1])
			min, _ := strconv.Atoi(m[2])
			s, _ := strconv.Atoi("0" + m[3])
			at = append(at, float64(h*3600+min*60+s))
		}
	}
	if len(at) != len(cells) {
		at = numbers(cells)
	}
	even := 0
	for i := 2; i < len(at); i++ {
		if at[i]-at[i-1] == at[1]-at[0] {
			even++
		}
	}
	if at == nil || at[0] != 0 || at[1] <= 0 || 10*even < 8*(len(at)-2) {
		return "", ""
	}
	what = fmt.Sprintf("counts the time since a start (%s, %s, %s, …)", cells[0], cells[1], cells[2])
	start := "and no line says when that was"
	for _, r := range t.recs[:min(len(t.recs), 40)] {
		if found := fullStamp.FindString(r.text); found != "" {
			start = fmt.Sprintf("which was %s by line %d", strings.TrimSpace(found), r.line)
			break
		}
	}
	return what + ", " + start, "add the start to each, in a column named Time, and write " +
		"time: {columns: ['Time'], format: 'yyyy-MM-dd HH:mm:ss'}; the start differs from file to file, so no description holds it"
}

// fullStamp is a date with a time of day, in digits.
var fullStamp = regexp.MustCompile(`\d{1,4}[-./]\d{1,2}[-./]\d{1,4}[ T,;]+\d{1,2}:\d{2}(:\d{2})?`)
