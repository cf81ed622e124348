package jsontable

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/theory/jsonpath/spec"

	"wane/ingest/decode/emit"
)

// Table is a file of JSON documents as rows. It is a tabled.Rows.
type Table struct {
	name    string
	e       *emit.Emitter
	plan    *plan
	columns []string
	docs    *docs
	pending []*spec.LocatedNode // rows of the document that are still to come
	listed  [][]any             // the lists of the object that is being read, by column; nil where it has one value for all rows
	item    int                 // in listed
	length  int                 // of the lists
	doc     any
	row     int // number of the row last given
	any     bool
	seen    []bool // by column: some row had it, be it null
	told    bool
	cells   []string
	decimal string // the decimal sign that the table's numbers are read with
}

// New begins to read UTF-8 text. The columns are paths, or Key; both have been
// through Check. JSON's own numbers are given with the decimal sign with which
// numbers in texts are read. What cannot be a row goes to e as a reject.
func New(name string, r io.Reader, s Spec, columns []string, decimal string, e *emit.Emitter) (*Table, error) {
	p, bad := compile(s, columns)
	if len(bad) > 0 {
		return nil, bad[0]
	}
	return &Table{name: name, e: e, plan: p, columns: columns, decimal: decimal, docs: newDocs(r, p.stream),
		seen: make([]bool, len(columns)), cells: make([]string, len(columns))}, nil
}

// Next gives the next row. Of JSON lines with a row a line, the k-th row is that
// of the k-th line.
func (t *Table) Next() ([]string, error) {
	for {
		switch {
		case t.item < t.length:
			t.item++
			t.row++
			return t.listRow()
		case len(t.pending) > 0:
			n := t.pending[0]
			t.pending = t.pending[1:]
			if t.plan.lists {
				if err := t.open(n); err != nil {
					return nil, err
				}
				continue
			}
			t.row++
			return t.oneRow(n)
		}
		blank, err := t.nextDoc()
		if err != nil {
			return nil, err
		}
		if blank {
			t.row++
			return nil, nil
		}
	}
}

// nextDoc takes the rows of the next document. blank is true where a line of the
// file has none, so that rows and lines go on together.
func (t *Table) nextDoc() (blank bool, err error) {
	d, err := t.docs.next()
	switch {
	case err == io.EOF:
		return false, t.end()
	case errors.Is(err, io.ErrUnexpectedEOF) && t.docs.stream:
		t.row++
		if err := t.e.Reject(t.row, "", "truncated-file",
			"the file ends inside the list: it was cut short; fetch it again", nil); err != nil {
			return false, err
		}
		return false, t.end()
	case err != nil:
		return false, t.broken(err)
	case d.blank:
		return true, nil
	case d.bad != nil:
		return true, t.e.Reject(t.row+1, "", "bad-json", fmt.Sprintf("no JSON document (%v)", d.bad), d.text)
	}
	t.doc = d.value
	if d.element {
		t.doc = []any{d.value}
	}
	t.pending = t.plan.rows.SelectLocated(nil, t.doc, nil)
	if byPath := func(a, b *spec.LocatedNode) int { return a.Path.Compare(b.Path) }; !slices.IsSortedFunc(t.pending,
		byPath) {
		slices.SortFunc(t.pending, byPath) // members of objects come in no order
	}
	t.any = t.any || len(t.pending) > 0
	return t.docs.lines && len(t.pending) == 0, nil
}

func (t *Table) broken(err error) error {
	var file *emit.FileError
	if errors.As(err, &file) {
		return err
	}
	what, do := fmt.Sprintf("not JSON that can be read (%v)", err), "fetch it again"
	switch {
	case errors.Is(err, errTooLong):
		do = "fetch it in shorter periods, or as JSON lines"
	case errors.Is(err, io.ErrUnexpectedEOF):
		what = "the JSON document ends before its end: it was cut short"
	case errors.Is(err, errTooDeep):
		do = "no logger writes that"
	}
	return &emit.FileError{File: t.name, What: what, Do: do}
}

// end says which paths found nothing in the whole file.
func (t *Table) end() error {
	if t.told {
		return io.EOF
	}
	t.told = true
	of := t.plan.rows.String()
	if !t.any {
		return &emit.FileError{File: t.name, What: fmt.Sprintf("the path %s finds no row in it", of),
			Do: "mend json.rows or json.lists; is it an answer that holds an error?"}
	}
	for i, ok := range t.seen {
		if ok {
			continue
		}
		if err := t.e.Reject(t.row, t.columns[i], "no-such-column",
			"no row of the file has a value at this path; mend the path, or take the column out", nil); err != nil {
			return err
		}
	}
	return io.EOF
}

// oneRow gives the cells of a row.
func (t *Table) oneRow(n *spec.LocatedNode) ([]string, error) {
	row := n.Node
	if list, ok := row.([]any); ok && t.plan.names != nil {
		named, err := t.named(n, list)
		if err != nil {
			return nil, t.e.Reject(t.row, "", "bad-row", err.Error(), textOf(row))
		}
		row = named
	}
	for i := range t.plan.columns {
		c := &t.plan.columns[i]
		if c.key {
			t.cells[i], t.seen[i] = keyOf(n.Path[:c.depth]), true
			continue
		}
		node := row
		if !c.own {
			node = at(t.doc, n.Path, c.depth)
		}
		text, err := t.cell(i, c.from(node, t.doc))
		if err != nil {
			return nil, t.e.Reject(t.row, c.path, "bad-row", err.Error(), textOf(row))
		}
		t.cells[i] = text
	}
	return t.cells, nil
}

// keyOf is the name, or the place, under which a row lies.
func keyOf(path spec.NormalizedPath) string {
	switch s := path[len(path)-1].(type) {
	case spec.Name:
		return string(s)
	case spec.Index:
		return fmt.Sprint(int(s))
	}
	return ""
}

// cell makes a cell of what a path selected.
func (t *Table) cell(i int, nodes []any) (string, error) {
	if len(nodes) == 0 {
		return "", nil
	}
	t.seen[i] = true
	if len(nodes) > 1 {
		return "", fmt.Errorf("the path selects %d values, and a cell holds one", len(nodes))
	}
	text, ok := t.scalar(nodes[0])
	if !ok {
		return "", errors.New("the path selects a list or an object, and a cell holds one value")
	}
	return text, nil
}

// scalar gives a value as text; null is blank.
func (t *Table) scalar(v any) (string, bool) {
	switch v := v.(type) {
	case nil:
		return "", true
	case string:
		return v, true
	case json.Number:
		if t.decimal == "," {
			return strings.Replace(v.String(), ".", ",", 1), true
		}
		return v.String(), true
	case bool:
		return fmt.Sprint(v), true
	}
	return "", false
}

// named makes an object of a row that is a list.
func (t *Table) named(n *spec.LocatedNode, list []any) (map[string]any, error) {
	c := t.plan.names
	nodes := c.from(at(t.doc, n.Path, c.depth), t.doc)
	if len(nodes) == 1 {
		if inner, ok := nodes[0].([]any); ok {
			nodes = inner
		}
	}
	if len(nodes) != len(list) {
		return nil, fmt.Errorf("the row has %d items, and there are %d names for them", len(list), len(nodes))
	}
	out := make(map[string]any, len(list))
	for i, v := range nodes {
		name, ok := v.(string)
		if !ok {
			return nil, errors.New("what names selects are no texts")
		}
		if _, twice := out[name]; twice {
			return nil, fmt.Errorf("two items of the row are named %q", name)
		}
		out[name] = list[i]
	}
	return out, nil
}

// open begins to read an object of lists. A column that lies outside of it is
// one value for all rows.
func (t *Table) open(n *spec.LocatedNode) error {
	t.listed, t.item, t.length = make([][]any, len(t.plan.columns)), 0, 0
	clear(t.cells)
	first := -1
	for i := range t.plan.columns {
		c := &t.plan.columns[i]
		nodes := c.from(at(t.doc, n.Path, c.depth), t.doc)
		if len(nodes) == 0 {
			continue
		}
		t.seen[i] = true
		list, ok := nodes[0].([]any)
		if !c.own || len(nodes) > 1 || !ok {
			text, err := t.cell(i, nodes)
			if err != nil {
				return &emit.FileError{File: t.name, What: c.path + ": " + err.Error(), Do: "mend the path"}
			}
			t.cells[i] = text
			continue
		}
		if first >= 0 && len(list) != t.length {
			return &emit.FileError{File: t.name, What: fmt.Sprintf("the lists %s and %s have %d and %d items: which belong "+
				"together cannot be told", t.columns[first], c.path, t.length, len(list)), Do: "fetch it again"}
		}
		if first < 0 {
			first, t.length = i, len(list)
		}
		t.listed[i] = list
	}
	return nil
}

// listRow gives the item-th row of an object of lists.
func (t *Table) listRow() ([]string, error) {
	for i, list := range t.listed {
		if list == nil {
			continue
		}
		v := list[t.item-1]
		text, ok := t.scalar(v)
		if !ok {
			return nil, t.e.Reject(t.row, t.columns[i], "bad-row", "the item is a list or an object, and a cell holds one value",
				textOf(v))
		}
		t.cells[i] = text
	}
	return t.cells, nil
}

// textOf is a value as a reject keeps it.
func textOf(v any) []byte {
	b, _ := json.Marshal(v) // it was JSON
	return b
}
