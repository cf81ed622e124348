package delimited

import (
	"bytes"
	"context"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"wane/ingest/decode/emit"
	"wane/ingest/source"
)

// dialect is a kind of file with lines of it that are clean.
type dialect struct {
	name   string
	d      *source.Description
	header string
	line   func(i int) string
}

func dialects(t testing.TB) []dialect {
	at := func(i int, form string) string {
		// Across the night when the clocks of Amsterdam are put back.
		return time.Date(2026, 10, 24, 22, 0, 0, 0, time.UTC).Add(time.Duration(i) * 20 * time.Minute).Format(form)
	}
	const wide = "zone: Europe/Amsterdam\ntime: {columns: t, format: yyyy-MM-dd HH:mm}\nmissingValues: [-9999, NAN]\n"
	return []dialect{
		{"wide", load(t, "sensorFrom: {column: s}\n"+wide+"columns: [{name: b, channel: b}, {name: a, channel: a}]\n"),
			"t,s,x,a,b\n",
			func(i int) string {
				return fmt.Sprintf("%s,s%d,,%d.%d,%d\n", at(i/3, "2006-01-02 15:04"), i%3, i, i%10, -i)
			}},
		{"quoted", load(t, wide+"sensor: s\nfooterPrefixes: [Total]\ncommentPrefix: '#'\ncolumns: [{name: a, channel: a}, {name: b, channel: b, missingValues: [7999]}]\n"), "\"t\",\"n\",\"a\",\"b\"\n",
			func(i int) string { return fmt.Sprintf("\"%s\",%d,%d.5,\"NAN\"\n", at(i, "2006-01-02 15:04"), i, i) }},
		{"flags", load(t, "sensor: s\nshortLines: blank\ndelimiter: ';'\ndecimalChar: ','\ngroupChar: '.'\nzone: '+01:00'\ntime: {columns: [d, t], format: 'dd.MM.yyyy HH:mm:ss'}\ncolumns: [{name: a, channel: a, flag: f, goodFlags: ['', ok]}, {name: b, channel: b, flag: f, goodFlags: [ok]}]\n"), "d;t;a;f;b\n",
			func(i int) string {
				return fmt.Sprintf("%s;1.%03d,25;ok;%d,%02d;\r\n", at(i, "02.01.2006;15:04:05"), i, i, i)
			}},
		{"blanks", load(t, "sensor: s\ndelimiter: ' '\nzone: UTC\ntime: {columns: [d, t], format: 'yyyy-MM-dd HHmm'}\ncolumns: [{name: a, channel: a}, {name: b, channel: b}]\n"), "d t a b\n",
			func(i int) string { return fmt.Sprintf("%s %d %d.25\n", at(i, "2006-01-02 1504"), i, i) }},
		{"long", load(t, "layout: long\ntime: {columns: t, format: rfc3339}\nmissingValues: ['']\nlong: {sensor: s, channel: c, value: v}\n"), "t,s,c,v\n",
			func(i int) string {
				return fmt.Sprintf("%s,q%d,c%d,%d.%d\n", at(i/6, time.RFC3339), i/2%3, i%2, i, i%10)
			}},
		{"long with flags", load(t, "layout: long\nheaderRowCount: 0\nchannel: c\nquoteChar: \"'\"\nzone: Europe/Amsterdam\ntime: {columns: 3, format: 'MM/dd/yy hh:mm a'}\nmissingValues: [0, x]\nlong: {sensor: 1, value: 2, flag: 4, goodFlags: [A]}\n"), "",
			func(i int) string {
				return fmt.Sprintf("'q,%d', %d.0e1 ,%s,A\n", i%2, i, at(i/2, "01/02/06 03:04 PM"))
			}},
	}
}

// transcript is what a sink was given: what came, in order, whatever the batches.
func transcript(t testing.TB, d *source.Description, text string, general bool, size int) string {
	s := &tally{keep: true}
	e := emit.New(s, time.Date(2026, 12, 31, 0, 0, 0, 0, time.UTC))
	tab := newTable(&pieces{[]byte(text), size}, "x", "x", d, e)
	tab.clean.off = general
	err := tab.decode(context.Background())
	if ferr := e.Flush(); ferr != nil {
		t.Fatal(ferr)
	}
	return fmt.Sprintf("%s%+v %v", s.text.String(), e.Counts, err)
}

// pieces gives its bytes in pieces of one size.
type pieces struct {
	data []byte
	size int
}

func (p *pieces) Read(b []byte) (int, error) {
	if len(b) > p.size {
		b = b[:p.size]
	}
	r := bytes.NewReader(p.data)
	n, err := r.Read(b)
	p.data = p.data[n:]
	return n, err
}

// sameBothWays wants the same readings, rejects and counts from a file whether
// its clean lines are read as such or not.
func sameBothWays(t testing.TB, d *source.Description, text string) {
	t.Helper()
	want := transcript(t, d, text, true, 1<<20)
	for _, size := range []int{1 << 20, 61} {
		if got := transcript(t, d, text, false, size); got != want {
			t.Fatalf("%q\nclean lines as such, %d bytes at a time:\n%s\nthe general way:\n%s", text, size, got, want)
		}
	}
}

// TestCleanLinesAreClean wants the dialects' own lines to be read in one pass,
// all but the first of each sensor: else the tests here test nothing.
func TestCleanLinesAreClean(t *testing.T) {
	for _, c := range dialects(t) {
		var b strings.Builder
		b.WriteString(c.header)
		for i := range 60 {
			b.WriteString(c.line(i))
		}
		sameBothWays(t, c.d, b.String())
		s := &tally{}
		tab := newTable(strings.NewReader(b.String()), "x", "x", c.d, emit.New(s, time.Time{}))
		if err := tab.decode(context.Background()); err != nil {
			t.Fatal(err)
		}
		if tab.clean.taken < 50 {
			t.Errorf("%s: %d of 60 lines are read as clean", c.name, tab.clean.taken)
		}
	}
}

// mutations are pieces that turn a line into an odd one.
var mutations = []string{
	"", "\"", "'", ",", ";", ".", " ", "-", "+", "e", "E5", "0", "9", "99999999999999999", "\x00", "\n", "\r", "\r\n",
	"\t", "\u00a0", "\xc2", "\xa0", "\xff",
	"NAN", "-9999", "-9999.0", "7999", "x", "ok", "A", "t,s,x,a,b", "t,s,x,b,a", "\"t\",\"n\",\"b\",\"a\"", "#", "Total",
	"24:00", "02:30", "1969", "2099", "s0", "q1", "q,1", ",,,", ".5", "5.", "''", "\"\"", "\"a,b\"", " \"1\" ",
}

// mutate changes a text at a few places.
func mutate(rng *rand.Rand, text string) string {
	for range 1 + rng.IntN(4) {
		i := rng.IntN(len(text) + 1)
		j := min(len(text), i+rng.IntN(4)*rng.IntN(4))
		switch m := mutations[rng.IntN(len(mutations))]; rng.IntN(5) {
		case 0: // a piece twice
			text = text[:i] + text[i:j] + text[i:]
		case 1, 2:
			text = text[:i] + m + text[i:]
		default:
			text = text[:i] + m + text[j:]
		}
	}
	return text
}

func TestCleanIsGeneral(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 11))
	all := dialects(t)
	rounds := 6000
	if testing.Short() {
		rounds = 1000
	}
	for range rounds {
		c := all[rng.IntN(len(all))]
		var b strings.Builder
		b.WriteString(c.header)
		for i := range 12 {
			line := c.line(i)
			if rng.IntN(3) == 0 {
				line = mutate(rng, line)
			}
			b.WriteString(line)
		}
		sameBothWays(t, c.d, b.String())
	}
}

func FuzzCleanIsGeneral(f *testing.F) {
	all := dialects(f)
	rng := rand.New(rand.NewPCG(3, 7))
	for k, c := range all {
		text := c.header + c.line(0) + c.line(1) + c.line(2) + c.line(3)
		f.Add(text, byte(k))
		f.Add(mutate(rng, text), byte(k))
	}
	f.Fuzz(func(t *testing.T, text string, which byte) {
		sameBothWays(t, all[int(which)%len(all)].d, text)
	})
}
