package queries

import (
	"context"
	"fmt"
	"io/fs"
	"regexp"
	"strings"
	"sync"
)

// Table describes a table of the archive.
type Table struct {
	Name    string
	Meaning string // what a row is
	Columns []Column
	text    string // of its schema
}

// Column describes a column of a table.
type Column struct {
	Name    string
	Type    string // the engine's
	Unit    string // "" for what has none: names, days, counts
	Meaning string
}

// Described says what every table of the archive holds, by name: schema/*.sql
// read as data.
func Described() ([]Table, error) { return described() }

// described reads the schemas once.
var described = sync.OnceValues(func() ([]Table, error) {
	files, err := fs.Glob(statements, "schema/*.sql")
	if err != nil {
		return nil, err
	}
	var out []Table
	for _, f := range files {
		text, err := statements.ReadFile(f)
		if err != nil {
			return nil, err
		}
		t, err := parseSchema(string(text))
		if err != nil {
			return nil, fmt.Errorf("%s: %w", f, err)
		}
		t.text = string(text)
		out = append(out, t)
	}
	return out, nil
})

var (
	schemaName   = regexp.MustCompile(`^-- schema: (\w+)$`)
	schemaColumn = regexp.MustCompile(`^ +"?(\w+)"? +([A-Z]+)(?: NOT NULL| +NOT NULL)?,? *-- (?:\[([^\]]+)\] )?(.+)$`)
)

func parseSchema(text string) (Table, error) {
	var t Table
	for i, line := range strings.Split(strings.TrimSpace(text), "\n") {
		name, column := schemaName.FindStringSubmatch(line), schemaColumn.FindStringSubmatch(line)
		switch {
		case i == 0 && name != nil:
			t.Name = name[1]
		case strings.HasPrefix(line, "-- ") && len(t.Columns) == 0:
			t.Meaning = strings.TrimSpace(t.Meaning + " " + line[3:])
		case line == "CREATE TABLE "+t.Name+" (", line == ");":
		case column != nil:
			t.Columns = append(t.Columns, Column{Name: column[1], Type: column[2], Unit: column[3], Meaning: column[4]})
		default:
			return t, fmt.Errorf("line %d is no column with its meaning: %s", i+1, line)
		}
	}
	if t.Name == "" || t.Meaning == "" || len(t.Columns) == 0 {
		return t, fmt.Errorf("name, meaning or columns are missing")
	}
	return t, nil
}

// Over makes every described table visible: over these files, or empty. It may
// be called again, for other files.
func (db *DB) Over(ctx context.Context, files Tables) error {
	described, views, err := db.tablesOver(ctx, files)
	if err != nil {
		return err
	}
	for _, t := range described {
		filled, had := len(files[t.Name]) > 0, db.shown[t.Name]
		if had == filledAs(filled) {
			continue // a view reads whatever files there are now
		}
		if had != "" {
			if err := db.run(ctx, "view "+t.Name, "DROP "+had+" "+t.Name); err != nil {
				return err
			}
		}
		statement := views[t.Name]
		if !filled {
			statement = t.text
		}
		if statement == "" {
			return fmt.Errorf("views.sql has no view of table %s", t.Name)
		}
		if err := db.run(ctx, "view "+t.Name, statement); err != nil {
			return err
		}
		db.shown[t.Name] = filledAs(filled)
	}
	return nil
}

// tablesOver lists the files for the views, and gives every described table and
// the statements of the views by table.
func (db *DB) tablesOver(ctx context.Context, files Tables) (tables []Table, views map[string]string, err error) {
	if err := db.files(ctx, files); err != nil {
		return nil, nil, err
	}
	if _, views, err = viewStatements(); err != nil {
		return nil, nil, err
	}
	tables, err = described()
	return tables, views, err
}

// files lists the files of the tables for the views.
func (db *DB) files(ctx context.Context, files Tables) error {
	const list = "list the files of the tables"
	if err := db.run(ctx, list, "CREATE OR REPLACE TEMP TABLE part (name VARCHAR, path VARCHAR)"); err != nil {
		return err
	}
	var rows []string
	var values []any
	for name, paths := range files {
		for _, path := range paths { // as a value: a path is never part of a statement
			rows, values = append(rows, "(?, ?)"), append(values, name, path)
		}
	}
	if len(rows) > 0 {
		if err := db.run(ctx, list, "INSERT INTO part VALUES "+strings.Join(rows, ", "), values...); err != nil {
			return err
		}
	}
	setFiles, _, err := viewStatements()
	if err != nil {
		return err
	}
	return db.run(ctx, list, setFiles)
}

// run runs a statement that answers nothing.
func (db *DB) run(ctx context.Context, what, statement string, values ...any) error {
	if _, err := db.conn.ExecContext(ctx, statement, values...); err != nil {
		return fmt.Errorf("%s: %w", what, err)
	}
	return nil
}

// filledAs is what a described table is to the engine.
func filledAs(filled bool) string {
	if filled {
		return "VIEW"
	}
	return "TABLE"
}

var viewOf = regexp.MustCompile(`(?m)^CREATE TEMP VIEW (\w+) AS$`)

// viewStatements gives what views.sql holds: the list of files, and the view of
// each table.
func viewStatements() (setFiles string, views map[string]string, err error) {
	text, err := statements.ReadFile("views.sql")
	if err != nil {
		return "", nil, err
	}
	views = map[string]string{}
	for _, s := range strings.SplitAfter(string(text), ";\n\n") {
		if m := viewOf.FindStringSubmatch(s); m != nil {
			views[m[1]] = s
		} else {
			setFiles += s
		}
	}
	return setFiles, views, nil
}
