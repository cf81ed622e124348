package parq

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"testing"

	"pgregory.net/rapid"

	"wane/ingest/reading"
)

// Whatever the numbers, the library's own decoder reads back what was encoded.
func TestEncodingsByTheLibrary(t *testing.T) {
	path := filepath.Join(t.TempDir(), "r.parquet")
	rapid.Check(t, func(t *rapid.T) {
		step := rapid.SampledFrom([]int64{1, 3e8, 1 << 40, math.MaxInt64 / 400}).Draw(t, "step")
		n := rapid.IntRange(1, 300).Draw(t, "n")
		times := make([]int64, n)
		values := make([]int64, n)
		clash := make([]bool, n)
		names := make([]string, n)
		for i := range n {
			times[i] = rapid.Int64Range(-step, step).Draw(t, "time")
			values[i] = rapid.Int64Range(-999_999_999_999_999_999, 999_999_999_999_999_999).Draw(t, "value") / step
			clash[i] = rapid.Bool().Draw(t, "clash")
			names[i] = rapid.SampledFrom([]string{"a", "b", "", "a long name", "ü"}).Draw(t, "name")
		}
		var buf bytes.Buffer
		w := NewReadings(&buf, Codec(rapid.IntRange(0, 1).Draw(t, "codec")), 9)
		for i := range n {
			if err := w.Add(reading.Series{Sensor: names[i], Channel: names[n-1-i]}, times[i:i+1], values[i:i+1],
				clash[i:i+1]); err != nil {
				t.Fatal(err)
			}
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, buf.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
		c, err := OpenReadings(path, 9)
		if err != nil {
			t.Fatal(err)
		}
		defer c.Close()
		for i := 0; i < n; {
			s, err := c.Next()
			if err != nil {
				t.Fatal(err)
			}
			for j := range s.Time {
				if s.Series != (reading.Series{Sensor: names[i], Channel: names[n-1-i]}) || s.Time[j] != times[i] ||
					s.Mantissa[j] != values[i] || s.Conflict[j] != clash[i] {
					t.Fatalf("row %d came back as %v %d %d %v", i, s.Series, s.Time[j], s.Mantissa[j], s.Conflict[j])
				}
				i++
			}
		}
	})
}
