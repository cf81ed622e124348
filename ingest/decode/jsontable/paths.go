// Package jsontable reads JSON documents as tables: which of their values are
// rows, and which value of a row is which column, is said by JSONPath queries
// (RFC 9535) on the document.
//
//  1. A file is one document, or several one behind the other, as JSON lines are
//     (docs.go).
//  2. Spec.Rows selects the rows of a document. A column whose path begins like
//     that of the rows is asked of the row; in any other the part that both have
//     in common stands for the place where the row lies: with rows
//     $.devices[*].data[*] the column $.devices[*].id is the id of the device that
//     holds the row (paths.go).
//  3. In place of rows, Spec.Lists selects objects of lists of one length: their
//     k-th items are a row.
//
// Memory is bounded: a document, or an element of a list that is the whole
// document, has at most MaxDoc bytes and MaxDepth levels.
package jsontable

import (
	"fmt"
	"strings"

	"github.com/theory/jsonpath"
	"github.com/theory/jsonpath/spec"
)

// Spec says where the rows of a document are. One of Rows and Lists is set.
type Spec struct {
	Rows  string // query: each value that it selects is a row
	Lists string // query: each value that it selects is an object of lists, whose k-th items are a row
	Names string // with Rows: query for the names of the items of rows that are lists; such a row is read as an object
}

// Key is the column that is the name under which a row lies in an object; KeyOf
// before the beginning of the path of the rows is that of what the row lies in: with
// rows $.data[*][*] the column "key of $.data[*]" is the name of a list.
const (
	Key   = "key"
	KeyOf = "key of "
)

// PathError says which path is wrong.
type PathError struct {
	Of   string // "rows", "lists", "names", or the column
	What string
	Do   string
}

func (e *PathError) Error() string { return e.Of + ": " + e.What + "; " + e.Do }

// plan is a Spec with its columns, compiled.
type plan struct {
	rows    *spec.PathQuery
	steps   []string // of rows, one by one
	lists   bool
	names   *column
	columns []column
	stream  bool // the elements of a document that is a list can be taken one by one
}

// column is a path cut where it leaves that of the rows.
type column struct {
	path  string
	key   bool
	depth int             // steps that it has in common with rows; of a key those to what bears the name
	own   bool            // depth is all of rows: it is asked of the row itself
	rest  *spec.PathQuery // what follows, from there
	plain []spec.Selector // rest, where it is names and places only
}

// Check says what is wrong with the paths; nil where nothing is.
func Check(s Spec, columns []string) []*PathError {
	_, bad := compile(s, columns)
	return bad
}

func compile(s Spec, columns []string) (*plan, []*PathError) {
	p := &plan{lists: s.Lists != ""}
	of, rows := "rows", s.Rows
	if p.lists {
		of, rows = "lists", s.Lists
	}
	q, bad := parse(of, rows)
	if bad != nil {
		return nil, []*PathError{bad}
	}
	p.rows = q
	for _, seg := range q.Segments() {
		if seg.IsDescendant() {
			return nil, []*PathError{{of, "the path has .. in it, which may find rows within rows",
				"go down step by step, such as $.data[*].values[*]"}}
		}
		p.steps = append(p.steps, seg.String())
	}
	p.stream = !p.lists && len(p.steps) > 0 && (p.steps[0] == "[*]" || strings.HasPrefix(p.steps[0], "[?") &&
		!strings.Contains(p.steps[0], "$"))
	var all []*PathError
	for _, path := range columns {
		c, bad := p.column(path)
		if bad != nil {
			all = append(all, bad)
			continue
		}
		p.stream = p.stream && (c.key || c.depth > 0)
		p.columns = append(p.columns, c)
	}
	if s.Names != "" {
		c, bad := p.column(s.Names)
		switch {
		case bad == nil && (p.lists || c.own):
			bad = &PathError{"names", "the names cannot lie in the rows",
				"write where the list of names stands beside the rows, such as $.columns"}
		case bad != nil:
			bad.Of = "names"
		}
		if bad != nil {
			return nil, append(all, bad)
		}
		p.stream = p.stream && c.depth > 0
		p.names = &c
	}
	return p, all
}

func parse(of, path string) (*spec.PathQuery, *PathError) {
	q, err := jsonpath.Parse(path)
	if err != nil {
		return nil, &PathError{of, fmt.Sprintf("%q is no JSONPath (%s)", path, strings.TrimPrefix(err.Error(), "jsonpath: ")),
			"write a query as RFC 9535 has them, such as $.data[*].values[*]"}
	}
	return q.Query(), nil
}

// column cuts a path.
func (p *plan) column(path string) (column, *PathError) {
	if path == Key {
		if p.lists || len(p.steps) == 0 {
			return column{}, &PathError{path, "rows of lists, and a row that is the whole document, lie under no name",
				"write a path"}
		}
		return column{path: path, key: true, depth: len(p.steps)}, nil
	}
	query, key := strings.CutPrefix(path, KeyOf)
	q, bad := parse(path, query)
	if bad != nil {
		return column{}, bad
	}
	segs := q.Segments()
	c := column{path: path}
	for c.depth < len(segs) && c.depth < len(p.steps) && segs[c.depth].String() == p.steps[c.depth] {
		c.depth++
	}
	if key {
		if c.depth == 0 || c.depth < len(segs) || p.lists {
			return column{}, &PathError{path, "the rows lie in nothing with this path",
				"write the beginning of the path of the rows"}
		}
		c.key = true
		return c, nil
	}
	c.own = c.depth == len(p.steps)
	if p.lists && c.own && len(segs) == c.depth {
		return column{}, &PathError{path, "this is the object of lists itself", "write the path of one of its lists"}
	}
	rest := segs[c.depth:]
	c.rest = spec.Query(false, rest...)
	for _, seg := range rest {
		if seg.IsDescendant() || len(seg.Selectors()) != 1 {
			return c, nil
		}
		switch seg.Selectors()[0].(type) {
		case spec.Name, spec.Index:
		default:
			return c, nil
		}
	}
	c.plain = make([]spec.Selector, len(rest))
	for i, seg := range rest {
		c.plain[i] = seg.Selectors()[0]
	}
	return c, nil
}

// from gives what the rest of the path selects from a node.
func (c *column) from(node, doc any) []any {
	if len(c.rest.Segments()) > 0 && c.plain == nil {
		return c.rest.Select(node, doc)
	}
	for _, s := range c.plain {
		ok := false
		switch s := s.(type) {
		case spec.Name:
			var m map[string]any
			if m, ok = node.(map[string]any); ok {
				node, ok = m[string(s)]
			}
		case spec.Index:
			if list, isList := node.([]any); isList {
				i := int(s)
				if i < 0 {
					i += len(list)
				}
				if ok = i >= 0 && i < len(list); ok {
					node = list[i]
				}
			}
		}
		if !ok {
			return nil
		}
	}
	return []any{node}
}

// at gives the node that lies n steps down a row's path.
func at(doc any, path spec.NormalizedPath, n int) any {
	for _, s := range path[:n] {
		switch s := s.(type) {
		case spec.Name:
			doc = doc.(map[string]any)[string(s)]
		case spec.Index:
			doc = doc.([]any)[int(s)]
		}
	}
	return doc
}
