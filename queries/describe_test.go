package queries

import (
	"context"
	"database/sql"
	"io/fs"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"
)

// What is described is what the empty tables have; every number says its unit,
// every table has its view.
func TestDescriptionsAreTheTables(t *testing.T) {
	ctx := context.Background()
	db := asking(t, Limits{Threads: 1})
	described, err := Described()
	if err != nil {
		t.Fatal(err)
	}
	_, views, err := viewStatements()
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range described {
		rows, err := db.conn.QueryContext(ctx, `SELECT * FROM "`+d.Name+`"`)
		if err != nil {
			t.Errorf("%s: %v", d.Name, err)
			continue
		}
		types, err := rows.ColumnTypes()
		if err != nil {
			t.Fatal(err)
		}
		var got, want []string
		for _, c := range types {
			got = append(got, c.Name()+" "+c.DatabaseTypeName())
		}
		rows.Close()
		for _, c := range d.Columns {
			want = append(want, c.Name+" "+c.Type)
			if (c.Type == "DOUBLE" || c.Type == "TIMESTAMP") && c.Unit == "" {
				t.Errorf("%s.%s is a %s without a unit: write [unit] before its meaning, [1] for a ratio", d.Name, c.Name, c.Type)
			}
		}
		if !slices.Equal(got, want) {
			t.Errorf("%s has\n%v\ndescribed are\n%v", d.Name, got, want)
		}
		if views[d.Name] == "" {
			t.Errorf("views.sql has no view of %s", d.Name)
		}
		delete(views, d.Name)
	}
	for name := range views {
		t.Errorf("views.sql has a view of %s, which schema/ does not describe", name)
	}
}

// A description that leaves something out is found.
func TestDescriptionsAreWhole(t *testing.T) {
	for _, text := range []string{
		"-- schema: x\n-- Rows.\nCREATE TABLE x (\n    a BIGINT NOT NULL\n);",
		"-- schema: x\nCREATE TABLE x (\n    a BIGINT NOT NULL -- meaning\n);",
		"-- Rows.\nCREATE TABLE x (\n    a BIGINT -- meaning\n);",
		"-- schema: x\n-- Rows.\nCREATE TABLE y (\n    a BIGINT -- meaning\n);",
		"-- schema: x\n-- Rows.\nCREATE TABLE x (\n);",
	} {
		if d, err := parseSchema(text); err == nil {
			t.Errorf("%s\n is read as %+v", text, d)
		}
	}
	got, err := parseSchema("-- schema: x\n-- Rows\n-- and more.\nCREATE TABLE x (\n" +
		"    \"a\" DOUBLE NOT NULL, -- [umol/m2/s] light\n    b DATE -- day\n);\n")
	want := Table{Name: "x", Meaning: "Rows and more.", Columns: []Column{
		{"a", "DOUBLE", "umol/m2/s", "light"},
		{"b", "DATE", "", "day"},
	}}
	if err != nil || !reflect.DeepEqual(got, want) {
		t.Errorf("read as %+v, %v", got, err)
	}
}

// Beyond the common ground of SQL engines: what need not be used, and what is
// said in the statement's header where it is.
var (
	notCommon = regexp.MustCompile(`(?i)::|\*\*|//|\bGROUP BY ALL\b|` +
		`\bORDER BY ALL\b|\bFILTER\s*\(|\bQUALIFY\b|\bEXCLUDE\b|\bREPLACE\s*\(|\bSELECT\s+FROM\b|\[|\bunnest\b|\bstring_split\b|\brange\(`)
	ownWords = regexp.MustCompile(`\b(median|quantile_cont|quantile_disc|arg_min|arg_max|epoch_us|` +
		`epoch_ms|list|mode|IGNORE NULLS|any_value|first|last)\b\s*(?:\(|OVER|IGNORE|\))`)
	ownLine = regexp.MustCompile(`(?m)^-- own to this engine: (.*)$`)
)

// The statements stay where other engines can follow, so that the same archive
// is asked the same way elsewhere; what only this engine has is marked.
func TestStatementsStayInTheCommonGround(t *testing.T) {
	files, err := fs.Glob(statements, "*.sql")
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		if f == "views.sql" { // says at its top that the whole file is own to this engine
			continue
		}
		text, err := statements.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		for _, complaint := range uncommon(string(text)) {
			t.Errorf("%s: %s", f, complaint)
		}
	}
}

func uncommon(text string) []string {
	var out, used, marked []string
	if m := ownLine.FindStringSubmatch(text); m != nil {
		marked = strings.Split(m[1], ", ")
	}
	var code strings.Builder
	for _, line := range strings.Split(text, "\n") {
		line, _, _ = strings.Cut(line, "--")
		code.WriteString(line + "\n")
	}
	for _, w := range notCommon.FindAllString(code.String(), -1) {
		out = append(out, w+" is not in the common ground: CAST, power, floor(a / b), named groups, CASE serve")
	}
	for _, m := range ownWords.FindAllStringSubmatch(code.String(), -1) {
		if !slices.Contains(used, m[1]) {
			used = append(used, m[1])
		}
	}
	slices.Sort(used)
	slices.Sort(marked)
	if !slices.Equal(used, marked) {
		out = append(out, "uses "+strings.Join(used, ", ")+"; its line `-- own to this engine:` says "+
			strings.Join(marked, ", "))
	}
	return out
}

func TestTheLintFinds(t *testing.T) {
	for _, text := range []string{
		"SELECT a::BIGINT", "SELECT 2 ** 3", "SELECT a // 7", "SELECT a FROM t GROUP BY ALL",
		"SELECT count(*) FILTER (WHERE a)",
		"SELECT median(a) FROM t", "-- own to this engine: median\nSELECT a", "SELECT lag(a IGNORE NULLS) OVER (ORDER BY b)",
	} {
		if len(uncommon(text)) == 0 {
			t.Errorf("nothing is said of %s", text)
		}
	}
	if got := uncommon("-- own to this engine: median\n-- a :: b\nSELECT median(a), a / 7 FROM t GROUP BY b"); got != nil {
		t.Errorf("said of a good statement: %v", got)
	}
}

// A row's fields and a statement's columns must find each other, by name and
// type: every statement's are held against each other when it is asked (see
// TestEachStatementRunsOnEmptyTables); here that bind tells where they differ.
func TestRowsMustFitTheirStatements(t *testing.T) {
	db := asking(t, Limits{Threads: 1})
	rows, err := db.conn.QueryContext(context.Background(), `
		SELECT 'f' AS fixture, CAST(1 AS BIGINT) AS lamp_life, CAST(NULL AS DOUBLE) AS ppfd, DATE '2025-03-01' AS first_day`)
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	columns, err := rows.ColumnTypes()
	if err != nil {
		t.Fatal(err)
	}
	for want, row := range map[string]any{
		"": &struct {
			LampLife int64
			Fixture  string
			PPFD     Null
			From     sql.Null[time.Time] `sql:"first_day"`
		}{},
		"no field for column first_day": &struct {
			Fixture  string
			LampLife int64
			PPFD     Null
		}{},
		"no column for field days": &struct {
			Fixture  string
			LampLife int64
			PPFD     Null
			FirstDay time.Time
			Days     int64
		}{},
		"column lamp_life is BIGINT": &struct {
			Fixture  string
			LampLife float64
			PPFD     Null
			FirstDay time.Time
		}{},
		"column ppfd is DOUBLE": &struct {
			Fixture  string
			LampLife int64
			PPFD     sql.Null[int64]
			FirstDay time.Time
		}{},
	} {
		places, err := bind(reflect.ValueOf(row).Elem(), columns)
		if want == "" && err == nil && len(places) == 4 {
			continue
		}
		if want == "" || err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("want %q, got %v", want, err)
		}
	}
}
