// Package strictyaml reads a YAML file into a struct and lists every mistake in
// it with line and column, where a decoder would stop at the first one.
//
//  1. The file is parsed to a syntax tree (a mistake there ends the reading).
//  2. The tree is walked beside the struct's type: unknown keys, repeated keys
//     and values of the wrong kind are collected, the rest is set.
//  3. The caller checks what the values mean and asks At for the place of a
//     path such as "thresholds.rooms.veg-1.level".
package strictyaml

import (
	"encoding"
	"errors"
	"fmt"
	"reflect"
	"strconv"
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"

	"wane/ingest/problem"
)

// Doc remembers where each path of a decoded file stands.
type Doc struct {
	file   string
	parsed bool
	at     map[string]position
	found  problem.List
}

type position struct{ line, column int }

// Decode reads data, named file in messages, into the struct that into points
// to. Keys are the fields' yaml tags. Fields not named in the file keep their
// values. The Doc is never nil.
func Decode(file string, data []byte, into any) (*Doc, problem.List) {
	d := &Doc{file: file, at: map[string]position{}}
	if p := bounds(data); p != nil {
		p.File = file
		d.found = append(d.found, *p)
		return d, d.found
	}
	tree, err := parser.ParseBytes(data, 0, parser.AllowDuplicateMapKey())
	if err != nil {
		d.syntax(err)
		return d, d.found
	}
	d.parsed = true
	for i, doc := range tree.Docs {
		if doc.Body == nil || doc.Body.Type() == ast.NullType || doc.Body.Type() == ast.CommentType {
			continue
		}
		if i > 0 {
			d.add(doc.Body, "", "a second document starts here", "keep one document a file")
			break
		}
		d.walk(doc.Body, reflect.ValueOf(into).Elem(), "")
	}
	return d, d.found
}

// Parsed says whether the file was YAML at all; where it was not, its values say
// nothing.
func (d *Doc) Parsed() bool { return d.parsed }

// Has says whether the file names the path.
func (d *Doc) Has(path string) bool { _, ok := d.at[path]; return ok }

// At makes a problem at a path; a path that the file does not name is placed
// at its nearest named parent.
func (d *Doc) At(path, what, do string) problem.Problem {
	p := problem.Problem{File: d.file, What: what, Do: do}
	if path != "" {
		p.What = path + ": " + what
	}
	for at := path; ; {
		if pos, ok := d.at[at]; ok {
			p.Line, p.Column = pos.line, pos.column
			return p
		}
		cut := strings.LastIndexAny(at, ".[")
		if cut < 0 {
			return p
		}
		at = at[:cut]
	}
}

func (d *Doc) syntax(err error) {
	p := problem.Problem{File: d.file, What: err.Error(), Do: "mend the YAML; indent with spaces"}
	var syn *yaml.SyntaxError
	if errors.As(err, &syn) && syn.Token != nil {
		p.Line, p.Column, p.What = syn.Token.Position.Line, syn.Token.Position.Column, syn.Message
	}
	d.found = append(d.found, p)
}

func (d *Doc) add(n ast.Node, path, what, do string) {
	pos := n.GetToken().Position
	p := problem.Problem{File: d.file, Line: pos.Line, Column: pos.Column, What: what, Do: do}
	if path != "" {
		p.What = path + ": " + what
	}
	d.found = append(d.found, p)
}

func (d *Doc) walk(n ast.Node, v reflect.Value, path string) {
	if path != "" {
		pos := n.GetToken().Position
		if _, ok := d.at[path]; !ok {
			d.at[path] = position{pos.Line, pos.Column}
		}
	}
	for v.Kind() == reflect.Pointer {
		if n.Type() == ast.NullType {
			return
		}
		if v.IsNil() {
			v.Set(reflect.New(v.Type().Elem()))
		}
		if _, ok := v.Interface().(encoding.TextUnmarshaler); ok {
			d.text(n, v, path)
			return
		}
		v = v.Elem()
	}
	if n.Type() == ast.NullType {
		return // "key:" with nothing behind it keeps the default
	}
	if v.CanAddr() {
		if _, ok := v.Addr().Interface().(encoding.TextUnmarshaler); ok {
			d.text(n, v.Addr(), path)
			return
		}
	}
	switch v.Kind() {
	case reflect.Struct:
		d.structure(n, v, path)
	case reflect.Map:
		d.mapping(n, v, path)
	case reflect.Slice:
		d.sequence(n, v, path)
	default:
		d.scalar(n, v, path)
	}
}

// pairs gives the key-value nodes of a mapping; ok is false where n is none.
func (d *Doc) pairs(n ast.Node, path string) ([]*ast.MappingValueNode, bool) {
	switch m := n.(type) {
	case *ast.MappingNode:
		return m.Values, true
	case *ast.MappingValueNode:
		return []*ast.MappingValueNode{m}, true
	}
	d.add(n, path, fmt.Sprintf("%s stands where keys are expected", kindOf(n)),
		"write `key: value` lines below it, indented")
	return nil, false
}

func (d *Doc) structure(n ast.Node, v reflect.Value, path string) {
	pairs, ok := d.pairs(n, path)
	if !ok {
		return
	}
	fields := map[string]int{}
	var names []string
	for i := range v.NumField() {
		name, _, _ := strings.Cut(v.Type().Field(i).Tag.Get("yaml"), ",")
		if name != "" && name != "-" {
			fields[name] = i
			names = append(names, name)
		}
	}
	seen := map[string]bool{}
	for _, kv := range pairs {
		key := keyText(kv)
		at := join(path, key)
		i, known := fields[key]
		switch {
		case !known:
			do := "take it out; known here: " + strings.Join(names, ", ")
			if near := problem.Nearest(key, names); near != "" {
				do = fmt.Sprintf("did you mean %q?", near)
			}
			d.add(kv.Key, at, "unknown key", do)
		case seen[key]:
			d.add(kv.Key, at, "key stands twice", "keep one of the two")
		default:
			seen[key] = true
			d.at[at] = place(kv.Key)
			d.walk(kv.Value, v.Field(i), at)
		}
	}
}

func (d *Doc) mapping(n ast.Node, v reflect.Value, path string) {
	pairs, ok := d.pairs(n, path)
	if !ok {
		return
	}
	m := reflect.MakeMap(v.Type()) // defaults that the file does not name stay
	for it := v.MapRange(); it.Next(); {
		m.SetMapIndex(it.Key(), it.Value())
	}
	seen := map[string]bool{}
	for _, kv := range pairs {
		key := keyText(kv)
		at := join(path, key)
		k := reflect.ValueOf(key).Convert(v.Type().Key())
		if seen[key] {
			d.add(kv.Key, at, "key stands twice", "keep one of the two")
			continue
		}
		seen[key] = true
		e := reflect.New(v.Type().Elem()).Elem()
		if old := m.MapIndex(k); old.IsValid() {
			e.Set(old) // what the file does not name of a default stays
		}
		d.at[at] = place(kv.Key)
		d.walk(kv.Value, e, at)
		m.SetMapIndex(k, e)
	}
	v.Set(m)
}

func (d *Doc) sequence(n ast.Node, v reflect.Value, path string) {
	seq, ok := n.(*ast.SequenceNode)
	if !ok { // a single value is a list of one
		e := reflect.New(v.Type().Elem()).Elem()
		d.walk(n, e, path)
		v.Set(reflect.Append(reflect.MakeSlice(v.Type(), 0, 1), e))
		return
	}
	out := reflect.MakeSlice(v.Type(), 0, len(seq.Values))
	for i, item := range seq.Values {
		e := reflect.New(v.Type().Elem()).Elem()
		d.walk(item, e, fmt.Sprintf("%s[%d]", path, i))
		out = reflect.Append(out, e)
	}
	v.Set(out)
}

func (d *Doc) text(n ast.Node, v reflect.Value, path string) {
	s, ok := scalarText(n)
	if !ok {
		d.add(n, path, fmt.Sprintf("%s stands where one value is expected", kindOf(n)), "write a single value")
		return
	}
	if err := v.Interface().(encoding.TextUnmarshaler).UnmarshalText([]byte(s)); err != nil {
		d.add(n, path, err.Error(), "")
	}
}

func (d *Doc) scalar(n ast.Node, v reflect.Value, path string) {
	s, ok := scalarText(n)
	if !ok {
		d.add(n, path, fmt.Sprintf("%s stands where one value is expected", kindOf(n)), "write a single value")
		return
	}
	switch v.Kind() {
	case reflect.String:
		v.SetString(s)
	case reflect.Bool:
		b, err := strconv.ParseBool(s)
		if err != nil {
			d.add(n, path, fmt.Sprintf("%q is neither true nor false", s), "write true or false")
			return
		}
		v.SetBool(b)
	case reflect.Float64:
		f, err := strconv.ParseFloat(s, 64)
		if err != nil || f != f || f-f != 0 {
			do := "write digits with a decimal point"
			if strings.Contains(s, ",") {
				do = fmt.Sprintf("write %s", strings.Replace(s, ",", ".", 1))
			}
			d.add(n, path, fmt.Sprintf("%q is not a number", s), do)
			return
		}
		v.SetFloat(f)
	case reflect.Int, reflect.Int64:
		i, err := strconv.ParseInt(s, 10, 64)
		if err != nil {
			d.add(n, path, fmt.Sprintf("%q is not a whole number", s), "write digits only")
			return
		}
		v.SetInt(i)
	default:
		panic("strictyaml: no way to read a " + v.Kind().String()) // a field type of ours, found by the first test
	}
}

func place(n ast.Node) position {
	p := n.GetToken().Position
	return position{p.Line, p.Column}
}

func keyText(kv *ast.MappingValueNode) string {
	if s, ok := scalarText(kv.Key); ok {
		return s
	}
	return kv.Key.GetToken().Value
}

// scalarText gives the text of a scalar as it was meant: a quoted string
// without its quotes, a number as typed.
func scalarText(n ast.Node) (string, bool) {
	switch s := n.(type) {
	case *ast.StringNode:
		return s.Value, true
	case *ast.LiteralNode:
		return s.Value.Value, true
	case ast.ScalarNode:
		return s.GetToken().Value, true
	}
	return "", false
}

func kindOf(n ast.Node) string {
	switch n.(type) {
	case *ast.MappingNode, *ast.MappingValueNode:
		return "a group of keys"
	case *ast.SequenceNode:
		return "a list"
	}
	return fmt.Sprintf("%q", n.GetToken().Value)
}

func join(path, key string) string {
	if path == "" {
		return key
	}
	return path + "." + key
}
