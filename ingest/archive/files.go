package archive

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"time"

	"wane/ingest/reading"
)

// File is a row of the table Files: one file that was imported. The law is
// Rows = Stored + Duplicate + Quarantined.
type File struct {
	Sequence       int64
	SHA256         string
	Name           string // where it lay in the inbox or its source's folder
	Source         string // the source description, "" for the plain forms
	DescriptionSHA string // of the text of that description
	Size           int64
	Modified       time.Time
	ImportedAt     time.Time
	Counts
}

// Counts add up what a file held, in readings (and in lines where a line could
// not be made into readings).
type Counts struct {
	Rows        int64 // readings and rejects
	Stored      int64 // readings that were new
	Duplicate   int64 // readings that were already stored, with the same value
	Quarantined int64 // rejects
	Blank       int64 // cells declared missing; not among the rows
}

// Add adds other counts.
func (c *Counts) Add(o Counts) {
	c.Rows += o.Rows
	c.Stored += o.Stored
	c.Duplicate += o.Duplicate
	c.Quarantined += o.Quarantined
	c.Blank += o.Blank
}

// Lawful says whether no row is unaccounted for.
func (c Counts) Lawful() bool { return c.Rows == c.Stored+c.Duplicate+c.Quarantined }

// Covered is a row of the table Coverage: a file holds Readings of a series
// from First to Last.
type Covered struct {
	Sequence    int64
	Series      reading.Series
	First, Last time.Time
	Readings    int64
}

// Quarantined is a row of the table Quarantine.
type Quarantined struct {
	Sequence   int64
	SHA256     string
	Name       string
	ImportedAt time.Time
	Line       int64 // 0 = the file as a whole
	LastLine   int64 // greater than Line where the row stands for several
	Rows       int64 // how many readings or lines it stands for
	Column     string
	Code       string
	Reason     string
	Text       string
}

// Files lists what was imported, by sequence.
func (a *Archive) Files() ([]File, error) {
	var out []File
	err := a.each(Files, func(t table) {
		for i := range t.rows {
			out = append(out, File{
				Sequence: t.int("sequence", i), SHA256: t.text("sha256", i), Name: t.text("name", i),
				Source: t.text("source", i), DescriptionSHA: t.text("description_sha256", i),
				Size: t.int("size", i), Modified: t.time("modified", i), ImportedAt: t.time("taken_in", i),
				Counts: Counts{
					Rows: t.int("rows", i), Stored: t.int("stored", i), Duplicate: t.int("duplicate", i),
					Quarantined: t.int("quarantined", i), Blank: t.int("blank", i),
				},
			})
		}
	})
	sortBy(out, func(f File) int64 { return f.Sequence })
	return out, err
}

// Coverage lists which file holds which series from when to when, by sequence
// and series.
func (a *Archive) Coverage() ([]Covered, error) {
	var out []Covered
	err := a.each(Coverage, func(t table) {
		for i := range t.rows {
			out = append(out, Covered{
				Sequence: t.int("sequence", i), Series: reading.Series{Sensor: t.text("sensor", i), Channel: t.text("channel", i)},
				First: t.time("first", i), Last: t.time("last", i), Readings: t.int("readings", i),
			})
		}
	})
	sortBy(out, func(c Covered) int64 { return c.Sequence })
	return out, err
}

// Quarantined lists what did not pass, by sequence, in the order of the files.
func (a *Archive) Quarantined() ([]Quarantined, error) {
	var out []Quarantined
	err := a.each(Quarantine, func(t table) {
		for i := range t.rows {
			out = append(out, Quarantined{
				Sequence: t.int("sequence", i), SHA256: t.text("sha256", i), Name: t.text("name", i),
				ImportedAt: t.time("taken_in", i),
				Line:       t.int("line", i), LastLine: t.int("last_line", i), Rows: t.int("rows", i),
				Column: t.text("column", i), Code: t.text("code", i), Reason: t.text("reason", i), Text: t.text("text", i),
			})
		}
	})
	sortBy(out, func(q Quarantined) int64 { return q.Sequence })
	return out, err
}

// each reads the parts of a table.
func (a *Archive) each(name string, fn func(table)) error {
	for _, p := range a.Parts(name) {
		t, err := a.readPart(p)
		if err != nil {
			return err
		}
		fn(t)
	}
	return nil
}

// readPart reads a part of a table that is written beside the readings; names
// chooses columns, none means all.
func (a *Archive) readPart(p Part, names ...string) (table, error) {
	t := table{cols: map[string]*Column{}}
	cols, err := a.ReadTable(p, names...)
	if err != nil {
		return t, fmt.Errorf("read table %s: %w", p.Table, err)
	}
	for i := range cols {
		t.cols[cols[i].Name] = &cols[i]
		t.rows = cols[i].Len()
	}
	for _, want := range columnsOf(p.Table) {
		if len(names) > 0 && !slices.Contains(names, want.Name) {
			continue
		}
		if t.cols[want.Name] == nil || t.cols[want.Name].Type != want.Type {
			return t, fmt.Errorf("read table %s: %s lacks the column %s; run check", p.Table, p.Path, want.Name)
		}
	}
	return t, nil
}

// table is a part by column name.
type table struct {
	rows int
	cols map[string]*Column
}

func (t table) int(name string, i int) int64      { return t.cols[name].Int[i] }
func (t table) text(name string, i int) string    { return t.cols[name].Text[i] }
func (t table) time(name string, i int) time.Time { return time.UnixMicro(t.cols[name].Int[i]).UTC() }

// columnsOf gives the empty columns of the tables that are written beside the
// readings. All are required.
func columnsOf(name string) []Column {
	switch name {
	case Files:
		return []Column{
			{Name: "sequence", Type: Int64}, {Name: "sha256", Type: String}, {Name: "name", Type: String},
			{Name: "source", Type: String}, {Name: "description_sha256", Type: String}, {Name: "size", Type: Int64},
			{Name: "modified", Type: Timestamp}, {Name: "taken_in", Type: Timestamp},
			{Name: "rows", Type: Int64}, {Name: "stored", Type: Int64}, {Name: "duplicate", Type: Int64},
			{Name: "quarantined", Type: Int64}, {Name: "blank", Type: Int64},
		}
	case Coverage:
		return []Column{
			{Name: "sequence", Type: Int64}, {Name: "sensor", Type: String}, {Name: "channel", Type: String},
			{Name: "first", Type: Timestamp}, {Name: "last", Type: Timestamp}, {Name: "readings", Type: Int64},
		}
	case Quarantine:
		return []Column{
			{Name: "sequence", Type: Int64}, {Name: "sha256", Type: String}, {Name: "name", Type: String},
			{Name: "taken_in", Type: Timestamp}, {Name: "line", Type: Int64}, {Name: "last_line", Type: Int64},
			{Name: "rows", Type: Int64}, {Name: "column", Type: String}, {Name: "code", Type: String},
			{Name: "reason", Type: String}, {Name: "text", Type: String},
		}
	}
	return nil
}

// row appends a row to columns: values in order, int64 or string.
func row(cols []Column, values ...any) {
	for i, v := range values {
		switch v := v.(type) {
		case int64:
			cols[i].Int = append(cols[i].Int, v)
		case time.Time:
			cols[i].Int = append(cols[i].Int, v.UnixMicro())
		case string:
			cols[i].Text = append(cols[i].Text, v)
		}
	}
}

func (f *File) row(cols []Column) {
	row(cols, f.Sequence, f.SHA256, f.Name, f.Source, f.DescriptionSHA, f.Size, f.Modified, f.ImportedAt,
		f.Rows, f.Stored, f.Duplicate, f.Quarantined, f.Blank)
}

// ReadOriginal gives the bytes of a file that was imported, held against its
// checksum.
func (a *Archive) ReadOriginal(f *File) ([]byte, error) {
	b, err := os.ReadFile(a.Original(f.SHA256))
	if err == nil && sum(b) != f.SHA256 {
		err = errors.New("its checksum does not match")
	}
	if err != nil {
		return nil, fmt.Errorf("the original of %s: %w; %s", f.Name, err, doBackup)
	}
	return b, nil
}

// Original is where the copy of a file that was imported lies.
func (a *Archive) Original(sha256 string) string { return filepath.Join(a.dir, originalPath(sha256)) }
