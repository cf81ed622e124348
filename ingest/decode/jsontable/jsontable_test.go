package jsontable

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"wane/ingest/decode/emit"
	"wane/ingest/reading"
)

// rejects keeps the codes of rejects.
type rejects struct{ codes []string }

func (k *rejects) Readings(*reading.Batch) error { return nil }
func (k *rejects) Reject(r reading.Reject) error {
	k.codes = append(k.codes, fmt.Sprintf("%d %s", r.Line, r.Code))
	return nil
}

// all reads text to its end.
func all(text string, s Spec, columns ...string) (rows []string, codes []string, err error) {
	k := &rejects{}
	e := emit.New(k, time.Time{})
	defer e.Leave()
	t, err := New("x.json", strings.NewReader(text), s, columns, ".", e)
	if err != nil {
		return nil, nil, err
	}
	for {
		cells, err := t.Next()
		if err == io.EOF {
			return rows, k.codes, nil
		}
		if err != nil {
			return rows, k.codes, err
		}
		rows = append(rows, strings.Join(cells, "|"))
	}
}

func TestRows(t *testing.T) {
	for _, c := range []struct {
		name, text string
		spec       Spec
		columns    []string
		want       []string
		codes      []string
	}{
		{"a list of objects", `[{"t":1,"v":2.50},{"t":2}]`, Spec{Rows: "$[*]"}, []string{"$[*].t", "$[*].v"},
			[]string{"1|2.50", "2|"}, nil},
		{"what rows lie in", `{"id":"s","d":[{"id":"a","r":[{"v":1},{"v":2}]},{"id":"b","r":[{"v":3}]}]}`,
			Spec{Rows: "$.d[*].r[*]"},
			[]string{"$.id", "$.d[*].id", "$.d[*].r[*].v"}, []string{"s|a|1", "s|a|2", "s|b|3"}, nil},
		{"elements one by one keep what they lie in", `[{"id":"a","r":[{"v":1},{"v":2}]},{"id":"b","r":[{"v":3}]}]`,
			Spec{Rows: "$[*].r[*]"},
			[]string{"$[*].id", "$[*].r[*].v"}, []string{"a|1", "a|2", "b|3"}, nil},
		{"another place of the same list is many values", `{"d":[{"id":"a","r":[{"v":1}]},{"id":"b","r":[]}]}`,
			Spec{Rows: "$.d[0].r[*]"},
			[]string{"$.d[*].id", "$.d[0].r[*].v"}, []string{""}, []string{"1 bad-row", "1 no-such-column"}},
		{"a filter of rows", `{"d":[{"k":"x","v":1},{"k":"y","v":2}]}`, Spec{Rows: "$.d[?@.k == 'y']"},
			[]string{"$.d[?@.k == 'y'].v"}, []string{"2"}, nil},
		{"names with odd letters", `[{"a b":{"it's":7}}]`, Spec{Rows: "$[*]"}, []string{`$[*]["a b"]['it\'s']`},
			[]string{"7"}, nil},
		{"members by time, in order", `{"b":2,"a":1}`, Spec{Rows: "$[*]"}, []string{"key", "$[*]"}, []string{"a|1", "b|2"},
			nil},
		{"lists side by side", `{"h":{"t":[1,2],"v":[3,null],"u":"lx"}}`, Spec{Lists: "$.h"},
			[]string{"$.h.t", "$.h.v", "$.h.u"}, []string{"1|3|lx", "2||lx"}, nil},
		{"names beside rows", `{"c":[{"text":"t"},{"text":"v"}],"rows":[[1,2],[3]]}`,
			Spec{Rows: "$.rows[*]", Names: "$.c[*].text"}, []string{"$.rows[*].v"}, []string{"2", ""}, []string{"2 bad-row"}},
		{"lines, one blank, one broken", "{\"v\":1}\n\n{\"v\":\n{\"v\":2}\n", Spec{Rows: "$"}, []string{"$.v"},
			[]string{"1", "", "", "2"}, []string{"3 bad-json"}},
		{"documents one behind the other", "{\"v\":\n1}\n{\"v\":\n2}", Spec{Rows: "$"}, []string{"$.v"}, []string{"1", "2"},
			nil},
		{"words that are no JSON", `[{"v":NaN,"w":-Infinity,"x":"NaN"}]`, Spec{Rows: "$[*]"},
			[]string{"$[*].v", "$[*].w", "$[*].x"}, []string{"||NaN"}, nil},
		{"cut short", `[{"v":1},{"v":2`, Spec{Rows: "$[*]"}, []string{"$[*].v"}, []string{"1"}, []string{"2 truncated-file"}},
		{"a path that finds nothing", `[{"v":1}]`, Spec{Rows: "$[*]"}, []string{"$[*].v", "$[*].w"}, []string{"1|"},
			[]string{"1 no-such-column"}},
		{"a payload that is text", `{"t":1,"p":"{\"v\": 2.50, \"w\": \"{no json}\"}"}`, Spec{Rows: "$"},
			[]string{"$.t", "$.p.v", "$.p.w"}, []string{"1|2.50|{no json}"}, nil},
		{"a list that is text", `{"p":"[{\"v\":1},{\"v\":2}]"}`, Spec{Rows: "$.p[*]"}, []string{"$.p[*].v"},
			[]string{"1", "2"}, nil},
		{"an object in a cell", `[{"v":{"a":1}}]`, Spec{Rows: "$[*]"}, []string{"$[*].v"}, []string{""},
			[]string{"1 bad-row"}},
	} {
		rows, codes, err := all(c.text, c.spec, c.columns...)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
		}
		if diff := cmp.Diff(c.want, rows); diff != "" {
			t.Errorf("%s: %s", c.name, diff)
		}
		if diff := cmp.Diff(c.codes, codes); diff != "" {
			t.Errorf("%s: %s", c.name, diff)
		}
	}
}

// TestHostile: files that are made to hurt are refused, within bounds.
func TestHostile(t *testing.T) {
	for name, text := range map[string]string{
		"more than 64 levels": strings.Repeat("[", 100000),
		"more than 64 levels of lists and objects": `{"d":` + strings.Repeat(`{"a":`, 200) + "1" + strings.Repeat("}",
			201),
		"more than 32 MiB":                             `{"d":"` + strings.Repeat("x", MaxDoc+1) + `"}`,
		"has the member \"d\" twice":                   `{"d":[1],"d":[2]}`,
		"finds no row":                                 `{"error":"no such device"}`,
		"ends before its end":                          `{"d":[{"v":1},`,
		"not JSON that can be read (invalid character": `{"d":[{"v":1}]} trailing`,
	} {
		_, _, err := all(text, Spec{Rows: "$.d[*]"}, "$.d[*].v")
		var fe *emit.FileError
		if !errors.As(err, &fe) || !strings.Contains(err.Error(), name) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// endless is a list that never ends, of elements of one size.
type endless struct{ n, size int }

func (e *endless) Read(p []byte) (int, error) {
	n := 0
	for n < len(p) {
		switch k := e.n % e.size; {
		case e.n == 0:
			p[n] = '['
		case k == 0:
			p[n] = ','
		case k == 1:
			p[n] = '"'
		case k == e.size-1:
			p[n] = '"'
		default:
			p[n] = 'x'
		}
		n++
		e.n++
	}
	return n, nil
}

// TestLongListIsReadByElements: a list of hundreds of megabytes is no document
// that must be in memory at once.
func TestLongListIsReadByElements(t *testing.T) {
	e := emit.New(&rejects{}, time.Time{})
	defer e.Leave()
	table, err := New("x", &endless{size: 1 << 20}, Spec{Rows: "$[*]"}, []string{"$[*]"}, ".", e)
	if err != nil {
		t.Fatal(err)
	}
	for range MaxDoc>>20 + 8 {
		if _, err := table.Next(); err != nil {
			t.Fatal(err)
		}
	}
}

func FuzzTable(f *testing.F) {
	f.Add([]byte(`{"d":[{"v":1,"t":"2026-01-13T10:00:00Z"}]}`), "$.d[*]", "$.d[*].v")
	f.Add([]byte("{\"v\":1}\n{\"v\":NaN}\n"), "$", "$.v")
	f.Add([]byte(`[[1,2],[3,4]]`), "$[*]", "$[*][1]")
	f.Add([]byte(`{"2026-01-13":1}`), "$[*]", "key")
	f.Fuzz(func(t *testing.T, data []byte, rows, column string) {
		if len(data) > 8<<10 || len(rows)+len(column) > 200 {
			return
		}
		_, _, _ = all(string(data), Spec{Rows: rows}, column)
		_, _, _ = all(string(data), Spec{Lists: rows}, column)
		ways, err := Survey(bytes.NewReader(data))
		if err != nil {
			return
		}
		for _, w := range ways {
			var paths []string
			for _, c := range w.Columns {
				paths = append(paths, c.Path)
			}
			if bad := Check(w.Spec, paths); len(bad) > 0 {
				t.Fatalf("a path that the survey gave is refused: %v", bad[0])
			}
		}
	})
}
