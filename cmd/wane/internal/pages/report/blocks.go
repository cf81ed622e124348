package report

import (
	"html/template"
	"strings"
	"unicode/utf8"

	"wane/cmd/wane/internal/pages/chart"
)

// Table is a table with its caption. The first column names the row.
type Table struct {
	Caption string
	Head    []Column
	Rows    []Row
	Empty   string // what stands there where there are no rows
	Plain   bool   // wide rather than stacked on a narrow page, and lean: the numbers of drawings
	Wordy   bool   // cells hold sentences: one below the other on a narrow page
	Fold    bool   // behind its caption, to unfold: long, and not what the page is opened for
}

// mostOpen is how many rows of a table that the page is not opened for stand open.
const mostOpen = 12

// Column is a column's heading.
type Column struct {
	Name    string
	Numbers bool // set to the right
}

// Row is a row; a Heading makes it the heading of those below.
type Row struct {
	Heading string
	Cells   []Cell
}

// Small says whether the table stays one on a narrow page too: its words fit there
// side by side.
func (t Table) Small() bool {
	letters := 0
	for i, h := range t.Head {
		most := longestWord(h.Name)
		for _, r := range t.Rows {
			if r.Heading != "" {
				continue
			}
			c := r.Cells[i]
			if c.Note != "" || c.Drawing != "" {
				return false
			}
			most = max(most, utf8.RuneCountInString(c.Text), utf8.RuneCountInString(c.Interval))
		}
		letters += most + 2
	}
	return letters <= narrowLetters
}

// narrowLetters is how many letters stand side by side on a narrow page.
const narrowLetters = 40

// longestWord counts the letters of the longest of some words.
func longestWord(words string) (most int) {
	for _, w := range strings.Fields(words) {
		most = max(most, utf8.RuneCountInString(w))
	}
	return most
}

// Cell is what stands in one place: words, with what may stand by them.
type Cell struct {
	Sign     string // a sign before the words, not read out
	Text     string
	Interval string // on a line of its own
	Note     string // small, on a line of its own
	Link     string // address, relative to the page
	Drawing  template.HTML
}

// cell makes a cell of words.
func cell(text string) Cell { return Cell{Text: text} }

// of makes a cell of a value with its interval.
func of(v Value) Cell { return Cell{Text: v.Centre, Interval: v.Interval} }

// said is the cell's words with its interval, as a sentence holds them.
func (c Cell) said() string { return Value{c.Text, c.Interval}.String() }

// Figure is a drawing with its caption, its key, and its numbers as a table.
type Figure struct {
	ID      string
	Caption string
	Drawing template.HTML
	Keys    []FigureKey
	Data    Table
}

// FigureKey is one entry of a figure's key.
type FigureKey struct {
	Sample template.HTML
	Words  string
}

// figure draws a chart. The markup comes from package chart, which escapes the
// words it is given.
func figure(id, caption string, c chart.Chart, data Table) *Figure {
	f := &Figure{ID: id, Caption: caption, Drawing: template.HTML(c.SVG(id)), Data: data}
	for _, k := range c.Keys() {
		f.Keys = append(f.Keys, FigureKey{template.HTML(k.Sample), k.Words})
	}
	return f
}

// Fact is one line of a list of facts: what, how much, and what it means.
type Fact struct {
	Name  string
	Value Value
	Note  string
}

// columns makes headings; a name that begins with "#" is one of numbers.
func columns(names ...string) []Column {
	out := make([]Column, len(names))
	for i, n := range names {
		out[i] = Column{Name: n}
		if strings.HasPrefix(n, "#") {
			out[i] = Column{Name: n[1:], Numbers: true}
		}
	}
	return out
}

// piece is a piece of words, or a command among them.
type piece struct {
	Words string
	Code  bool
}

// coded takes commands between backquotes out of words. A lone backquote is
// one.
func coded(s string) []piece {
	parts := strings.Split(s, "`")
	if len(parts)%2 == 0 {
		return []piece{{s, false}}
	}
	var out []piece
	for i, p := range parts {
		if p != "" {
			out = append(out, piece{p, i%2 == 1})
		}
	}
	return out
}
