package delimited

import (
	"context"
	"fmt"
	"io"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"wane/ingest/decode/emit"
	"wane/ingest/reading"
	"wane/ingest/source"
)

// dayCells writes a line of a day: its date and a number a column.
func dayCells(date, sep string, count int) string {
	var b strings.Builder
	b.WriteString(date)
	for k := range count {
		fmt.Fprintf(&b, "%s%d", sep, k)
	}
	return b.String() + "\n"
}

// wall is a tally that also holds each reading against the clock of its place.
type wall struct {
	tally
	loc         *time.Location
	begin, step int
	odd         string // a reading at no time of a day's columns
}

func (w *wall) Readings(b *reading.Batch) error {
	for i := range b.Len() {
		at := time.UnixMicro(b.Time[i]).In(w.loc)
		h, m, s := at.Clock()
		// Clocks of the place kept whole quarters of an hour only from some year on.
		if at.Year() >= 1990 && (h*3600+m*60+s-w.begin)%w.step != 0 {
			w.odd = fmt.Sprintf("line %d: %s", b.Line[i], at)
		}
	}
	return w.tally.Readings(b)
}

// FuzzDays wants of a day a line the same result however the stream is cut, no panic, a word
// on every cell, and each reading at the time of day of one of the columns.
func FuzzDays(f *testing.F) {
	hours := "d" + strings.Repeat(",h", 24) + "\n"
	f.Add(hours+dayCells("2026-07-01", ",", 24)+dayCells("2026-03-29", ",", 24)+dayCells("2026-10-25", ",", 24), byte(0))
	f.Add(hours+dayCells("2026-07-01", ",", 5)+dayCells("x", ",", 24)+"\"2026-07-01\n\",1\n", byte(0))
	f.Add("s;d;q1;q2;q3;q4\na;01.07.26;1,5;;-;x\nb;31.12.26;1;2;3;4;5\na;25.10.26;1;2;3", byte(1))
	f.Add(dayCells("20260701", "\t", 48)+dayCells("20260329", "\t", 47), byte(2))
	cases := []struct {
		d           *source.Description
		zone        string
		begin, step int
	}{
		{load(f, "layout: days\nzone: Europe/Amsterdam\nsensor: s\nchannel: c\ntime: {columns: d, format: yyyy-MM-dd}\n"+
			"shortLines: blank\ndays: {first: 2, count: 24}\n"), "Europe/Amsterdam", 0, 3600},
		{load(f, "layout: days\nzone: Australia/Lord_Howe\nsensorFrom: {column: s}\nchannel: c\ndelimiter: ';'\n"+
			"decimalChar: ','\ntime: {columns: d, format: dd.MM.yy}\ndays: {first: q1, count: 4, begin: '06:00'}\n"),
			"Australia/Lord_Howe", 6 * 3600, 6 * 3600},
		{load(f, "layout: days\nzone: '+05:45'\nsensor: s\nchannel: c\ndelimiter: tab\nheaderRowCount: 0\n"+
			"time: {columns: 1, format: yyyyMMdd}\ndays: {first: 2, count: 48, begin: '00:30'}\n"), "Asia/Kathmandu",
			1800, 1800},
	}
	f.Fuzz(func(t *testing.T, text string, which byte) {
		c := cases[int(which)%len(cases)]
		loc, err := time.LoadLocation(c.zone)
		if err != nil {
			t.Fatal(err)
		}
		run := func(r io.Reader) string {
			s := &wall{tally: tally{keep: true}, loc: loc, begin: c.begin, step: c.step}
			e := emit.New(s, time.Time{})
			err := Decode(context.Background(), r, "x", "x", c.d, e)
			if ferr := e.Flush(); ferr != nil {
				t.Fatal(ferr)
			}
			if e.Rows != s.readings+s.rejects {
				t.Fatalf("%d rows, %d readings, %d rejects", e.Rows, s.readings, s.rejects)
			}
			if s.odd != "" {
				t.Fatalf("a reading at no time of the columns: %s", s.odd)
			}
			return fmt.Sprint(s.text.String(), e.Counts, err)
		}
		if a, b := run(strings.NewReader(text)), run(iotest.OneByteReader(strings.NewReader(text))); a != b {
			t.Fatalf("whole:\n%s\nbyte by byte:\n%s", a, b)
		}
	})
}
