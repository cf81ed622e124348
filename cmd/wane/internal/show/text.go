package show

import (
	"io"
	"strings"
	"unicode/utf8"
)

// column is a column as it is laid out.
type column struct {
	cells   []string // the heading first
	width   int
	numbers bool // set to the right
}

const gap = 2 // between columns

// text lays the table out. On a terminal of a width no row is broken by it: words go on
// below in their own column, and columns that do not fit beside each other follow in a
// table below, the first repeated.
func (t *Table) text(w io.Writer, width int) error {
	cols := t.laid()
	if len(cols) == 0 {
		return nil
	}
	var b strings.Builder
	for from := 1; ; {
		list := []column{cols[0]}
		left := width - cols[0].width
		to := from
		for to < len(cols) && (width == 0 || to == from || left >= gap+min(cols[to].width, wordy)) {
			left -= gap + min(cols[to].width, wordy)
			to++
		}
		list = append(list, cols[from:to]...)
		if width > 0 {
			squeeze(list, width)
		}
		write(&b, list)
		if from = to; from >= len(cols) {
			break
		}
		b.WriteString("\n")
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// wordy is the width below which no column is squeezed.
const wordy = 30

// squeeze narrows the widest columns until all stand side by side, as far as it goes.
func squeeze(list []column, width int) {
	for {
		sum, widest := gap*(len(list)-1), 0
		for i := range list {
			sum += list[i].width
			if list[i].width > list[widest].width {
				widest = i
			}
		}
		if sum <= width || list[widest].width <= wordy && len(list) > 2 || list[widest].width <= 12 {
			return
		}
		list[widest].width = max(list[widest].width-(sum-width), 12)
		if len(list) > 2 {
			list[widest].width = max(list[widest].width, wordy)
		}
	}
}

func (t *Table) laid() (out []column) {
	for i, c := range t.Columns {
		if c.Wide {
			continue
		}
		col := column{cells: []string{OneLine(c.Name)}, numbers: true}
		some := false
		for _, row := range t.Rows {
			switch row[i].(type) {
			case nil:
			case int, int64, float64:
				some = true
			default:
				col.numbers = false
			}
			col.cells = append(col.cells, OneLine(t.cell(i, row[i])))
		}
		col.numbers = col.numbers && some
		for _, s := range col.cells {
			col.width = max(col.width, utf8.RuneCountInString(s))
		}
		out = append(out, col)
	}
	return out
}

// write writes columns side by side; a cell that is wider than its column goes on
// below.
func write(b *strings.Builder, cols []column) {
	for r := range cols[0].cells {
		parts, high := make([][]string, len(cols)), 1
		for i, c := range cols {
			parts[i] = cut(c.cells[r], c.width)
			high = max(high, len(parts[i]))
		}
		for k := range high {
			line := ""
			for i, c := range cols {
				s := ""
				if k < len(parts[i]) {
					s = parts[i][k]
				}
				room := strings.Repeat(" ", c.width-utf8.RuneCountInString(s))
				if c.numbers {
					s, room = room+s, ""
				}
				if i > 0 {
					line += strings.Repeat(" ", gap)
				}
				line += s + room
			}
			b.WriteString(strings.TrimRight(line, " ") + "\n")
		}
	}
}

// cut breaks a cell's words to a width; a word that is longer is broken with a mark.
func cut(s string, width int) (out []string) {
	if utf8.RuneCountInString(s) <= width {
		return []string{s}
	}
	for _, line := range broken(s, width) {
		r := []rune(strings.TrimSpace(line))
		for len(r) > width {
			out = append(out, string(r[:width-1])+"\u00ac") // goes on below
			r = r[width-1:]
		}
		out = append(out, string(r))
	}
	return out
}
