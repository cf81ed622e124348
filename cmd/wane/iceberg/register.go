package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"strings"

	"github.com/apache/arrow-go/v18/parquet/file"
	"github.com/apache/arrow-go/v18/parquet/pqarrow"
	"github.com/apache/iceberg-go"
	iceio "github.com/apache/iceberg-go/io"
	"github.com/apache/iceberg-go/table"
)

// siteField is the id of column site, and of the partition by it.
const siteField, sitePartition = 1, 1000

// done is what a registration came to.
type done struct {
	added, removed int
	metadata       string // the file that an engine is given
}

// register has the table name just these files.
func (l *lake) register(ctx context.Context, name string, parts []part) (d done, err error) {
	t, err := l.open(ctx, name, parts[0])
	if err != nil {
		return d, err
	}
	wanted := map[string]bool{}
	for _, p := range parts {
		wanted[p.path] = true
	}
	had, gone, err := named(ctx, t, wanted)
	if err != nil {
		return d, err
	}
	fresh, err := described(ctx, t, parts, had)
	if err != nil {
		return d, err
	}
	d = done{len(fresh), len(gone), t.MetadataLocation()}
	if d.added+d.removed == 0 {
		return d, nil
	}
	tx := t.NewTransaction()
	if err := tx.ReplaceDataFilesWithDataFiles(ctx, gone, fresh, nil); err != nil {
		return d, err
	}
	if t, err = tx.Commit(ctx); err != nil {
		return d, err
	}
	d.metadata = t.MetadataLocation()
	return d, nil
}

// named tells the files that the table names: those that it shall, by path, and the rest.
func named(ctx context.Context, t *table.Table, wanted map[string]bool) (
	had map[string]bool, gone []iceberg.DataFile, err error) {
	tasks, err := t.Scan().PlanFiles(ctx)
	had = map[string]bool{}
	for _, x := range tasks {
		if wanted[x.File.FilePath()] {
			had[x.File.FilePath()] = true
		} else {
			gone = append(gone, x.File)
		}
	}
	return had, gone, err
}

// open gives the table. One that is new, or has other columns by now, is made afresh.
func (l *lake) open(ctx context.Context, name string, first part) (*table.Table, error) {
	schema, err := l.schema(name, first)
	if err != nil {
		return nil, err
	}
	id := table.Identifier{name}
	t, err := l.LoadTable(ctx, id)
	switch {
	case err == nil && t.Schema().Equals(schema):
		return t, nil
	case err != nil && !errors.Is(err, fs.ErrNotExist):
		return nil, err
	}
	spec := *iceberg.UnpartitionedSpec
	if first.site != "" {
		spec = iceberg.NewPartitionSpec(iceberg.PartitionField{SourceIDs: []int{siteField}, FieldID: sitePartition,
			Name: "site", Transform: iceberg.IdentityTransform{}})
	}
	return l.create(ctx, id, schema, spec)
}

// schema gives the columns of a table: the site, and those of its files.
func (l *lake) schema(name string, first part) (*iceberg.Schema, error) {
	r, err := file.OpenParquetFile(strings.TrimPrefix(first.path, scheme), false)
	if err != nil {
		return nil, err
	}
	defer r.Close()
	fr, err := pqarrow.NewFileReader(r, pqarrow.ArrowReadProperties{}, nil)
	if err != nil {
		return nil, err
	}
	columns, err := fr.Schema()
	if err != nil {
		return nil, err
	}
	own, err := table.ArrowSchemaToIcebergWithFreshIDs(columns, false)
	if err != nil {
		return nil, err
	}
	var fields []iceberg.NestedField
	if first.site != "" {
		fields = append(fields, iceberg.NestedField{ID: siteField, Name: "site", Type: iceberg.PrimitiveTypes.String,
			Doc: "as group.yaml names it"})
	}
	for _, f := range own.Fields() {
		fields = append(fields, iceberg.NestedField{ID: len(fields) + 1, Name: f.Name, Type: f.Type,
			Doc: l.meaning[name+"."+f.Name]})
	}
	return iceberg.NewSchema(0, fields...), nil
}

// described reads what the format wants to know of each file that the table does not
// name yet: rows, nulls and bounds, from its footer.
func described(ctx context.Context, t *table.Table, parts []part, had map[string]bool) (
	out []iceberg.DataFile, err error) {
	files, err := t.FS(ctx)
	if err != nil {
		return nil, err
	}
	for _, p := range parts {
		if had[p.path] {
			continue
		}
		d, err := describe(ctx, files, t, p)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", p.path, err)
		}
		out = append(out, d)
	}
	return out, nil
}

func describe(ctx context.Context, files iceio.IO, t *table.Table, p part) (iceberg.DataFile, error) {
	d, err := table.FileToDataFile(ctx, files, p.path, t.Schema(), *iceberg.UnpartitionedSpec, 0, nil)
	if err != nil || p.site == "" {
		return d, err
	}
	b, err := iceberg.NewDataFileBuilder(t.Spec(), iceberg.EntryContentData, p.path, iceberg.ParquetFile,
		map[int]any{sitePartition: p.site}, nil, nil, d.Count(), d.FileSizeBytes())
	if err != nil {
		return nil, err
	}
	return b.ColumnSizes(d.ColumnSizes()).ValueCounts(d.ValueCounts()).NullValueCounts(d.NullValueCounts()).
		LowerBoundValues(d.LowerBoundValues()).UpperBoundValues(d.UpperBoundValues()).
		SplitOffsets(d.SplitOffsets()).Build(), nil
}
