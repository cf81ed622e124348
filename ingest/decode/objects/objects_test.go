package objects

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"wane/ingest/decode/emit"
	"wane/ingest/reading"
	"wane/ingest/source"
)

type list []string

func (l *list) Readings(b *reading.Batch) error {
	for i := range b.Len() {
		*l = append(*l, fmt.Sprintf("%s %d %d/%d @%d", b.Series[b.Of[i]], b.Time[i], b.Value[i].Mantissa, b.Value[i].Digits,
			b.Line[i]))
	}
	return nil
}

func (l *list) Reject(r reading.Reject) error {
	*l = append(*l, fmt.Sprintf("! %d %s", r.Line, r.Code))
	return nil
}

func senml(text io.Reader) (list, emit.Counts, error) {
	var l list
	e := emit.New(&l, time.Time{})
	err := SenML(context.Background(), text, "x", "", e)
	if ferr := e.Flush(); err == nil {
		err = ferr
	}
	return l, e.Counts, err
}

// TestExamplesOfRFC8428 reads packs after the pattern of RFC 8428 section 5.1
// (multiple data points with base fields); the numbers are those of the text's
// examples: base time 1276020076.001, currents 1.2 and 1.3, voltage 120.1.
func TestExamplesOfRFC8428(t *testing.T) {
	l, _, err := senml(strings.NewReader(`[
	 {"bn":"urn:dev:ow:10e2073a0108006:","bt":1.276020076001e+09,"bu":"A","bver":5,"n":"voltage","u":"V","v":120.1},
	 {"n":"current","t":-5,"v":1.2},
	 {"n":"current","t":-4,"v":1.3}]`))
	if err != nil {
		t.Fatal(err)
	}
	want := list{
		"urn:dev:ow:10e2073a0108006/voltage 1276020076001000 1201/1 @1",
		"urn:dev:ow:10e2073a0108006/current 1276020071001000 12/1 @2",
		"urn:dev:ow:10e2073a0108006/current 1276020072001000 13/1 @3",
	}
	if diff := cmp.Diff(want, l); diff != "" {
		t.Error(diff)
	}
}

func TestPacksThatAreNone(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{`{"n":"a"}`, "does not begin with ["},
		{`[{"n":"a","v":1} {"n":"b"}]`, "a comma or ] is expected"},
		{`[{"n":"a","v":1},]`, "must begin with {"},
		{`[1,2]`, "must begin with {"},
		{`[{"bver":11,"n":"a","v":1}]`, "later than 10"},
		{`[{"bt":"soon","n":"a","v":1}]`, "bt: the base time is not a number"},
		{`[{"n":"a","v":1]`, "is not JSON"},
		{`[{"n":"` + strings.Repeat("a", maxObject) + `"}]`, "more than 65536 bytes"},
		{`[{"bn":7,"n":"a","v":1}]`, "the base name is not text"},
	} {
		if _, _, err := senml(strings.NewReader(c.text)); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%.60s: %v, want %q", c.text, err, c.want)
		}
	}
}

// TestSumIsExact adds random decimals and compares with integer arithmetic.
func TestSumIsExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := rapid.Int64Range(-1e9, 1e9).Draw(t, "a"), rapid.Int64Range(-1e9, 1e9).Draw(t, "b")
		got, err := sum(reading.Value{Mantissa: a, Digits: 2}, reading.Value{Mantissa: b, Digits: 5})
		if err != nil || got != (reading.Value{Mantissa: a*1000 + b, Digits: 5}) {
			t.Fatal(got, err)
		}
	})
	if _, err := sum(reading.Value{Mantissa: 1<<53 - 1}, reading.Value{Mantissa: 1<<53 - 1}); err == nil {
		t.Error("a sum of 2^54 was accepted")
	}
}

func TestLongLinesAreRejects(t *testing.T) {
	d, err := source.Load([]byte("name: x\nfiles: '*'\nformat: jsonl\n"), "x")
	if err != nil {
		t.Fatal(err)
	}
	good := `{"time":"2026-01-13T10:00:00Z","sensor":"q","channel":"c","value":1}` + "\n"
	var l list
	e := emit.New(&l, time.Time{})
	if err := Lines(context.Background(), strings.NewReader(strings.Repeat("x", 3<<20)+"\n"+good+`{"time":1}`+"\n"+
		`{"value":{},"sensor":"q"}`+"\n[1]\nnull\n"), "x", d, e); err != nil {
		t.Fatal(err)
	}
	want := list{"! 1 line-too-long", "! 3 no-value", "! 4 bad-number", "! 5 bad-json", "! 6 bad-json",
		"q/c 1768298400000000 1/0 @2"}
	if diff := cmp.Diff(want, l); diff != "" {
		t.Error(diff)
	}
}

func FuzzSenML(f *testing.F) {
	f.Add(`[{"bn":"a:","bt":1.7e9,"n":"x","v":1},{"n":"y","t":5,"v":-2.5e-3}]`)
	f.Add(`[{"bn":"a/","bv":20,"bt":1700000000,"n":"x"},{"vs":"on"},{"n":"z","v":1e300}`)
	f.Add(`[{"n":"a\"]}","v":1}]`)
	f.Fuzz(func(t *testing.T, text string) {
		a, ac, aerr := senml(strings.NewReader(text))
		b, bc, berr := senml(iotest.OneByteReader(strings.NewReader(text)))
		if diff := cmp.Diff(a, b); diff != "" || ac != bc || (aerr == nil) != (berr == nil) {
			t.Fatal(diff, ac, bc, aerr, berr)
		}
		if int64(len(a)) != ac.Rows {
			t.Fatalf("%d rows, the sink was given %d", ac.Rows, len(a))
		}
		// What is accepted whole is JSON.
		if aerr == nil && !strings.Contains(strings.Join(a, "\n"), "truncated-file") && text != "" &&
			json.Valid([]byte(text)) == false {
			var dec = json.NewDecoder(strings.NewReader(text))
			var v any
			if dec.Decode(&v) != nil {
				t.Fatalf("%q was taken for a pack", text)
			}
		}
	})
}

func FuzzLines(f *testing.F) {
	f.Add(`{"time":"2026-01-13T10:00:00Z","sensor":"q","channel":"c","value":1.50}` + "\n{}\n")
	d, err := source.Load([]byte("name: x\nfiles: '*'\nformat: jsonl\n"), "x")
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, text string) {
		var l list
		e := emit.New(&l, time.Time{})
		if err := Lines(context.Background(), strings.NewReader(text), "x", d, e); err != nil {
			t.Fatal(err)
		}
		if int64(len(l)) != e.Rows {
			t.Fatalf("%d rows, the sink was given %d", e.Rows, len(l))
		}
	})
}
