package parq

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"testing"
)

func sample(rows int, null func(int) bool) []Column {
	cols := []Column{
		{Name: "i64", Type: Int64}, {Name: "i32", Type: Int32}, {Name: "day", Type: Date}, {Name: "at", Type: Timestamp},
		{Name: "f", Type: Float64}, {Name: "s", Type: String}, {Name: "b", Type: Bool},
	}
	for _, c := range cols {
		c.Name += "_null"
		c.Nullable = true
		c.Valid = make([]bool, 0, rows)
		cols = append(cols, c)
	}
	for i := range cols {
		c := &cols[i]
		for r := range rows {
			isNull := c.Nullable && null(r)
			v := int64(r*r%1000003 - 5000)
			if isNull {
				v = 0
			}
			switch c.Type {
			case Float64:
				c.Float = append(c.Float, float64(v)/7)
			case String:
				s := fmt.Sprint("text ", v%5003)
				if isNull {
					s = ""
				}
				c.Text = append(c.Text, s)
			case Bool:
				c.Flag = append(c.Flag, v%3 == 0 && !isNull)
			default:
				c.Int = append(c.Int, v)
			}
			if c.Nullable {
				c.Valid = append(c.Valid, !isNull)
			}
		}
	}
	return cols
}

// The cases at which the library is known to stumble: nothing, one row, all
// null, and more than a row group.
func TestTableComesBack(t *testing.T) {
	for _, rows := range []int{0, 1, 300, RowGroup + 17} {
		for name, null := range map[string]func(int) bool{
			"all":  func(int) bool { return true },
			"none": func(int) bool { return false },
			"some": func(i int) bool { return i%3 == 1 },
			"run":  func(i int) bool { return i > 100 },
		} {
			for _, codec := range []Codec{Snappy, Zstd} {
				want := sample(rows, null)
				var a, b bytes.Buffer
				if err := WriteTable(&a, codec, want); err != nil {
					t.Fatalf("%d rows, %s null: %v", rows, name, err)
				}
				if err := WriteTable(&b, codec, want); err != nil {
					t.Fatal(err)
				}
				if !bytes.Equal(a.Bytes(), b.Bytes()) {
					t.Errorf("%d rows, %s null: the same columns gave other bytes", rows, name)
				}
				path := filepath.Join(t.TempDir(), "t.parquet")
				if err := os.WriteFile(path, a.Bytes(), 0o644); err != nil {
					t.Fatal(err)
				}
				got, err := ReadTable(path)
				if err != nil {
					t.Fatalf("%d rows, %s null: %v", rows, name, err)
				}
				for i := range want {
					if want[i].Len() == 0 {
						want[i] = Column{Name: want[i].Name, Type: want[i].Type, Nullable: want[i].Nullable}
					}
				}
				if !reflect.DeepEqual(want, got) {
					t.Fatalf("%d rows, %s null: the columns came back changed", rows, name)
				}
			}
		}
	}
}

func TestTableRefusesWhatIsNotFinite(t *testing.T) {
	for _, f := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		if err := WriteTable(&bytes.Buffer{}, Snappy, []Column{{Name: "f", Type: Float64, Float: []float64{f}}}); err == nil {
			t.Errorf("%v was written", f)
		}
		null := []Column{{Name: "f", Type: Float64, Float: []float64{f}, Valid: []bool{false}}}
		if err := WriteTable(&bytes.Buffer{}, Snappy, null); err != nil {
			t.Errorf("null beside %v: %v", f, err)
		}
	}
	if err := WriteTable(&bytes.Buffer{}, Snappy, []Column{{Name: "i", Type: Int32, Int: []int64{1 << 31}}}); err == nil {
		t.Error("an int32 beyond 32 bits was written")
	}
	uneven := []Column{{Name: "i", Type: Int64, Int: []int64{1}}, {Name: "j", Type: Int64}}
	if err := WriteTable(&bytes.Buffer{}, Snappy, uneven); err == nil {
		t.Error("columns of unequal length were written")
	}
}
