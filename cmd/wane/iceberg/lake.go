package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/apache/iceberg-go"
	iceio "github.com/apache/iceberg-go/io"
	"github.com/apache/iceberg-go/table"

	"wane/ingest/site"
	"wane/queries"
)

// scheme begins the name of every file: engines know no plain path.
const scheme = "file://"

// lake is a folder of Iceberg tables, in the layout that needs no catalogue beside it: a
// table's metadata is numbered, and version-hint.text tells the last. (The library's own
// catalogue of this layout writes plain paths.)
type lake struct {
	dir     string
	meaning map[string]string // of TABLE.COLUMN, with its unit
}

func openLake(dir string) (*lake, error) {
	l := &lake{dir: dir, meaning: map[string]string{}}
	described, err := queries.Described()
	for _, t := range described {
		for _, x := range t.Columns {
			unit := ""
			if x.Unit != "" {
				unit = "[" + x.Unit + "] "
			}
			l.meaning[t.Name+"."+x.Name] = unit + x.Meaning
		}
	}
	return l, err
}

var _ table.CatalogIO = (*lake)(nil)

// LoadTable opens a table as it is now.
func (l *lake) LoadTable(ctx context.Context, id table.Identifier) (*table.Table, error) {
	n, err := l.last(id)
	if err != nil {
		return nil, err
	}
	at := scheme + l.metadata(id, n)
	return table.NewFromLocation(ctx, id, at, iceio.LoadFSFunc(nil, at), l)
}

// CommitTable writes the table's next metadata.
func (l *lake) CommitTable(ctx context.Context, id table.Identifier, must []table.Requirement,
	changes []table.Update) (table.Metadata, string, error) {
	t, err := l.LoadTable(ctx, id)
	if err != nil {
		return nil, "", err
	}
	for _, r := range must {
		if err := r.Validate(t.Metadata()); err != nil {
			return nil, "", err
		}
	}
	m, err := table.UpdateTableMetadata(t.Metadata(), changes, t.MetadataLocation())
	if err != nil {
		return nil, "", err
	}
	at, err := l.write(id, m)
	return m, at, err
}

// create makes a table without rows. Metadata of one before it keep their numbers, so
// that no engine takes new for old.
func (l *lake) create(ctx context.Context, id table.Identifier, schema *iceberg.Schema, by iceberg.PartitionSpec) (
	*table.Table, error) {
	m, err := table.NewMetadata(schema, &by, table.UnsortedSortOrder, scheme+filepath.Join(l.dir, id[0]),
		iceberg.Properties{"gc.enabled": "false"})
	if err != nil {
		return nil, err
	}
	if _, err := l.write(id, m); err != nil {
		return nil, err
	}
	return l.LoadTable(ctx, id)
}

// metadata is the path of a table's metadata of that number.
func (l *lake) metadata(id table.Identifier, n int) string {
	return filepath.Join(l.dir, id[0], "metadata", fmt.Sprintf("v%d.metadata.json", n))
}

func (l *lake) hint(id table.Identifier) string {
	return filepath.Join(l.dir, id[0], "metadata", "version-hint.text")
}

// last is the number of a table's metadata as it is now.
func (l *lake) last(id table.Identifier) (int, error) {
	b, err := os.ReadFile(l.hint(id))
	if err != nil {
		return 0, err
	}
	return strconv.Atoi(strings.TrimSpace(string(b)))
}

// write puts metadata under the next number, which no other run may have taken, and then
// the hint at it.
func (l *lake) write(id table.Identifier, m table.Metadata) (string, error) {
	b, err := json.Marshal(m)
	if err != nil {
		return "", err
	}
	n, err := l.last(id)
	if err != nil && !os.IsNotExist(err) {
		return "", err
	}
	n++
	at := l.metadata(id, n)
	if err := os.MkdirAll(filepath.Dir(at), 0o755); err != nil {
		return "", err
	}
	if err := writeNew(at, b); err != nil {
		return "", fmt.Errorf("%w; where no other run is at it, remove %s", err, at)
	}
	return scheme + at, site.WriteFile(l.hint(id), []byte(strconv.Itoa(n)))
}

// writeNew writes a file whole, and fails where there is one of that name.
func writeNew(path string, text []byte) error {
	f, err := os.CreateTemp(filepath.Dir(path), ".making-*")
	if err != nil {
		return err
	}
	defer os.Remove(f.Name())
	_, err = f.Write(text)
	if err = errors.Join(err, f.Chmod(0o644), f.Sync(), f.Close()); err != nil {
		return err
	}
	return os.Link(f.Name(), path)
}
