package yearly

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"sort"
	"strings"

	"wane/cmd/wane/internal/pages/chart"
	"wane/cmd/wane/internal/pages/report"
	"wane/transform/calendar"
	"wane/transform/estimate"
	"wane/transform/yearly"
)

// cell is what stands in one place of a table.
type cell struct {
	Text     string
	Interval string
	Small    string // n, and the like
	Marks    []int  // of the notes below the table
	Link     string
}

// table is a table of the page.
type table struct {
	ID      string
	Caption string
	Head    []heading
	Rows    []tableRow
	Notes   []string // what the marks stand for, from 1
	Methods []string // by which the numbers were made
	Empty   string
	CSV     string // file of the same numbers
	More    int    // rows that stand in the file only
	Open    bool   // never folded
	Fold    bool   // behind its caption, to unfold
}

// Small is report.Table.Small.
func (t *table) Small() bool {
	words := report.Table{}
	for _, h := range t.Head {
		words.Head = append(words.Head, report.Column{Name: h.Name})
	}
	for _, r := range t.Rows {
		row := report.Row{Heading: r.Heading}
		for _, c := range r.Cells {
			row.Cells = append(row.Cells, report.Cell{Text: c.Text, Interval: c.Interval, Note: c.Small})
		}
		words.Rows = append(words.Rows, row)
	}
	return words.Small()
}

type heading struct {
	Name    string
	Numbers bool
}

type tableRow struct {
	Heading string
	Cells   []cell
}

// newTable makes a table; a heading that begins with "#" is one of numbers.
func newTable(csv, caption, empty string, heads ...string) *table {
	t := &table{ID: "t-" + strings.ReplaceAll(csv, "_", "-"), Caption: caption, Empty: empty}
	if csv != "" {
		t.CSV = "tables/" + csv + ".csv"
	}
	for _, h := range heads {
		t.Head = append(t.Head, heading{strings.TrimPrefix(h, "#"), strings.HasPrefix(h, "#")})
	}
	return t
}

func (t *table) add(cells ...cell)   { t.Rows = append(t.Rows, tableRow{Cells: cells}) }
func (t *table) heading(text string) { t.Rows = append(t.Rows, tableRow{Heading: text}) }

// notes never begin twice with the same words.
func (t *table) mark(note string) int {
	for i, n := range t.Notes {
		if n == note {
			return i + 1
		}
	}
	t.Notes = append(t.Notes, note)
	return len(t.Notes)
}

// fromValues is what the number in the cell says already.
var fromValues = regexp.MustCompile(` from \d+ values?: (\d+) are needed`)

// value makes a cell of a statistic: centre, interval, number, and marks for
// its warnings.
func (t *table) value(v yearly.Value, write func(float64) string) cell {
	c := written(v.Estimate, write)
	for _, w := range v.Warnings {
		if strings.HasPrefix(w, "at the greatest age seen") { // with an age and a share a row: they are in the file
			w = "fewer than asked for had failed, or come down so far, by the greatest age seen"
		}
		w = fromValues.ReplaceAllString(w, ": $1 values are needed")
		if m := t.mark(sentence(w)); !slices.Contains(c.Marks, m) {
			c.Marks = append(c.Marks, m)
		}
	}
	sort.Ints(c.Marks)
	if c.Text == "not known" && len(v.Warnings) == 0 && v.Method == "" {
		return cell{Text: "\u2013"}
	}
	if v.N > 0 {
		c.Small = "n = " + chart.Number(float64(v.N), 0)
	}
	if v.Method != "" && c.Text != "not known" {
		m := v.Method
		if v.Level > 0 {
			m += fmt.Sprintf(", %.0f %%", 100*v.Level)
		}
		for _, have := range t.Methods {
			if have == m {
				return c
			}
		}
		t.Methods = append(t.Methods, m)
	}
	return c
}

// written writes an estimate; where only a bound holds, that is what it says.
func written(e estimate.Estimate, write func(float64) string) cell {
	known, lo, hi := estimate.Finite(e.Centre), estimate.Finite(e.Lo), estimate.Finite(e.Hi)
	switch {
	case known && lo && hi:
		return cell{Text: write(e.Centre), Interval: write(e.Lo) + " to " + write(e.Hi)}
	case known && lo:
		return cell{Text: write(e.Centre), Interval: "from " + write(e.Lo) + ", open above"}
	case known && hi:
		return cell{Text: write(e.Centre), Interval: "up to " + write(e.Hi) + ", open below"}
	case known:
		return cell{Text: write(e.Centre), Interval: "interval open"}
	case lo && hi:
		return cell{Text: write(e.Lo) + " to " + write(e.Hi)}
	case lo && e.Lo > 0: // more than nothing is not worth saying
		return cell{Text: "more than " + write(e.Lo)}
	case hi:
		return cell{Text: "less than " + write(e.Hi)}
	}
	return cell{Text: "not known"}
}

func text(s string) cell { return cell{Text: s} }

func whole(n int) cell { return cell{Text: chart.Number(float64(n), 0)} }

func num(v float64, places int) cell { return cell{Text: chart.Number(v, places)} }

// ways of writing.
func inHours(x float64) string {
	if math.Abs(x) >= 1000 {
		x = math.Round(x/10) * 10
	}
	return chart.Number(x, 0)
}
func inPercent(x float64) string { return chart.Number(100*x, 1) + "\u00a0%" }
func places(n int) func(float64) string {
	return func(x float64) string { return chart.Number(x, n) }
}
func asDay(x float64) string {
	return day(int32(math.Round(min(max(x, -700000), 2900000))))
}

// day writes a day as people do, on one line.
func day(d int32) string { return calendar.Date(d).Format("2\u00a0Jan\u00a02006") }

// sentence gives words a capital and a full stop.
func sentence(s string) string {
	if s == "" {
		return ""
	}
	r := []rune(s)
	s = strings.ToUpper(string(r[:1])) + string(r[1:])
	if !strings.HasSuffix(s, ".") {
		s += "."
	}
	return s
}

var typeWords = map[string]string{
	"hps-de": "HPS, double-ended", "hps-se": "HPS, single-ended", "cmh": "ceramic metal halide", "mh": "metal halide",
	"fluorescent": "fluorescent", "led": "LED",
}

func lampType(t string) string {
	if w := typeWords[t]; w != "" {
		return w
	}
	return t
}
