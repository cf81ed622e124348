package decode

import (
	"archive/zip"
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"wane/ingest/reading"
	"wane/ingest/source"
)

// list is a sink that keeps what it is given as lines of text.
type list struct {
	readings []string
	rejects  []string
	reasons  []string
	count    int64
}

func (l *list) Readings(b *reading.Batch) error {
	for i := range b.Len() {
		v := b.Value[i]
		l.count++
		l.readings = append(l.readings, fmt.Sprintf("%s %s %de-%d @%d",
			time.UnixMicro(b.Time[i]).UTC().Format(time.RFC3339Nano), b.Series[b.Of[i]], v.Mantissa, v.Digits, b.Line[i]))
	}
	return nil
}

func (l *list) Reject(r reading.Reject) error {
	l.count++
	l.reasons = append(l.reasons, r.Reason)
	l.rejects = append(l.rejects, fmt.Sprintf("%d %q %s %q", r.Line, r.Column, r.Code, r.Text))
	return nil
}

func describe(t testing.TB, text string) *source.Description {
	t.Helper()
	d, err := source.Load([]byte(text), "test.yaml")
	if err != nil {
		t.Fatal(err)
	}
	return d
}

const wide = `name: w
files: "*"
zone: Europe/Amsterdam
time: {columns: time, format: yyyy-MM-dd HH:mm}
sensor: s
columns: [{name: a, channel: a}, {name: b, channel: b, missingValues: [-9999]}]
`

func run(t testing.TB, d *source.Description, text string, opts ...Option) (*list, Counts, error) {
	t.Helper()
	l := &list{}
	c, err := File(context.Background(), strings.NewReader(text), "f.csv", d, l, opts...)
	if c.Rows != l.count || c.Rejects != int64(len(l.rejects)) {
		t.Errorf("counts %+v, but the sink was given %d, %d rejects", c, l.count, len(l.rejects))
	}
	return l, c, err
}

func check(t *testing.T, l *list, readings, rejects []string) {
	t.Helper()
	if diff := cmp.Diff(readings, l.readings); diff != "" {
		t.Errorf("readings:\n%s", diff)
	}
	if diff := cmp.Diff(rejects, l.rejects); diff != "" {
		t.Errorf("rejects:\n%s", diff)
	}
}

func TestWide(t *testing.T) {
	l, c, err := run(t, describe(t, wide), "time,a,b\n2026-01-05 10:00,1.50,-9999.0\n2026-07-05 10:00,,2\nx,1,2\n2026-07-05 10:05,oops,\"3\"\n")
	if err != nil {
		t.Fatal(err)
	}
	check(t, l, []string{
		"2026-01-05T09:00:00Z s/a 150e-2 @2",
		"2026-07-05T08:00:00Z s/b 2e-0 @3",
		"2026-07-05T08:05:00Z s/b 3e-0 @5",
	}, []string{
		`4 "time" bad-time "x"`,
		`5 "a" bad-number "oops"`,
	})
	if c.Blank != 2 {
		t.Errorf("%+v", c)
	}
}

func TestLinesThatAreNoLines(t *testing.T) {
	d := describe(t, wide)
	long := strings.Repeat("9", 3<<20)
	l, _, err := run(t, d, "time,a,b\n\n2026-01-05 10:00,1\n2026-01-05 10:01,1,2,3\n2026-01-05 10:02,1,2,,\n"+long+
		"\n2026-01-05 10:03,\x001,2\n2026-01-05 10:04,\"1,2\n2026-01-05 10:05,1,2\ntime,a,b\ntime,b,a\n2026-01-05 10:06,1.5,2.5\n2026-01-05 10:07,1.5,2.")
	if err != nil {
		t.Fatal(err)
	}
	check(t, l, []string{
		"2026-01-05T09:02:00Z s/a 1e-0 @5", "2026-01-05T09:02:00Z s/b 2e-0 @5",
		"2026-01-05T09:05:00Z s/a 1e-0 @9", "2026-01-05T09:05:00Z s/b 2e-0 @9",
		"2026-01-05T09:06:00Z s/a 25e-1 @12", "2026-01-05T09:06:00Z s/b 15e-1 @12",
	}, []string{
		`3 "" short-line "2026-01-05 10:00,1"`,
		`4 "" long-line "2026-01-05 10:01,1,2,3"`,
		`6 "" line-too-long "` + long[:200] + `"`,
		`7 "" zero-bytes "2026-01-05 10:03,\x001,2"`,
		`8 "" open-quote "2026-01-05 10:04,\"1,2"`,
		`13 "" truncated-line "2026-01-05 10:07,1.5,2."`,
	})
}

// A last line without its line break may be whole or cut: its last value is put
// aside only where those before tell that it lacks its end.
func TestLastValueWithoutALineBreak(t *testing.T) {
	d := describe(t, wide)
	for _, c := range []struct {
		before, last string
		cut          bool
	}{
		{"812.5 813.25 812.125", "81", true}, {"812.5 813.25", "812.", true}, {"812 815 809", "81", true},
		{"812 815 809", "8", true},
		{"812.50 813.25", "812.5", true}, {"812.5 813 812.25", "812", false}, // whole numbers are among them
		{"812 815 809", "806", false}, {"100 101 100", "99", false}, {"10 11", "9", false}, {"812 0 809", "8", false},
		{"812 815", "0", false}, {"", "8", false},
	} {
		text := "time,a,b\n"
		minute := 0
		for _, v := range strings.Fields(c.before) {
			text += fmt.Sprintf("2026-01-05 10:%02d,1,%s\n", minute, v)
			minute++
		}
		line := fmt.Sprintf("2026-01-05 10:%02d,1,%s", minute, c.last)
		for _, end := range []string{"", "\n"} {
			l, _, err := run(t, d, text+line+end)
			if err != nil {
				t.Fatal(err)
			}
			var want []string
			if c.cut && end == "" {
				want = []string{fmt.Sprintf("%d %q truncated-line %q", minute+2, "", line)}
			}
			if !slices.Equal(l.rejects, want) || len(l.readings) != 2*(minute+1-len(want)) {
				t.Errorf("%s, then %s%q: %q, %d readings", c.before, c.last, end, l.rejects, len(l.readings))
			}
		}
	}
}

// A value that is not 0 is not stored as 0.
func TestTooSmallForItsDecimals(t *testing.T) {
	l, _, err := run(t, describe(t, wide), "time,a,b\n2026-01-05 10:00,1e-308,0.1234567891\n2026-01-05 10:01,0.0000000001,0\n")
	if err != nil {
		t.Fatal(err)
	}
	check(t, l, []string{"2026-01-05T09:00:00Z s/b 123456789e-9 @2", "2026-01-05T09:01:00Z s/b 0e-0 @3"},
		[]string{`2 "a" bad-number "1e-308"`, `3 "a" bad-number "0.0000000001"`})
}

// Nothing of a zip goes by unsaid: a hidden member is a reject that names it.
func TestHiddenMembersAreSaid(t *testing.T) {
	var packed bytes.Buffer
	z := zip.NewWriter(&packed)
	for _, name := range []string{"bay/.night.csv", "day.csv", ".DS_Store"} {
		w, err := z.Create(name)
		if err != nil {
			t.Fatal(err)
		}
		_, _ = w.Write([]byte("time,a,b\n2026-01-05 10:00,1,2\n"))
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	l, c, err := run(t, describe(t, wide), packed.String())
	if err != nil || c.Rows != 3 || c.Rejects != 1 {
		t.Fatal(c, err)
	}
	check(t, l, l.readings, []string{`0 "" hidden-member "bay/.night.csv"`})
}

// Lines are counted in each member of a zip, so its rejects say which; a file by
// itself, or in a gzip, has its own name already.
func TestRejectsNameTheirMember(t *testing.T) {
	var packed bytes.Buffer
	z := zip.NewWriter(&packed)
	for _, name := range []string{"day/one.csv", "two.csv"} {
		w, err := z.Create(name)
		if err != nil {
			t.Fatal(err)
		}
		fmt.Fprintln(w, "time,a,b\nx,1,2")
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	var gzipped bytes.Buffer
	zw := gzip.NewWriter(&gzipped)
	fmt.Fprintln(zw, "time,a,b\nx,1,2")
	if err := zw.Close(); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name, data string
		members    []string
	}{
		{"both.zip", packed.String(), []string{"one.csv: ", "two.csv: "}},
		{"one.csv.gz", gzipped.String(), []string{""}},
		{"one.csv", "time,a,b\nx,1,2\n", []string{""}},
	} {
		l := &list{}
		if _, err := File(context.Background(), strings.NewReader(c.data), c.name, describe(t, wide), l); err != nil {
			t.Fatal(err)
		}
		if len(l.reasons) != len(c.members) {
			t.Fatalf("%s: %q", c.name, l.reasons)
		}
		for i, m := range c.members {
			if want := m + "does not read as"; !strings.HasPrefix(l.reasons[i], want) {
				t.Errorf("%s: %q, want %q", c.name, l.reasons[i], want)
			}
		}
	}
}

func TestTimeBounds(t *testing.T) {
	d := describe(t, wide)
	l, c, err := run(t, d, "time,a,b\n1970-01-01 00:00,1,2\n2026-01-07 10:00,1,\n2026-01-05 10:00,1,\n2026-01-05 09:00,1,\n", Now(time.Date(2026, 1, 5, 12, 0, 0, 0, time.UTC)))
	if err != nil {
		t.Fatal(err)
	}
	check(t, l, []string{"2026-01-05T09:00:00Z s/a 1e-0 @4", "2026-01-05T08:00:00Z s/a 1e-0 @5"}, []string{
		`2 "time" time-too-early "1970-01-01 00:00"`, `3 "time" time-in-future "2026-01-07 10:00"`,
	})
	if c.OutOfOrder != 1 {
		t.Errorf("%+v", c)
	}
}

func TestSinkErrorIsHandedThrough(t *testing.T) {
	want := errors.New("disk full")
	_, err := File(context.Background(), strings.NewReader("time,a,b\n2026-01-05 10:00,1,2\n"), "f.csv", describe(t, wide),
		failing{want})
	if !errors.Is(err, want) {
		t.Error(err)
	}
}

type failing struct{ err error }

func (f failing) Readings(*reading.Batch) error { return f.err }
func (f failing) Reject(reading.Reject) error   { return f.err }

func TestCancelled(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := File(ctx, strings.NewReader("time,a,b\n2026-01-05 10:00,1,2\n"), "f.csv", describe(t, wide),
		&list{}); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
}

func TestKindOf(t *testing.T) {
	for text, want := range map[string]Kind{
		"time,sensor,channel,value\n":                                                 PlainCSV,
		"\ufeffTime , sensor,channel,value\r\n":                                       Unknown,
		"\ufefftime,\"sensor\",channel, value\r\n2026":                                PlainCSV,
		"survey,taken_at,fixture,height_m,row,col,ppfd\n":                             Survey,
		`[{"bn":"urn:dev:x/","bt":1700000000,"n":"ppfd","v":1}]`:                      SenML,
		`{"time":"2026-01-01T00:00:00Z","sensor":"a","channel":"b","value":1}` + "\n": PlainJSON,
		"PAR1xxxx":    PlainParquet,
		"Date,PAR\n1": Unknown,
	} {
		if got, err := KindOf("x", strings.NewReader(text)); got != want || err != nil {
			t.Errorf("%.30q: %s %v, want %s", text, got, err, want)
		}
	}
	if _, err := KindOf("x.csv", strings.NewReader("")); err == nil ||
		err.Error() != "x.csv: the file is empty; export it again" {
		t.Error(err)
	}
}

func TestPlain(t *testing.T) {
	l := &list{}
	c, err := Plain(context.Background(), strings.NewReader("time,sensor,channel,value\n2026-01-05T10:00:00+01:00,q1,ppfd,812.50\n2026-01-05T09:05:00.25Z,q1,ppfd,\n2026-01-05T09:05:00Z,q1,ppfd,x\n"), "p.csv", l)
	if err != nil || c.Rows != 2 || c.Blank != 1 {
		t.Fatal(c, err)
	}
	check(t, l, []string{"2026-01-05T09:00:00Z q1/ppfd 81250e-2 @2"}, []string{`4 "value" bad-number "x"`})
	if _, err := Plain(context.Background(), strings.NewReader("a,b\n1,2\n"), "p.csv", l); !errors.Is(err, ErrNotPlain) {
		t.Error(err)
	}
}
