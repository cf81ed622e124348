package queries

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strings"

	"github.com/marcboeker/go-duckdb"
)

// ErrNotAsked is the root of the errors about a statement that Ask does not run.
var ErrNotAsked = errors.New("the statement is not run")

// page is how many rows of an answer are held at once.
const page = 20_000

// Ask runs one statement that a person wrote, which may read the tables of the
// archive and nothing else, and hands the columns of the answer to head and then
// each row to row, whose slice is used again. A value is nil, a string, a bool,
// a whole number, a float, or a time (of a DATE or TIMESTAMP); of other types the
// engine's text.
//
// The engine of this version cannot be told which files it may open. So the
// statement is looked at as the engine's own parser understands it: it must be
// one SELECT, every table it names a plain name (a path or a part of the
// catalogue is none), every table function one of the few that read nothing.
// What is not known to be harmless is refused. The settings are locked besides
// (see prepare).
//
// The answer is kept as a table of the engine before it is given out, so that it
// keeps to the memory limit, whatever its size.
func Ask(ctx context.Context, db *DB, statement string, head func([]Column) error, row func([]any) error) error {
	if err := db.harmless(ctx, statement); err != nil {
		return err
	}
	if err := db.understood(ctx, statement); err != nil {
		return err
	}
	// the whole text is one SELECT, as was just seen, so it is one here
	if _, err := db.conn.ExecContext(ctx, "CREATE OR REPLACE TEMP TABLE answer AS "+statement); err != nil {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		return fmt.Errorf("ask: %w", err)
	}
	columns, err := db.answerColumns(ctx)
	if err != nil {
		return err
	}
	if err := head(columns); err != nil {
		return err
	}
	list := selectList(columns)
	values, places := make([]any, len(columns)), make([]any, len(columns))
	for i := range values {
		places[i] = &values[i]
	}
	for from := 0; ; from += page {
		n := 0
		err := db.pageOf(ctx, list, from, func(r *sql.Rows) error {
			n++
			if err := r.Scan(places...); err != nil {
				return err
			}
			return row(values)
		})
		if err != nil || n < page {
			return err
		}
	}
}

func (db *DB) answerColumns(ctx context.Context) ([]Column, error) {
	rows, err := db.conn.QueryContext(ctx, "SELECT * FROM answer LIMIT 0")
	if err != nil {
		return nil, fmt.Errorf("columns of the answer: %w", err)
	}
	defer rows.Close()
	types, err := rows.ColumnTypes()
	if err != nil {
		return nil, fmt.Errorf("columns of the answer: %w", err)
	}
	var out []Column
	for _, c := range types {
		if strings.EqualFold(c.Name(), "rowid") {
			return nil, fmt.Errorf("%w: a column of the answer is called rowid; give it another name with AS", ErrNotAsked)
		}
		out = append(out, Column{Name: c.Name(), Type: c.DatabaseTypeName()})
	}
	return out, rows.Err()
}

// understood has the engine look up the names of the statement, so that its
// complaints speak of the statement alone.
func (db *DB) understood(ctx context.Context, statement string) error {
	s, err := db.conn.PrepareContext(ctx, statement)
	if err == nil {
		return s.Close()
	}
	var e *duckdb.Error
	if errors.As(err, &e) && (e.Type == duckdb.ErrorTypeCatalog || e.Type == duckdb.ErrorTypeBinder) {
		return fmt.Errorf("%w: %s", ErrNotAsked, e.Msg)
	}
	return fmt.Errorf("ask: %w", err)
}

// plainTypes are those whose values come out as numbers, texts, truths and
// times; of all others the engine gives its own text.
var plainTypes = []string{
	"VARCHAR", "BOOLEAN", "DOUBLE", "FLOAT", "DATE", "TIMESTAMP",
	"TINYINT", "SMALLINT", "INTEGER", "BIGINT", "UTINYINT", "USMALLINT", "UINTEGER", "UBIGINT",
}

func selectList(columns []Column) string {
	var list []string
	for _, c := range columns {
		name := `"` + strings.ReplaceAll(c.Name, `"`, `""`) + `"`
		if !slices.Contains(plainTypes, c.Type) {
			name = "CAST(" + name + " AS VARCHAR)"
		}
		list = append(list, name)
	}
	return strings.Join(list, ", ")
}

func (db *DB) pageOf(ctx context.Context, list string, from int, scan func(*sql.Rows) error) error {
	text := "SELECT " + list + " FROM answer WHERE rowid >= ? AND rowid < ? ORDER BY rowid"
	rows, err := db.conn.QueryContext(ctx, text, from, from+page)
	if err != nil {
		return fmt.Errorf("read the answer: %w", err)
	}
	defer rows.Close()
	for rows.Next() {
		if err := scan(rows); err != nil {
			return err
		}
	}
	return rows.Err()
}

// harmless says why the statement is not run; nil for one that may be.
func (db *DB) harmless(ctx context.Context, statement string) error {
	if strings.ContainsRune(statement, 0) { // where one reader of the text stops, and another goes on
		return fmt.Errorf("%w: there is a zero byte in it", ErrNotAsked)
	}
	// the engine's own parser, given the text as a value, writes down what it understood
	const parse = "SELECT CAST(json_serialize_sql(CAST(? AS VARCHAR)) AS VARCHAR)"
	var tree string
	err := db.conn.QueryRowContext(ctx, parse, statement).Scan(&tree)
	if err != nil {
		return fmt.Errorf("read the statement: %w", err)
	}
	var parsed struct {
		Error      bool   `json:"error"`
		Type       string `json:"error_type"`
		Message    string `json:"error_message"`
		Statements []any  `json:"statements"`
	}
	if err := json.Unmarshal([]byte(tree), &parsed); err != nil {
		return fmt.Errorf("read the statement: %w", err)
	}
	switch {
	case parsed.Error && parsed.Type == "parser":
		return fmt.Errorf("%w: %s", ErrNotAsked, parsed.Message)
	case parsed.Error:
		return fmt.Errorf("%w: only SELECT reads and changes nothing; write a SELECT", ErrNotAsked)
	case len(parsed.Statements) != 1:
		return fmt.Errorf("%w: it is %d statements; write one", ErrNotAsked, len(parsed.Statements))
	}
	return harmlessTree(parsed.Statements[0])
}

// harmlessTables are the table functions that read nothing.
var harmlessTables = []string{"range", "generate_series", "unnest"}

// reaching are the plain functions that run or show more than their arguments.
var reaching = []string{"json_serialize_plan", "getvariable", "current_setting", "getenv"}

var plainTable = regexp.MustCompile(`^[A-Za-z_][A-Za-z0-9_]*$`)

// harmlessTree goes through a statement as the parser gives it.
func harmlessTree(node any) error {
	switch v := node.(type) {
	case []any:
		for _, x := range v {
			if err := harmlessTree(x); err != nil {
				return err
			}
		}
	case map[string]any:
		if err := harmlessNode(v); err != nil {
			return err
		}
		for _, x := range v {
			if err := harmlessTree(x); err != nil {
				return err
			}
		}
	}
	return nil
}

func harmlessNode(v map[string]any) error {
	text := func(m map[string]any, key string) string { s, _ := m[key].(string); return s }
	switch text(v, "type") {
	case "BASE_TABLE":
		name := text(v, "table_name")
		if text(v, "catalog_name") != "" || text(v, "schema_name") != "" || !plainTable.MatchString(name) {
			return fmt.Errorf("%w: %q is not a table of the archive; `wane sql --tables` lists them", ErrNotAsked, name)
		}
	case "TABLE_FUNCTION":
		f, _ := v["function"].(map[string]any)
		if name := text(f, "function_name"); !slices.Contains(harmlessTables, strings.ToLower(name)) {
			return fmt.Errorf("%w: %s() could read more than the archive; only its tables may be read, and %s",
				ErrNotAsked, name, strings.Join(harmlessTables, ", "))
		}
	case "FUNCTION":
		if name := text(v, "function_name"); slices.Contains(reaching, strings.ToLower(name)) {
			return fmt.Errorf("%w: %s() shows more than the archive", ErrNotAsked, name)
		}
	case "SHOW_REF":
		return fmt.Errorf("%w: DESCRIBE, SHOW, SUMMARIZE are not taken; `wane sql --tables` says what there is", ErrNotAsked)
	case "COLUMN_DATA", "DELIM_GET":
		return fmt.Errorf("%w: it refers to the engine's own memory", ErrNotAsked)
	}
	return nil
}
