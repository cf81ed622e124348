package jsontable

import (
	"encoding/json"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// Candidate is one way in which a file's documents could be rows.
type Candidate struct {
	Spec    Spec
	Columns []Found
	Rows    int // in what was looked at
}

// Found is a value that a candidate's rows have.
type Found struct {
	Path string
	Leaf string // the names on the path, without those of the rows, parted by points
	Own  bool   // of the row itself, as against of what it lies in
}

const (
	surveyDocs    = 3000 // documents, or elements of a list that is the document
	surveyColumns = 1000 // of a candidate
	surveyItems   = 32   // items of a row, or of a list in a row, that can be columns
	surveyWays    = 64   // candidates
)

// Survey looks at the beginning of UTF-8 text and gives the ways in which it
// could be rows, in the order in which they were met. An error says why it is no
// JSON that can be read; a line, or an end, that is damaged is none.
func Survey(r io.Reader) ([]Candidate, error) {
	s := &survey{ways: map[string]*way{}, named: map[string]bool{}}
	d := newDocs(r, true)
	for range surveyDocs {
		doc, err := d.next()
		if err == io.EOF {
			break
		}
		if err != nil {
			if s.docs > 0 && d.stream {
				break
			}
			return nil, err
		}
		if doc.blank || doc.bad != nil {
			continue
		}
		s.docs++
		v := doc.value
		if doc.element {
			v = []any{v}
		}
		s.value(v, "$", nil, 0)
	}
	if s.docs == 0 {
		return nil, io.ErrUnexpectedEOF
	}
	var out []Candidate
	for _, key := range s.order {
		w := s.ways[key]
		w.columns = slices.DeleteFunc(w.columns, func(f Found) bool { // a value here, a list there
			at := strings.LastIndexByte(f.Path, '[')
			return at > 0 && f.Own && w.has[f.Path[:at]]
		})
		if len(w.columns) > 0 {
			out = append(out, Candidate{w.spec, w.columns, w.rows})
		}
	}
	return out, nil
}

type survey struct {
	named map[string]bool // paths that stand for the members of objects that are lists in disguise
	docs  int
	ways  map[string]*way
	order []string
}

type way struct {
	spec    Spec
	columns []Found
	has     map[string]bool
	rows    int
}

// outer is an object on the way down to a value.
type outer struct {
	path string
	m    map[string]any
}

func (s *survey) way(spec Spec) *way {
	key := spec.Rows + "\x00" + spec.Lists
	w := s.ways[key]
	if w == nil {
		if len(s.order) >= surveyWays {
			return nil
		}
		w = &way{spec: spec, has: map[string]bool{}}
		s.ways[key] = w
		s.order = append(s.order, key)
	}
	return w
}

func (w *way) add(path, leaf string, own bool) {
	if !w.has[path] && len(w.columns) < surveyColumns {
		w.has[path] = true
		w.columns = append(w.columns, Found{path, leaf, own})
	}
}

// value looks for rows in a value that lies at a path in outers.
func (s *survey) value(v any, path string, outers []outer, depth int) {
	switch v := v.(type) {
	case map[string]any:
		if depth == 0 {
			s.row(v, path, outers)
		}
		outers = append(slices.Clone(outers), outer{path, v})
		s.lists(v, path, outers)
		if keyed(v) {
			for _, k := range names(v) {
				s.row(v[k], path+"[*]", outers)
			}
			return
		}
		if alike(v) {
			s.named[path+"[*]"] = true
			for _, k := range names(v) {
				s.value(v[k], path+"[*]", outers, depth+1)
			}
			return
		}
		s.family(v, path, outers)
		for _, k := range names(v) {
			s.value(v[k], path+step(k), outers, depth+1)
		}
	case []any:
		for _, item := range v {
			switch item.(type) {
			case map[string]any, []any:
				s.row(item, path+"[*]", outers)
				s.value(item, path+"[*]", outers, depth+1)
			}
		}
	}
}

// alike tells whether an object is a list in disguise: its members are objects with the same
// members, some of which are lists, and their names are those of what they describe.
func alike(m map[string]any) bool {
	shape, lists := "", false
	for _, k := range names(m) {
		o, ok := m[k].(map[string]any)
		if !ok || keyed(o) {
			return false
		}
		of := strings.Join(names(o), "\x00")
		if shape != "" && of != shape {
			return false
		}
		shape = of
		for _, v := range o {
			if list, ok := v.([]any); ok && len(list) > 0 {
				lists = true
			}
		}
	}
	return len(m) > 1 && lists
}

// family notes the rows of two lists or more of one shape that lie in an object
// under the names of what they hold.
func (s *survey) family(m map[string]any, path string, outers []outer) {
	shape, n := "", 0
	for _, k := range names(m) {
		switch m[k].(type) {
		case map[string]any, []any:
		default:
			continue // of a single value [*] selects nothing
		}
		of := shapeOf(m[k])
		if of == "" || n > 0 && of != shape {
			return
		}
		shape = of
		n++
	}
	w := s.way(Spec{Rows: path + "[*][*]"})
	if n < 2 || w == nil {
		return
	}
	w.add(KeyOf+path+"[*]", "channel", true)
	for _, k := range names(m) {
		switch list := m[k].(type) {
		case map[string]any:
			w.add(Key, Key, true)
			for _, name := range names(list) {
				s.row(list[name], path+"[*][*]", outers)
			}
		case []any:
			for _, item := range list {
				s.row(item, path+"[*][*]", outers)
			}
		}
	}
}

// shapeOf is the same for lists, or objects named by times, whose rows have the
// same members; "" where a value is no such list.
func shapeOf(v any) string {
	var first any
	switch v := v.(type) {
	case map[string]any:
		if !keyed(v) {
			return ""
		}
		return "by time"
	case []any:
		if len(v) == 0 {
			return ""
		}
		first = v[0]
	}
	switch f := first.(type) {
	case map[string]any:
		return "objects of " + strings.Join(names(f), "\x00")
	case []any:
		return fmt.Sprint("lists of ", len(f))
	}
	return ""
}

// row notes one row at a path, which names the elements of a list or object.
func (s *survey) row(v any, path string, outers []outer) {
	w := s.way(Spec{Rows: path})
	if w == nil {
		return
	}
	w.rows++
	for _, o := range outers {
		if s.named[o.path] {
			w.add(KeyOf+o.path, "sensor", true)
		}
	}
	if strings.HasSuffix(path, "[*]") && len(outers) > 0 && outers[len(outers)-1].path+"[*]" == path {
		w.add(Key, Key, true)
	}
	if list, ok := v.([]any); ok {
		for _, name := range w.itemNames(list, outers) {
			if name != "" {
				w.add(path+step(name), name, true)
			}
		}
		if w.spec.Names == "" {
			w.leaves(v, path, "", true)
		}
	} else {
		w.leaves(v, path, "", true)
	}
	for i := len(outers) - 1; i >= 0; i-- {
		if outers[i].path != path && !keyed(outers[i].m) {
			w.leaves(outers[i].m, outers[i].path, lastName(outers[i].path), false)
		}
	}
}

var nameAtEnd = regexp.MustCompile(`\.([A-Za-z_][A-Za-z0-9_]*?)s?(\[\*\])*$`)

// lastName is what an outer object is called, "" for the document: $.devices[*]
// is a device.
func lastName(path string) string {
	if m := nameAtEnd.FindStringSubmatch(path); m != nil {
		return m[1]
	}
	return ""
}

// leaves notes the single values in a value.
func (w *way) leaves(v any, path, leaf string, own bool) {
	switch v := v.(type) {
	case map[string]any:
		for _, k := range names(v) {
			if _, list := v[k].([]any); list && !own {
				continue
			}
			if m, ok := v[k].(map[string]any); ok && keyed(m) {
				continue // rows of their own
			}
			if list, ok := v[k].([]any); ok && besideAnother(v, k, len(list)) {
				continue // columns of their own
			}
			inner := k
			if leaf != "" {
				inner = leaf + "." + k
			}
			w.leaves(v[k], path+step(k), inner, own)
		}
	case []any:
		if len(v) > surveyItems {
			return
		}
		for i, item := range v {
			switch item.(type) {
			case map[string]any, []any:
				return // rows of their own
			}
			w.leaves(item, path+"["+strconv.Itoa(i)+"]", strings.TrimPrefix(leaf+" item "+strconv.Itoa(i+1), " "), own)
		}
	default:
		if leaf == "" {
			leaf = "value"
		}
		w.add(path, leaf, own)
	}
}

// besideAnother tells whether an object has another list as long as one of its own.
func besideAnother(m map[string]any, name string, length int) bool {
	for k, v := range m {
		if list, ok := v.([]any); ok && k != name && len(list) == length && length > 1 {
			return true
		}
	}
	return false
}

// itemNames finds the names of a row's items beside the rows: a list of as many
// texts, or of as many objects that have a text of one name.
func (w *way) itemNames(row []any, outers []outer) []string {
	for i := len(outers) - 1; i >= 0; i-- {
		for _, k := range names(outers[i].m) {
			list, ok := outers[i].m[k].([]any)
			path := outers[i].path + step(k)
			if !ok || len(list) != len(row) || len(list) == 0 ||
				strings.HasPrefix(w.spec.Rows, path+"[*]") { // what the row lies in does not name its items
				continue
			}
			if texts := textsOf(list, ""); texts != nil {
				w.spec.Names = path
				return texts
			}
			for _, member := range []string{"text", "name", "label", "title", "field", "id"} {
				if texts := textsOf(list, member); texts != nil {
					w.spec.Names = path + "[*]" + step(member)
					return texts
				}
			}
		}
	}
	return nil
}

// textsOf gives a list's texts, or a member of its objects; nil where one is no
// text or stands twice.
func textsOf(list []any, member string) []string {
	var out []string
	for _, v := range list {
		if m, ok := v.(map[string]any); ok && member != "" {
			v = m[member]
		}
		text, ok := v.(string)
		if !ok || slices.Contains(out, text) {
			return nil
		}
		out = append(out, text)
	}
	return out
}

// lists notes an object of two lists or more of one length.
func (s *survey) lists(m map[string]any, path string, outers []outer) {
	length, n := -1, 0
	for _, k := range names(m) {
		list, ok := m[k].([]any)
		if !ok {
			continue
		}
		for _, v := range list {
			switch v.(type) {
			case map[string]any, []any:
				return
			}
		}
		if length >= 0 && len(list) != length {
			return
		}
		length = len(list)
		n++
	}
	if n < 2 || length < 1 {
		return
	}
	w := s.way(Spec{Lists: path})
	if w == nil {
		return
	}
	w.rows += length
	for _, k := range names(m) {
		if _, ok := m[k].([]any); ok {
			w.add(path+step(k), k, true)
		}
	}
	for i := len(outers) - 1; i >= 0; i-- {
		w.leaves(outers[i].m, outers[i].path, lastName(outers[i].path), false)
	}
}

var stampName = regexp.MustCompile(`^(\d{4}-\d\d?-\d\d?|\d\d?[./]\d\d?[./]\d{2,4}|\d{4}[./]\d\d?[./]\d\d?|\d{10}|\d{13}|\d{8}([T ]?\d{4,6})?)([T ].*)?$`)

// keyed tells whether an object's members are named by time stamps.
func keyed(m map[string]any) bool {
	for k := range m {
		if k == "" || k[0] < '0' || k[0] > '9' || !stampName.MatchString(k) {
			return false
		}
	}
	return len(m) > 0
}

// names gives the names of an object in order.
func names(m map[string]any) []string {
	out := make([]string, 0, len(m))
	for k := range m {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}

var plainName = regexp.MustCompile(`^[A-Za-z_][A-Za-z0-9_]*$`)

// step writes a name as a segment of a path.
func step(name string) string {
	if plainName.MatchString(name) {
		return "." + name
	}
	b, err := json.Marshal(name) // a JSONPath name in double quotes is a JSON text
	if err != nil {
		return fmt.Sprintf("[%q]", name)
	}
	return "[" + string(b) + "]"
}
