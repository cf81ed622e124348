package parq

import (
	"bytes"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/apache/arrow/go/v15/parquet"
	"github.com/apache/arrow/go/v15/parquet/file"
)

// Reading a day and a month of loggers by the decodings here, and by the
// library's as a stranger would: each column of a row group at once.
func BenchmarkReadReadings(b *testing.B) {
	for _, c := range []struct {
		name         string
		codec        Codec
		series, rows int
	}{{"day", Snappy, 1000, 288}, {"month", Zstd, 40, 8640}} {
		b.Run(c.name, func(b *testing.B) {
			path := benchFile(b, c.codec, c.series, c.rows)
			n := float64(c.series * c.rows)
			var ours, theirs time.Duration
			for b.Loop() {
				begin := time.Now()
				readAll(b, path)
				ours += time.Since(begin)
				begin = time.Now()
				readByLibrary(b, path)
				theirs += time.Since(begin)
			}
			b.ReportMetric(float64(ours.Nanoseconds())/float64(b.N)/n, "ns/reading")
			b.ReportMetric(float64(theirs.Nanoseconds())/float64(b.N)/n, "library-ns/reading")
			b.ReportMetric(float64(ours)/float64(theirs), "ratio")
			b.ReportMetric(0, "ns/op")
		})
	}
}

// benchFile writes readings with the noise of a light sensor.
func benchFile(b *testing.B, codec Codec, series, n int) string {
	var buf bytes.Buffer
	w := NewReadings(&buf, codec, 2)
	rng := rand.New(rand.NewPCG(1, 2))
	for s := range series {
		time, value := make([]int64, n), make([]int64, n)
		for i := range time {
			time[i] = int64(i) * 300e6
			if i%288 < 192 {
				value[i] = int64(8000 + 20*rng.NormFloat64())
			}
		}
		if err := w.Add(name(s), time, value, nil); err != nil {
			b.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		b.Fatal(err)
	}
	path := filepath.Join(b.TempDir(), fmt.Sprint(codec))
	if err := os.WriteFile(path, buf.Bytes(), 0o644); err != nil {
		b.Fatal(err)
	}
	return path
}

func readAll(b *testing.B, path string) {
	c, err := OpenReadings(path, 2)
	if err != nil {
		b.Fatal(err)
	}
	defer c.Close()
	for {
		if _, err := c.Next(); err == io.EOF {
			return
		} else if err != nil {
			b.Fatal(err)
		}
	}
}

func readByLibrary(b *testing.B, path string) {
	r, f, err := open(path)
	if err != nil {
		b.Fatal(err)
	}
	defer f.Close()
	for i := range r.NumRowGroups() {
		rg := r.RowGroup(i)
		n := min(step, rg.NumRows())
		names, numbers, flags := make([]parquet.ByteArray, n), make([]int64, n), make([]bool, n)
		for col := range colConflict + 1 {
			cr, err := rg.Column(col)
			if err != nil {
				b.Fatal(err)
			}
			for left := rg.NumRows(); left > 0; left -= n {
				n = min(n, left)
				switch cr := cr.(type) {
				case *file.ByteArrayColumnChunkReader:
					_, err = fill(cr.ReadBatch, names[:n], nil)
				case *file.Int64ColumnChunkReader:
					_, err = fill(cr.ReadBatch, numbers[:n], nil)
				case *file.BooleanColumnChunkReader:
					_, err = fill(cr.ReadBatch, flags[:n], nil)
				}
				if err != nil {
					b.Fatal(err)
				}
			}
			n = min(step, rg.NumRows())
		}
	}
}
