package archive

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"

	"wane/ingest/archive/internal/parq"
)

// Make has a partition written by somebody else, such as a query engine: make is
// called with the name of a file that is not there yet, and leaves a Parquet
// file under it. What Write says of order holds for it too.
func (d *Derivation) Make(table, partition, key string, make func(path string) error) (p Part, err error) {
	if err := d.allows(table, partition); err != nil {
		return Part{}, err
	}
	made := filepath.Join(d.lock.dir, tmpDir, fmt.Sprintf("made-%06d.parquet", d.w.n.Add(1)))
	defer func() {
		if e := os.Remove(made); e != nil && !errors.Is(e, os.ErrNotExist) {
			err = errors.Join(err, e)
		}
	}()
	if err := make(made); err != nil {
		return Part{}, fmt.Errorf("make table %s/%s: %w", table, partition, err)
	}
	p = Part{Table: table, Partition: partition, Key: key}
	if p.Rows, err = parq.Rows(made); err != nil {
		return Part{}, err
	}
	from, err := os.Open(made)
	if err != nil {
		return Part{}, err
	}
	defer from.Close()
	f, err := d.w.create()
	if err != nil {
		return Part{}, err
	}
	if _, err := io.Copy(f, from); err != nil {
		f.Discard()
		return Part{}, fmt.Errorf("make table %s/%s: %w", table, partition, err)
	}
	p = d.w.publish(f, p, partition)
	d.add(p)
	return p, nil
}

// Made gives a view of the archive as it will be: the tables that are being
// derived have the partitions kept and written so far. Their files are there.
func (d *Derivation) Made() (*Archive, error) {
	if err := d.w.wait(); err != nil {
		return nil, err
	}
	next := d.next()
	return view(d.lock.dir, &next, d.lock.seen), nil
}

// next is the manifest with what was kept and written for the tables derived.
func (d *Derivation) next() Manifest {
	next := *d.old
	next.Parts = nil
	for _, p := range d.old.Parts {
		if !slices.Contains(d.tables, p.Table) {
			next.Parts = append(next.Parts, p)
		}
	}
	next.Parts = append(next.Parts, d.parts...)
	slices.SortFunc(next.Parts, func(a, b Part) int {
		return cmp.Or(cmp.Compare(a.Table, b.Table),
			cmp.Compare(a.Path, b.Path))
	})
	return next
}
