// Package aligned reads text whose cells are parted by runs of blanks, or stand
// at fixed places of the line, as rows of cells that are read as any table.
package aligned

import (
	"bufio"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"wane/ingest/decode/emit"
	"wane/ingest/decode/tabled"
)

const maxLine = 1 << 20 // bytes

// Rows is a file. It is a tabled.Rows: the k-th row is the k-th line.
type Rows struct {
	br     *bufio.Reader
	starts []int
	e      *emit.Emitter
	no     int
}

// New begins to read UTF-8 text. starts are the places at which cells begin, 1
// for the first character, in order; none where runs of blanks part them. A line
// that is too long goes to e as a reject.
func New(r io.Reader, starts []int, e *emit.Emitter) *Rows {
	return &Rows{br: bufio.NewReaderSize(r, 64<<10), starts: starts, e: e}
}

// Next gives the next line's cells.
func (r *Rows) Next() ([]string, error) {
	text, long, err := tabled.ReadLine(r.br, maxLine)
	if err != nil {
		return nil, err
	}
	r.no++
	if long {
		return nil, r.e.Reject(r.no, "", "line-too-long",
			"the line has more than a million bytes; is the file damaged?", text)
	}
	line := string(text)
	if at := across(line, r.starts); at > 0 {
		return nil, r.e.Reject(r.no, "", "across-columns",
			fmt.Sprintf("text runs across character %d, at which a cell begins; mend columnStarts, which are for columns "+
				"with blanks between them", at), text)
	}
	return Cut(line, r.starts), nil
}

// across gives a place at which a cell begins in the middle of a word, 0 for
// none: a number that is wider than usual must not be cut in two.
func across(line string, starts []int) int {
	char, k, before := 1, 0, ' '
	for _, c := range line {
		for k < len(starts) && starts[k] < char {
			k++
		}
		if k < len(starts) && starts[k] == char && before != ' ' && c != ' ' {
			return char
		}
		before = c
		char++
	}
	return 0
}

// Cut cuts one line; nil where it is blank.
func Cut(line string, starts []int) []string {
	if strings.TrimSpace(line) == "" {
		return nil
	}
	if len(starts) > 0 {
		return atPlaces(line, starts)
	}
	var cells []string
	rest := strings.TrimLeft(line, " \t")
	for rest != "" {
		cell, after, quoted := unquoted(rest)
		if !quoted {
			end := strings.IndexAny(rest, " \t")
			if end < 0 {
				end = len(rest)
			}
			cell, after = rest[:end], rest[end:]
		}
		cells = append(cells, cell)
		rest = strings.TrimLeft(after, " \t")
	}
	return cells
}

// unquoted takes a quoted cell off the beginning of a line.
func unquoted(s string) (cell, rest string, ok bool) {
	if s[0] != '"' {
		return "", "", false
	}
	end := strings.IndexByte(s[1:], '"')
	if end < 0 || end+2 < len(s) && s[end+2] != ' ' && s[end+2] != '\t' {
		return "", "", false
	}
	return s[1 : end+1], s[end+2:], true
}

func atPlaces(line string, starts []int) []string {
	cells := make([]string, len(starts))
	at := make([]int, 0, len(starts)+1) // in bytes
	char := 1
	for i := range line {
		for len(at) < len(starts) && starts[len(at)] == char {
			at = append(at, i)
		}
		char++
	}
	for len(at) <= len(starts) {
		at = append(at, len(line))
	}
	for k := range starts {
		cells[k] = strings.TrimSpace(line[at[k]:at[k+1]])
	}
	return cells
}

// Starts finds the places at which cells begin in lines of fixed places: behind
// each column of characters that is blank in all of them. Fewer than two where
// there are none.
func Starts(lines []string) []int {
	var used []bool
	for _, line := range lines {
		char := 0
		for _, r := range line {
			if char == len(used) {
				used = append(used, false)
			}
			used[char] = used[char] || r != ' '
			char++
		}
		if !utf8.ValidString(line) || strings.ContainsRune(line, '\t') {
			return nil
		}
	}
	var out []int
	for i, u := range used {
		if u && (i == 0 || !used[i-1]) {
			out = append(out, i+1)
		}
	}
	return out
}
