//go:build ignore

// Command make writes plain.parquet, the one file of this folder that no text
// editor makes: go run make.go
package main

import (
	"log"
	"os"

	"github.com/apache/arrow/go/v15/parquet"
	"github.com/apache/arrow/go/v15/parquet/file"
	"github.com/apache/arrow/go/v15/parquet/schema"
)

func main() {
	text := schema.StringLogicalType{}
	fields := schema.FieldList{
		schema.Must(schema.NewPrimitiveNodeLogical("time", parquet.Repetitions.Required, schema.NewTimestampLogicalType(true, schema.TimeUnitMillis), parquet.Types.Int64, 0, -1)),
		schema.Must(schema.NewPrimitiveNodeLogical("sensor", parquet.Repetitions.Required, text, parquet.Types.ByteArray, 0, -1)),
		schema.Must(schema.NewPrimitiveNodeLogical("channel", parquet.Repetitions.Required, text, parquet.Types.ByteArray, 0, -1)),
		schema.Must(schema.NewPrimitiveNode("value", parquet.Repetitions.Optional, parquet.Types.Float, -1, -1)),
	}
	root := schema.Must(schema.NewGroupNode("schema", parquet.Repetitions.Required, fields, -1)).(*schema.GroupNode)
	out, err := os.Create("plain.parquet")
	if err != nil {
		log.Fatal(err)
	}
	w := file.NewParquetWriter(out, root)
	rg := w.AppendRowGroup()
	write := func(f func(file.ColumnChunkWriter) error) {
		cw, err := rg.NextColumn()
		if err == nil {
			err = f(cw)
		}
		if err == nil {
			err = cw.Close()
		}
		if err != nil {
			log.Fatal(err)
		}
	}
	write(func(c file.ColumnChunkWriter) error {
		_, err := c.(*file.Int64ColumnChunkWriter).WriteBatch([]int64{1768298400000, 1768299300250, 1768300200000, 1768300200000, 86400000}, nil, nil)
		return err
	})
	texts := func(s ...string) func(file.ColumnChunkWriter) error {
		return func(c file.ColumnChunkWriter) error {
			v := make([]parquet.ByteArray, len(s))
			for i := range s {
				v[i] = parquet.ByteArray(s[i])
			}
			_, err := c.(*file.ByteArrayColumnChunkWriter).WriteBatch(v, nil, nil)
			return err
		}
	}
	write(texts("q1", "q1", "q1", "", "q1"))
	write(texts("ppfd", "ppfd", "ppfd", "ppfd", "ppfd"))
	write(func(c file.ColumnChunkWriter) error {
		_, err := c.(*file.Float32ColumnChunkWriter).WriteBatch([]float32{812.5, 813.1, 1, 5}, []int16{1, 1, 0, 1, 1}, nil)
		return err
	})
	if err := rg.Close(); err != nil {
		log.Fatal(err)
	}
	if err := w.Close(); err != nil {
		log.Fatal(err)
	}
}
