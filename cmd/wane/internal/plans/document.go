package plans

import (
	"bytes"
	"encoding/json"
	"math"
	"reflect"
	"strings"
	"time"
	"unicode"

	"wane/transform/plan"
)

// document is all of a plan, as JSON has it.
type document struct {
	plan.Result
	LeftOut []string
	WhatIf  *plan.Comparison
}

// JSON gives the whole plan as one document: keys in words_with_underscores,
// days as year-month-day, null for what is not known or has no bound.
func (m *Made) JSON() ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", " ")
	err := e.Encode(plainly(reflect.ValueOf(document{m.Result, m.LeftOut, m.Beside})))
	return b.Bytes(), err
}

// member is a key with its value; an object keeps the order of its members.
type member struct {
	key   string
	value any
}

type object []member

// MarshalJSON writes the members in their order.
func (o object) MarshalJSON() ([]byte, error) {
	var b bytes.Buffer
	b.WriteByte('{')
	for i, m := range o {
		if i > 0 {
			b.WriteByte(',')
		}
		k, err := json.Marshal(m.key)
		if err != nil {
			return nil, err
		}
		v, err := json.Marshal(m.value)
		if err != nil {
			return nil, err
		}
		b.Write(k)
		b.WriteByte(':')
		b.Write(v)
	}
	b.WriteByte('}')
	return b.Bytes(), nil
}

// plainly turns a value into what JSON can hold.
func plainly(v reflect.Value) any {
	if t, ok := v.Interface().(time.Time); ok {
		if t.IsZero() {
			return nil
		}
		return t.Format(time.DateOnly)
	}
	switch v.Kind() {
	case reflect.Pointer:
		if v.IsNil() {
			return nil
		}
		return plainly(v.Elem())
	case reflect.Float64:
		if x := v.Float(); math.IsNaN(x) || math.IsInf(x, 0) {
			return nil
		}
		return v.Float()
	case reflect.Slice:
		out := make([]any, v.Len())
		for i := range out {
			out[i] = plainly(v.Index(i))
		}
		return out
	case reflect.Struct:
		var out object
		for i := range v.NumField() {
			f := v.Type().Field(i)
			if inner, ok := plainly(v.Field(i)).(object); ok && f.Anonymous {
				out = append(out, inner...)
				continue
			}
			out = append(out, member{underscored(f.Name), plainly(v.Field(i))})
		}
		return out
	}
	return v.Interface()
}

// underscored writes a Go name as the tables do: LossPerYear is loss_per_year.
func underscored(name string) string {
	var b strings.Builder
	for i, r := range name {
		if unicode.IsUpper(r) && i > 0 && (unicode.IsLower(rune(name[i-1])) || i+1 < len(name) &&
			unicode.IsLower(rune(name[i+1])) && unicode.IsUpper(rune(name[i-1]))) {
			b.WriteByte('_')
		}
		b.WriteRune(unicode.ToLower(r))
	}
	return b.String()
}
