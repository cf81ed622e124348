package decode

import (
	"bytes"
	"context"
	"fmt"
	"testing"
	"time"

	"wane/ingest/reading"
)

type discard struct{ n int }

func (d *discard) Readings(b *reading.Batch) error { d.n += b.Len(); return nil }
func (d *discard) Reject(reading.Reject) error     { return nil }

// nightOfFixtures makes lines of one time and fixture with five values each, as
// a site controller writes them.
func nightOfFixtures(lines int) []byte {
	var b bytes.Buffer
	b.WriteString("time,fixture,ppfd,run_hours,supply_v,current_a,ambient_c\n")
	at := time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)
	for i := range lines {
		fmt.Fprintf(&b, "%s,f%04d,%d.%d,%d.%02d,23%d.%d,4.%02d,2%d.%d\n",
			at.Add(time.Duration(i/1000)*5*time.Minute).Format("2006-01-02 15:04:05"), i%1000,
			700+i%97, i%10, 12000+i/1000, i%100, i%7, i%10, i%100, i%9, i%10)
	}
	return b.Bytes()
}

func benchmark(b *testing.B, data []byte, lines int, text string) {
	d := describe(b, text)
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	var sink discard
	for b.Loop() {
		sink.n = 0
		if _, err := File(context.Background(), bytes.NewReader(data), "x.csv", d, &sink); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(lines)*float64(b.N)/b.Elapsed().Seconds(), "rows/s")
	b.ReportMetric(float64(sink.n)*float64(b.N)/b.Elapsed().Seconds(), "readings/s")
}

func BenchmarkWideByFixture(b *testing.B) {
	const lines = 100_000
	benchmark(b, nightOfFixtures(lines), lines, `name: w
files: "*"
zone: Europe/Amsterdam
time: {columns: time, format: yyyy-MM-dd HH:mm:ss}
sensorFrom: {column: fixture}
columns:
  - {name: ppfd, channel: ppfd}
  - {name: run_hours, channel: run_hours}
  - {name: supply_v, channel: supply_v}
  - {name: current_a, channel: current_a}
  - {name: ambient_c, channel: ambient_c}
`)
}

// BenchmarkWideBay reads a bay's logger: time and eight channels a line.
func BenchmarkWideBay(b *testing.B) {
	const lines = 100_000
	var buf bytes.Buffer
	buf.WriteString("time;c1;c2;c3;c4;c5;c6;c7;c8\n")
	at := time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)
	for i := range lines {
		buf.WriteString(at.Add(time.Duration(i) * time.Minute).Format("02.01.2006 15:04"))
		for c := range 8 {
			fmt.Fprintf(&buf, ";%d,%d", 600+(i*7+c)%300, i%10)
		}
		buf.WriteByte('\n')
	}
	benchmark(b, buf.Bytes(), lines, `name: w
files: "*"
delimiter: ";"
decimalChar: ","
missingValues: [-9999, 7999]
zone: "+01:00"
time: {columns: time, format: dd.MM.yyyy HH:mm}
sensor: bay
columns: [{match: '^c(\d)$', channel: "ppfd-{1}"}]
`)
}

func BenchmarkPlainLong(b *testing.B) {
	const lines = 100_000
	var buf bytes.Buffer
	buf.WriteString("time,sensor,channel,value\n")
	at := time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)
	for i := range lines {
		fmt.Fprintf(&buf, "%s,q%03d,ppfd,%d.%d\n", at.Add(time.Duration(i/500)*5*time.Minute).Format(time.RFC3339), i%500,
			600+i%300, i%10)
	}
	data := buf.Bytes()
	b.SetBytes(int64(len(data)))
	var sink discard
	for b.Loop() {
		if _, err := Plain(context.Background(), bytes.NewReader(data), "x.csv", &sink); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(lines)*float64(b.N)/b.Elapsed().Seconds(), "rows/s")
}
