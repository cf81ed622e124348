package delimited

import (
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"runtime"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"pgregory.net/rapid"

	"wane/ingest/decode/emit"
	"wane/ingest/reading"
	"wane/ingest/source"
)

type tally struct {
	readings, rejects int64
	text              strings.Builder
	keep              bool
}

func (s *tally) Readings(b *reading.Batch) error {
	s.readings += int64(b.Len())
	if s.keep {
		for i := range b.Len() {
			fmt.Fprintln(&s.text, b.Series[b.Of[i]], b.Time[i], b.Value[i], b.Line[i])
		}
	}
	return nil
}

func (s *tally) Reject(r reading.Reject) error {
	s.rejects++
	if len(r.Text) > 3*200 {
		return errors.New("a reject keeps too much text")
	}
	if s.keep {
		fmt.Fprintln(&s.text, r)
	}
	return nil
}

func load(t testing.TB, text string) *source.Description {
	t.Helper()
	d, err := source.Load([]byte("name: x\nfiles: '*'\n"+text), "x.yaml")
	if err != nil {
		t.Fatal(err)
	}
	return d
}

const wideText = "zone: Europe/Amsterdam\nmissingValues: [-9999, NAN]\ntime: {columns: t, format: yyyy-MM-dd HH:mm}\nsensor: s\ncolumns: [{name: a, channel: a}, {name: b, channel: b}]\n"

// TestSplitAgainstLibrary cuts random records that encoding/csv wrote and wants
// its cells back.
func TestSplitAgainstLibrary(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		delim := rapid.SampledFrom([]rune{',', ';', '\t', '|'}).Draw(t, "delim")
		rows := rapid.SliceOfN(rapid.SliceOfN(rapid.StringMatching("[a-c0-9 ,;|\"\n.é-]{0,6}"), 2, 5), 1, 6).Draw(t, "rows")
		var b strings.Builder
		w := csv.NewWriter(&b)
		w.Comma = delim
		if err := w.WriteAll(rows); err != nil {
			t.Fatal(err)
		}
		l := newLines(iotest.OneByteReader(strings.NewReader(b.String())))
		s := splitter{delim: byte(delim), quote: '"'}
		for _, row := range rows {
			_, open, err := l.record(&s)
			if err != nil || open {
				t.Fatalf("%q: open %v, %v", b.String(), open, err)
			}
			if len(s.cells) != len(row) {
				t.Fatalf("%q: %d cells, want %d", b.String(), len(s.cells), len(row))
			}
			for i := range row {
				if got, want := string(s.cell(i)), string(trim([]byte(row[i]))); got != want {
					t.Fatalf("%q cell %d: %q, want %q", b.String(), i, got, want)
				}
			}
		}
		if _, _, err := l.record(&s); err != io.EOF {
			t.Fatal(err)
		}
	})
}

// TestEveryCellIsAccountedFor: readings, rejects and blanks add up to the cells
// of a random wide file.
func TestEveryCellIsAccountedFor(t *testing.T) {
	d := load(t, wideText)
	rapid.Check(t, func(t *rapid.T) {
		var b strings.Builder
		b.WriteString("t,a,b\n")
		want, lines := int64(0), int64(0)
		at := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
		for range rapid.IntRange(0, 30).Draw(t, "lines") {
			at = at.Add(5 * time.Minute)
			stamp := at.Format("2006-01-02 15:04")
			if rapid.IntRange(0, 9).Draw(t, "bad") == 0 {
				stamp = "never"
				lines++
			} else {
				want += 2
			}
			cell := rapid.SampledFrom([]string{"812.5", "-9999", "NAN", "", "oops", "1e400", "\"7\""})
			fmt.Fprintf(&b, "%s,%s,%s\n", stamp, cell.Draw(t, "a"), cell.Draw(t, "b"))
		}
		s := &tally{}
		e := emit.New(s, time.Time{})
		if err := Decode(context.Background(), strings.NewReader(b.String()), "x", "x", d, e); err != nil {
			t.Fatal(err)
		}
		if s.readings+s.rejects+e.Blank != want+lines || e.Rows != s.readings+s.rejects {
			t.Fatalf("%d readings, %d rejects, %d blank: want %d cells and %d lines\n%s", s.readings, s.rejects, e.Blank, want,
				lines, b.String())
		}
	})
}

// endless gives a pattern for ever, up to n bytes.
type endless struct {
	pattern string
	n       int64
}

func (e *endless) Read(p []byte) (int, error) {
	if e.n <= 0 {
		return 0, io.EOF
	}
	n := 0
	for n < len(p) && e.n > 0 {
		k := copy(p[n:], e.pattern)
		n += k
		e.n -= int64(k)
	}
	return n, nil
}

// TestHostile decodes large hostile streams and bounds the memory in use.
func TestHostile(t *testing.T) {
	d := load(t, wideText)
	long := load(t, "layout: long\nzone: UTC\ntime: {columns: t, format: yyyy-MM-dd HH:mm}\nlong: {sensor: s, channel: c, value: v}\n")
	for name, c := range map[string]struct {
		d      *source.Description
		header string
		body   string
		mib    int64
		err    bool
	}{
		"one endless line":     {d, "t,a,b\n", strings.Repeat("9", 4096), 48, false},
		"zero bytes":           {d, "t,a,b\n", strings.Repeat("\x00", 4096), 48, false},
		"delimiters":           {d, "t,a,b\n", strings.Repeat(",", 4096), 48, false},
		"quotes":               {d, "t,a,b\n", strings.Repeat(`"`, 4095) + "x", 48, false},
		"an open quote a line": {d, "t,a,b\n", strings.Repeat("2026-01-01 00:00,\"1,2\n", 100), 4, false},
		"line ends":            {d, "t,a,b\n", strings.Repeat("\n", 4096), 8, false},
		"columns":              {d, "", strings.Repeat("t,", 2048), 48, true},
	} {
		s := &tally{}
		e := emit.New(s, time.Time{})
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		err := Decode(context.Background(), io.MultiReader(strings.NewReader(c.header), &endless{c.body, c.mib << 20}), "x",
			"x", c.d, e)
		runtime.ReadMemStats(&after)
		if (err != nil) != c.err {
			t.Errorf("%s: %v", name, err)
		}
		if used := after.Sys - before.Sys; used > 100<<20 && after.Sys > before.Sys {
			t.Errorf("%s: memory grew by %d MiB", name, used>>20)
		}
		if s.readings > 0 {
			t.Errorf("%s: %d readings", name, s.readings)
		}
	}
	// More sensors than any site has.
	var b strings.Builder
	b.WriteString("t,s,c,v\n")
	for i := range maxNames + 500 {
		fmt.Fprintf(&b, "2026-01-01 00:00,s%d,c,1\n", i)
	}
	s := &tally{}
	e := emit.New(s, time.Time{})
	if err := Decode(context.Background(), strings.NewReader(b.String()), "x", "x", long, e); err != nil ||
		s.readings != maxNames || s.rejects != 500 {
		t.Error(s.readings, s.rejects, err)
	}
}

func TestHeaderErrors(t *testing.T) {
	for _, c := range []struct{ desc, text, want string }{
		{wideText, "t,a\n", `x:1: no column is named "b"; mend the description, or the delimiter; columns here: "t", "a"`},
		{wideText, "t,a,b,a\n", `x:1: 2 columns or more are named "a"; use positions (2, 4, …)`},
		{wideText, "t;a;b\n", `x:1: no column is named "t"; mend the description, or the delimiter; columns here: "t;a;b"`},
		{wideText, "t,a,b\xff\n", "x:1: the header is not UTF-8; set encoding: windows-1252, or whatever the logger's software writes"},
		{wideText, "t,\"a,b\n1,2\n", "x:1: a quote in the header is never closed; set quoteChar: none if quotes mean nothing here"},
		{wideText, "t,a,b\x00\n", "x:1: the header has zero bytes in it; set encoding: utf-16le if it is that, or export the file again"},
		{strings.Replace(wideText, "columns: [{name: a", "columns: [{position: 9", 1), "t,a,b\n",
			"x:1: the header has 3 columns, the description asks for column 9; mend the position, or the delimiter"},
		{strings.Replace(wideText, "{name: a", "{match: '^c'", 1), "t,a,b\n",
			`x:1: no column fits the pattern ^c; columns here: "t", "a", "b"`},
		{strings.Replace(wideText, "{name: a", "{match: '[ab]'", 1), "t,a,b\n",
			`x:1: column "b" is described twice; mend columns`},
		{strings.Replace(wideText, "{name: a", "{position: 1", 1), "t,a,b\n",
			`x:1: column "t" is described as time and as value; mend columns or time`},
		{"sensorFrom: {fileName: '^bay(.)'}\n" + strings.Replace(wideText, "sensor: s\n", "", 1), "t,a,b\n",
			"x: the file name does not fit sensorFrom.fileName (^bay(.)), so the sensor is not known; name the file as usual, or mend the pattern"},
		{"headerStartsWith: Time\n" + wideText, "t,a,b\n",
			`x: no line begins with "Time"; mend headerStartsWith, or copy the file again`},
	} {
		err := Decode(context.Background(), strings.NewReader(c.text), "x", "x", load(t, c.desc),
			emit.New(&tally{}, time.Time{}))
		if err == nil || err.Error() != c.want {
			t.Errorf("%q:\n got %v\nwant %s", c.text, err, c.want)
		}
	}
}

// FuzzDecode wants the same result however the stream is cut, and no panic.
func FuzzDecode(f *testing.F) {
	f.Add("t,a,b\n2026-01-01 00:00,1,2\n", byte(0))
	f.Add("t,a,b\n2026-10-25 02:30,1,\"2\n3\"\n2026-10-25 02:00,1,2", byte(1))
	f.Add("# x\nt;s;c;v\n2026-01-01 00:00;q;p;1,5\nt;c;s;v\n2026-01-01 00:00;p;q;1,5\n", byte(2))
	f.Add("\n\nTime x\nt,a,b\n,u,v\n2026-01-01 00:00,\"1,2\n\"\n", byte(3))
	descriptions := []*source.Description{
		load(f, wideText),
		load(f, "headerRowCount: 2\nunitRow: 2\nshortLines: blank\ngroupChar: ','\n"+wideText),
		load(f, "layout: long\ndelimiter: ';'\ndecimalChar: ','\ncommentPrefix: '#'\nzone: Europe/Amsterdam\ntime: {columns: t, format: yyyy-MM-dd HH:mm}\nlong: {sensor: s, channel: c, value: v}\n"),
		load(f, "headerStartsWith: t\nfooterPrefixes: [Total]\n"+wideText),
	}
	f.Fuzz(func(t *testing.T, text string, which byte) {
		d := descriptions[int(which)%len(descriptions)]
		run := func(r io.Reader) string {
			s := &tally{keep: true}
			e := emit.New(s, time.Time{})
			err := Decode(context.Background(), r, "x", "x", d, e)
			if ferr := e.Flush(); ferr != nil {
				t.Fatal(ferr)
			}
			if e.Rows != s.readings+s.rejects {
				t.Fatalf("%d rows, %d readings, %d rejects", e.Rows, s.readings, s.rejects)
			}
			return fmt.Sprint(s.text.String(), e.Counts, err)
		}
		if a, b := run(strings.NewReader(text)), run(iotest.OneByteReader(strings.NewReader(text))); a != b {
			t.Fatalf("whole:\n%s\nbyte by byte:\n%s", a, b)
		}
	})
}
