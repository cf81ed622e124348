// Package problem is how wane says that something a person wrote cannot be
// used: where it stands, what is wrong, what to do. Problems are collected, so
// that one run lists them all.
package problem

import (
	"fmt"
	"regexp"
	"slices"
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

// shown is how many problems of one kind are printed whole before the rest is
// named by its lines.
const shown = 3

// Error gives a line a problem. Of many in one file that say the same of other
// names or numbers the first are printed, and the lines on which the others stand.
func (l List) Error() string {
	like := map[string][]int{} // of one kind, in l
	for i, p := range l {
		like[p.kind()] = append(like[p.kind()], i)
	}
	var lines []string
	for i, p := range l {
		same := like[p.kind()]
		switch at := slices.Index(same[:min(len(same), shown+1)], i); {
		case len(same) <= shown+1 || at >= 0 && at < shown:
			lines = append(lines, p.String())
		case at == shown:
			lines = append(lines, l.rest(same[shown:]))
		}
	}
	return strings.Join(lines, "\n")
}

// rest names the places of problems that are like those above.
func (l List) rest(same []int) string {
	var b strings.Builder
	p := l[same[0]]
	fmt.Fprintf(&b, "%s: %d more such lines (%s): ", p.File, len(same), p.What)
	for k := 0; k < len(same); k++ {
		if k > 0 {
			b.WriteString(", ")
		}
		from := l[same[k]].Line
		fmt.Fprintf(&b, "%d", from)
		to := from
		for k+1 < len(same) && l[same[k+1]].Line <= to+1 {
			k++
			to = l[same[k]].Line
		}
		if to > from {
			fmt.Fprintf(&b, "-%d", to)
		}
	}
	return b.String()
}

var nameOrNumber = regexp.MustCompile(`"[^"]*"|[0-9]+`)

// kind is the same for problems that differ in names and numbers only. One of a
// whole file is like no other.
func (p Problem) kind() string {
	if p.Line == 0 {
		return p.String()
	}
	return p.File + "\x00" + nameOrNumber.ReplaceAllString(p.What, "")
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
