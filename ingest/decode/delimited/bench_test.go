package delimited

import (
	"context"
	"encoding/csv"
	"fmt"
	"io"
	"strconv"
	"strings"
	"testing"
	"time"

	"wane/ingest/decode/emit"
	"wane/ingest/reading"
	"wane/ingest/source"
)

type discard struct{ n int }

func (d *discard) Readings(b *reading.Batch) error { d.n += b.Len(); return nil }
func (d *discard) Reject(reading.Reject) error     { return nil }

// BenchmarkDecode reads a wide and a long file and prints the time a value, and
// as a ratio to that of encoding/csv, time.Parse and strconv.ParseFloat on the
// same text, which check nothing else and keep no printed digits.
func BenchmarkDecode(b *testing.B) {
	const lines = 20_000
	at := time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)
	const form = "2006-01-02 15:04:05"
	var wide, long strings.Builder
	wide.WriteString("t,s,a,b,c,d,e\n")
	long.WriteString("t,s,c,v\n")
	for i := range lines {
		fmt.Fprintf(&wide, "%s,f%04d,%d.%d,%d.%02d,23%d.%d,4.%02d,%d\n",
			at.Add(time.Duration(i/25)*5*time.Minute).Format(form), i%25,
			700+i%97, i%10, 12000+i/1000, i%100, i%7, i%10, i%100, i%101)
		fmt.Fprintf(&long, "%s,q%03d,ppfd,%d.%d\n", at.Add(time.Duration(i/25)*5*time.Minute).Format(form), i%25, 600+i%300,
			i%10)
	}
	const stamp = "zone: UTC\ntime: {columns: t, format: yyyy-MM-dd HH:mm:ss}\n"
	for _, c := range []struct {
		name, text string
		d          *source.Description
		from       int // the first value column
		values     int // a line
	}{
		{"wide", wide.String(), load(b, stamp+"sensorFrom: {column: s}\ncolumns: [{name: a, channel: a}, {name: b, channel: b}, {name: c, channel: c}, {name: d, channel: d}, {name: e, channel: e}]\n"), 2, 5},
		{"long", long.String(), load(b, stamp+"layout: long\nlong: {sensor: s, channel: c, value: v}\n"), 3, 1},
	} {
		b.Run(c.name, func(b *testing.B) {
			var ours, plain time.Duration
			for b.Loop() {
				begin := time.Now()
				var sink discard
				if err := Decode(context.Background(), strings.NewReader(c.text), "x", "x", c.d,
					emit.New(&sink, time.Time{})); err != nil || sink.n != lines*c.values {
					b.Fatal(sink.n, err)
				}
				half := time.Now()
				if n := plainly(b, c.text, form, c.from); n != lines*c.values {
					b.Fatal(n)
				}
				ours, plain = ours+half.Sub(begin), plain+time.Since(half)
			}
			n := float64(b.N * lines * c.values)
			b.ReportMetric(float64(ours)/n, "ns/value")
			b.ReportMetric(float64(plain)/n, "plain-ns/value")
			b.ReportMetric(float64(ours)/float64(plain), "ours/plain")
		})
	}
}

func plainly(b *testing.B, text, form string, from int) (n int) {
	r := csv.NewReader(strings.NewReader(text))
	r.ReuseRecord = true
	if _, err := r.Read(); err != nil {
		b.Fatal(err)
	}
	for {
		row, err := r.Read()
		if err == io.EOF {
			return n
		}
		if err != nil {
			b.Fatal(err)
		}
		if _, err := time.Parse(form, row[0]); err != nil {
			b.Fatal(err)
		}
		for _, cell := range row[from:] {
			if _, err := strconv.ParseFloat(cell, 64); err != nil {
				b.Fatal(err)
			}
			n++
		}
	}
}
