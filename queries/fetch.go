package queries

import (
	"context"
	"database/sql"
	"fmt"
	"reflect"
	"strings"
	"time"
)

// Null is a number that may be absent. Or gives it, or what stands for absent.
type Null = sql.Null[float64]

// collect runs the statement in file and gives its rows. A row's fields are the
// statement's columns: bind says how they find each other.
func collect[T any](ctx context.Context, db *DB, file string, params ...any) ([]T, error) {
	var out []T
	err := each(ctx, db, file, func(row *T) { out = append(out, *row) }, params...)
	return out, err
}

// each is collect for more rows than should be kept: fn's row is used again.
func each[T any](ctx context.Context, db *DB, file string, fn func(*T), params ...any) error {
	text, err := statements.ReadFile(file)
	if err != nil {
		return err
	}
	rows, err := db.conn.QueryContext(ctx, string(text), params...)
	if err != nil {
		return fmt.Errorf("query %s: %w", file, err)
	}
	defer rows.Close()
	columns, err := rows.ColumnTypes()
	if err != nil {
		return fmt.Errorf("query %s: %w", file, err)
	}
	var row T
	places, err := bind(reflect.ValueOf(&row).Elem(), columns)
	if err != nil {
		return fmt.Errorf("query %s: %w", file, err)
	}
	for rows.Next() {
		if err := rows.Scan(places...); err != nil {
			return fmt.Errorf("query %s: %w", file, err)
		}
		fn(&row)
	}
	if err := rows.Err(); err != nil {
		return fmt.Errorf("query %s: %w", file, err)
	}
	return nil
}

// bind gives for each column the place of the field of its name: run_hours goes
// into RunHours, ppfd into PPFD, and where the names differ a field says the
// column's as `sql:"name"`. Every column has a field of its type, and every
// field a column.
func bind(row reflect.Value, columns []*sql.ColumnType) ([]any, error) {
	fields := map[string]int{}
	for i := range row.NumField() {
		f := row.Type().Field(i)
		name, ok := f.Tag.Lookup("sql")
		if !ok {
			name = f.Name
		}
		fields[plainName(name)] = i
	}
	places := make([]any, len(columns))
	for i, c := range columns {
		k, ok := fields[plainName(c.Name())]
		if !ok {
			return nil, fmt.Errorf("%s has no field for column %s", row.Type(), c.Name())
		}
		delete(fields, plainName(c.Name()))
		if want := goType(c.DatabaseTypeName()); want == nil || valueType(row.Field(k).Type()) != want {
			return nil, fmt.Errorf("%s: column %s is %s, its field %s",
				row.Type(), c.Name(), c.DatabaseTypeName(), row.Field(k).Type())
		}
		places[i] = row.Field(k).Addr().Interface()
	}
	for name := range fields {
		return nil, fmt.Errorf("%s: no column for field %s", row.Type(), name)
	}
	return places, nil
}

func plainName(s string) string { return strings.ToLower(strings.ReplaceAll(s, "_", "")) }

// goType is what a value of one of the engine's types is here; nil for types
// that no statement of ours gives.
func goType(engine string) reflect.Type {
	switch engine {
	case "VARCHAR":
		return reflect.TypeFor[string]()
	case "DOUBLE":
		return reflect.TypeFor[float64]()
	case "BIGINT":
		return reflect.TypeFor[int64]()
	case "BOOLEAN":
		return reflect.TypeFor[bool]()
	case "DATE", "TIMESTAMP":
		return reflect.TypeFor[time.Time]()
	}
	return nil
}

// valueType is t, or what a sql.Null holds.
func valueType(t reflect.Type) reflect.Type {
	if t.Kind() == reflect.Struct && t.PkgPath() == "database/sql" {
		if v, ok := t.FieldByName("V"); ok {
			return v.Type
		}
	}
	return t
}
