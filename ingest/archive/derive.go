package archive

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"

	"wane/ingest/archive/internal/parq"
)

// Derivation replaces derived tables. Each partition of a table carries the key
// of what it was made from, and one whose key is still the same is kept as it
// is, so that deriving again from the same changes no byte.
type Derivation struct {
	lock   *Lock
	old    *Manifest
	w      *writer
	tables []string
	kept   int

	mu    sync.Mutex
	parts []Part
}

// Derive starts replacing the tables named, which must not be tables that hold
// what was imported. Partitions that are neither kept nor written are gone
// after Commit.
func Derive(l *Lock, tables ...string) (*Derivation, error) {
	m, err := loadForWriting(l)
	if err != nil {
		return nil, err
	}
	for _, t := range tables {
		if isBase(t) || t == originalsDir || t == tmpDir || t != filepath.Base(t) || strings.HasPrefix(t, ".") {
			return nil, fmt.Errorf("%q cannot be a derived table", t)
		}
	}
	w, err := newWriter(l, runtime.GOMAXPROCS(0))
	if err != nil {
		return nil, err
	}
	return &Derivation{lock: l, old: m, w: w, tables: tables}, nil
}

// Archive is the view that the derivation started from.
func (d *Derivation) Archive() *Archive { return view(d.lock.dir, d.old, d.lock.seen) }

// Keep says whether the partition is there, whole, with the same key; if so it
// stays and need not be computed.
func (d *Derivation) Keep(table, partition, key string) bool {
	for _, p := range d.old.Parts {
		if p.Table == table && p.Partition == partition && p.Key == key && slices.Contains(d.tables, table) &&
			d.Archive().verify(p) == nil {
			d.add(p)
			d.kept++
			return true
		}
	}
	return false
}

// Write writes a partition. The partition is "" for a table in one piece, or
// hive-style folders such as "month=2026-11". The rows must be in an order that
// depends on nothing but the data. Partitions may be written side by side.
func (d *Derivation) Write(table, partition, key string, cols []Column) (Part, error) {
	if err := d.allows(table, partition); err != nil {
		return Part{}, err
	}
	p, err := d.w.table(Part{Table: table, Partition: partition, Key: key}, parq.Snappy, cols)
	if err != nil {
		return p, err
	}
	d.add(p)
	return p, nil
}

func (d *Derivation) add(p Part) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.parts = append(d.parts, p)
}

// WriteTable writes a table elsewhere, with the bytes that Write would give it.
func WriteTable(w io.Writer, cols []Column) error { return parq.WriteTable(w, parq.Snappy, cols) }

// allows says whether the partition may be written.
func (d *Derivation) allows(table, partition string) error {
	if !slices.Contains(d.tables, table) {
		return fmt.Errorf("table %q is not one of those being derived", table)
	}
	if partition != "" && (!filepath.IsLocal(filepath.FromSlash(partition)) || strings.Contains(partition, `\`)) {
		return fmt.Errorf("partition %q is not a folder of the table", partition)
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	for _, p := range d.parts {
		if p.Table == table && p.Partition == partition {
			return fmt.Errorf("partition %q of table %q is written twice", partition, table)
		}
	}
	return nil
}

// Commit makes the kept and the written partitions the whole of the tables, and
// gives the new view. If nothing was written or dropped, nothing is touched.
func (d *Derivation) Commit() (*Archive, error) {
	next := d.next()
	dropped := len(d.old.Parts) + len(d.parts) - len(next.Parts)
	if dropped == d.kept && len(d.parts) == d.kept {
		d.lock.end()
		return d.Archive(), nil
	}
	if err := d.w.swap(&next); err != nil {
		return nil, err
	}
	if err := retire(d.lock.fs, d.lock.dir, d.old, &next); err != nil {
		return nil, fmt.Errorf("remove what was replaced: %w", err)
	}
	d.lock.end()
	return view(d.lock.dir, &next, d.lock.seen), nil
}

// DropDerived removes every derived table.
func DropDerived(l *Lock) error {
	m, err := loadForWriting(l)
	if err != nil {
		return err
	}
	next := *m
	next.Parts = nil
	for _, p := range m.Parts {
		if isBase(p.Table) {
			next.Parts = append(next.Parts, p)
		}
	}
	if len(next.Parts) == len(m.Parts) {
		return nil
	}
	w, err := newWriter(l, runtime.GOMAXPROCS(0))
	if err != nil {
		return err
	}
	if err := w.swap(&next); err != nil {
		return err
	}
	if _, err = sweep(l.fs, l.dir, &next); err == nil {
		l.end()
	}
	return err
}

// Key makes the key of a derived partition from the parts it is made from and
// whatever else its content depends on, such as the version of the code, the
// register's hash, the parameters.
func Key(parts []Part, more ...string) string {
	h := sha256.New()
	for _, p := range parts {
		fmt.Fprintf(h, "%s\x00", p.SHA256)
	}
	for _, m := range more {
		fmt.Fprintf(h, "\x01%d:%s", len(m), m)
	}
	return hex.EncodeToString(h.Sum(nil))[:32]
}
