package parq

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"testing"

	"wane/ingest/reading"
)

func TestReadingsComeBack(t *testing.T) {
	for _, c := range []struct{ series, rows int }{{0, 0}, {1, 1}, {1, RowGroup}, {3, RowGroup + 1}, {700, 500},
		{2, 200000}} {
		for _, codec := range []Codec{Snappy, Zstd} {
			var buf bytes.Buffer
			w := NewReadings(&buf, codec, 2)
			for s := range c.series {
				time, value, clash := rows(s, c.rows)
				half := c.rows / 2
				if err := w.Add(name(s), time[:half], value[:half], clash[:half]); err != nil {
					t.Fatal(err)
				}
				if err := w.Add(name(s), time[half:], value[half:], clash[half:]); err != nil {
					t.Fatal(err)
				}
			}
			if err := w.Close(); err != nil {
				t.Fatal(err)
			}
			path := filepath.Join(t.TempDir(), "r.parquet")
			if err := os.WriteFile(path, buf.Bytes(), 0o644); err != nil {
				t.Fatal(err)
			}
			if _, err := OpenReadings(path, 3); err == nil {
				t.Error("a file of another scale was opened")
			}
			r, err := OpenReadings(path, 2)
			if err != nil {
				t.Fatal(err)
			}
			defer r.Close()
			if want := int64(c.series * c.rows); r.Rows() != want || w.Rows() != want {
				t.Fatalf("%d and %d rows, want %d", r.Rows(), w.Rows(), want)
			}
			for s := range c.series {
				time, value, clash := rows(s, c.rows)
				for len(time) > 0 {
					got, err := r.Next()
					if err != nil {
						t.Fatal(err)
					}
					if got.Series != name(s) {
						t.Fatalf("series %v, want %v", got.Series, name(s))
					}
					for i := range got.Time {
						if got.Time[i] != time[i] || got.Mantissa[i] != value[i] || got.Conflict[i] != clash[i] {
							t.Fatalf("%v, row %d: %d %d %v", got.Series, i, got.Time[i], got.Mantissa[i], got.Conflict[i])
						}
					}
					time, value, clash = time[len(got.Time):], value[len(got.Time):], clash[len(got.Time):]
				}
			}
			if _, err := r.Next(); err != io.EOF {
				t.Fatalf("after the last: %v", err)
			}
		}
	}
}

func name(s int) reading.Series {
	return reading.Series{Sensor: fmt.Sprintf("q%04d", s/7), Channel: fmt.Sprintf("c%d", s%7)}
}

func rows(s, n int) (time, value []int64, clash []bool) {
	for i := range n {
		time = append(time, int64(i)*300e6+int64(s))
		value = append(value, int64((i*7919+s)%5000)-100)
		clash = append(clash, i%97 == 5)
	}
	return
}

func BenchmarkWriteReadings(b *testing.B) {
	for _, codec := range []Codec{Snappy, Zstd} {
		b.Run(fmt.Sprint(codec), func(b *testing.B) {
			var size int
			for b.Loop() {
				var buf bytes.Buffer
				w := NewReadings(&buf, codec, 2)
				for s := range 1000 {
					time, value, _ := rows(s, 288)
					if err := w.Add(name(s), time, value, nil); err != nil {
						b.Fatal(err)
					}
				}
				if err := w.Close(); err != nil {
					b.Fatal(err)
				}
				size = buf.Len()
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/288000, "ns/reading")
			b.ReportMetric(float64(size)/288000, "bytes/reading")
		})
	}
}
