package parq

import (
	"bytes"
	"io"
	"os"
	"path/filepath"
	"reflect"
	"testing"

	"pgregory.net/rapid"
)

// A table read a few rows at a time is the table read at once, columns left out
// or not.
func TestTableCursorReadsTheTable(t *testing.T) {
	dir := t.TempDir()
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.SampledFrom([]int{1, 2, 700, RowGroup + 3}).Draw(t, "rows")
		seed := rapid.IntRange(1, 1000).Draw(t, "seed")
		day := Column{Name: "day", Type: Date, Int: make([]int64, n)}
		level := Column{Name: "level", Type: Float64, Float: make([]float64, n), Valid: make([]bool, n)}
		name := Column{Name: "fixture", Type: String, Text: make([]string, n)}
		for i := range n {
			day.Int[i] = int64(i * seed % 97)
			name.Text[i] = string(rune('a' + i*seed/7%26))
			if level.Valid[i] = i*seed%5 > 0; level.Valid[i] {
				level.Float[i] = float64(i*seed%1013) / 7
			}
		}
		path := filepath.Join(dir, "t.parquet")
		var file bytes.Buffer
		if err := WriteTable(&file, Snappy, []Column{day, level, name}); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, file.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
		names := rapid.SampledFrom([][]string{nil, {"fixture", "level"}}).Draw(t, "names")
		want, err := ReadTable(path, names...)
		if err != nil {
			t.Fatal(err)
		}
		c, err := OpenTable(path, names...)
		if err != nil {
			t.Fatal(err)
		}
		defer c.Close()
		got := make([]Column, len(want))
		for {
			cols, err := c.Next(rapid.SampledFrom([]int{1000, 5000, 1 << 20}).Draw(t, "n"))
			if err == io.EOF {
				break
			}
			if err != nil {
				t.Fatal(err)
			}
			for i, x := range cols {
				g := &got[i]
				g.Name, g.Type, g.Nullable = x.Name, x.Type, x.Nullable
				g.Int, g.Float, g.Text, g.Valid = append(g.Int, x.Int...), append(g.Float, x.Float...), append(g.Text, x.Text...),
					append(g.Valid, x.Valid...)
			}
		}
		if !reflect.DeepEqual(got, want) {
			t.Fatal("the cursor reads another table")
		}
	})
}
