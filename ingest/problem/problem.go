// Package problem is how wane says that something a person wrote cannot be
// used: where it stands, what is wrong, what to do. Problems are collected, so
// that one run lists them all.
package problem

import (
	"fmt"
	"sort"
	"strings"
)

// Problem is one finding in one hand-written file.
type Problem struct {
	File   string // path relative to the site folder, with slashes
	Line   int    // 1 = first; 0 where the file as a whole is meant
	Column int    // 1 = first; 0 where the line as a whole is meant
	What   string // what is wrong: lower case, no full stop
	Do     string // what would mend it
}

// String gives "file:line:column: what is wrong; what to do".
func (p Problem) String() string {
	var b strings.Builder
	b.WriteString(p.File)
	if p.Line > 0 {
		fmt.Fprintf(&b, ":%d", p.Line)
		if p.Column > 0 {
			fmt.Fprintf(&b, ":%d", p.Column)
		}
	}
	b.WriteString(": " + p.What)
	if p.Do != "" {
		b.WriteString("; " + p.Do)
	}
	return b.String()
}

// List is every problem found. It is an error when it is not empty.
type List []Problem

// Error gives a line a problem.
func (l List) Error() string {
	lines := make([]string, len(l))
	for i, p := range l {
		lines[i] = p.String()
	}
	return strings.Join(lines, "\n")
}

// Err is nil for an empty list, else the list.
func (l List) Err() error {
	if len(l) == 0 {
		return nil
	}
	return l
}

// Sort orders by file, line and column.
func (l List) Sort() {
	sort.SliceStable(l, func(i, j int) bool {
		a, b := l[i], l[j]
		if a.File != b.File {
			return a.File < b.File
		}
		if a.Line != b.Line {
			return a.Line < b.Line
		}
		return a.Column < b.Column
	})
}

// Few joins the first names, at most so many, and counts the rest.
func Few(names []string, most int) string {
	if len(names) <= most {
		return strings.Join(names, ", ")
	}
	return strings.Join(names[:most], ", ") + fmt.Sprintf(" and %d more", len(names)-most)
}

// Nearest gives the candidate that a mistyped word most likely meant, "" where
// none is near: at most a third of its letters changed.
func Nearest(word string, candidates []string) string {
	best, dist := "", len(word)/3+1
	for _, c := range candidates {
		if d := editDistance(strings.ToLower(word), strings.ToLower(c)); d < dist {
			best, dist = c, d
		}
	}
	return best
}

// editDistance is the Levenshtein distance of two short words, in bytes.
func editDistance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := 1; i <= len(a); i++ {
		diag := row[0]
		row[0] = i
		for j := 1; j <= len(b); j++ {
			cost := diag
			if a[i-1] != b[j-1] {
				cost = 1 + min(diag, row[j], row[j-1])
			}
			diag, row[j] = row[j], cost
		}
	}
	return row[len(b)]
}
