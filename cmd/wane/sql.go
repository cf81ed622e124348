package main

import (
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"wane/cmd/wane/internal/show"
	"wane/ingest/archive"
	"wane/queries"
)

func sqlCommand(e env) *cobra.Command {
	c := withFormat(&cobra.Command{
		Use:   "sql [STATEMENT|FILE]",
		Short: "a read-only statement on the archive's tables",
		Long: `sql runs one SELECT on the tables of the archive and prints its answer. The
argument is the statement, or a file that ends in .sql; without one, or with -,
the statement is read from standard input. --tables lists the tables with their
columns, types, units and meaning.

The statement reads these tables and nothing else: no other file, no address, no
extension; it changes nothing. Moments are UTC without a zone. A table on a
terminal stops after ` + strconv.Itoa(mostShown) + ` rows and says so; csv and json hold all.`,
		Example: `  wane sql --tables
  wane sql "SELECT fixture, max(run_hours) AS h FROM levels GROUP BY fixture ORDER BY h DESC"
  wane sql question.sql --format csv > answer.csv`,
		Args: func(c *cobra.Command, args []string) error {
			if len(args) > 1 {
				return usagef("sql takes one statement, not %d arguments; put it in quotes", len(args))
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error { return runSQL(c, e, args) },
	})
	c.Flags().Bool("tables", false, "list the tables, their columns, units and meaning")
	return c
}

// mostShown is how many rows are laid out as a table.
const mostShown = 1000

func runSQL(c *cobra.Command, e env, args []string) error {
	format, err := formatOf(c)
	if err != nil {
		return err
	}
	tables, err := c.Flags().GetBool("tables")
	if err != nil {
		return err
	}
	if tables {
		if len(args) > 0 {
			return usagef("--tables lists the tables; it takes no statement")
		}
		return printTables(c.OutOrStdout(), format)
	}
	statement, err := statementOf(e.stdin, args)
	if err != nil {
		return err
	}
	o, err := openSite(c)
	if err != nil {
		return err
	}
	return o.ask(c.Context(), func(_ *archive.Archive, db *queries.DB) error {
		return printAnswer(c, db, statement, format)
	})
}

// printAnswer prints what a statement gives.
func printAnswer(c *cobra.Command, db *queries.DB, statement string, format show.Format) error {
	p := answerPrinter(format, c.OutOrStdout(), c.ErrOrStderr())
	err := queries.Ask(c.Context(), db, statement, p.head, p.row)
	if errors.Is(err, queries.ErrNotAsked) {
		return usageError{err}
	}
	if err != nil {
		return err
	}
	return p.end()
}

// statementOf is the statement of the command line: itself, in a file, or on
// standard input.
func statementOf(stdin io.Reader, args []string) (string, error) {
	text := ""
	switch {
	case len(args) == 0 || args[0] == "-":
		b, err := io.ReadAll(io.LimitReader(stdin, 1<<20))
		if err != nil {
			return "", fmt.Errorf("read the statement: %w", err)
		}
		text = string(b)
	case strings.HasSuffix(strings.ToLower(args[0]), ".sql"):
		b, err := os.ReadFile(args[0])
		if errors.Is(err, fs.ErrNotExist) {
			return "", usagef("there is no file %s; write the statement itself, or the name of its file", args[0])
		}
		if err != nil {
			return "", fmt.Errorf("read the statement: %w", err)
		}
		text = string(b)
	default:
		text = args[0]
	}
	if strings.TrimSpace(text) == "" {
		return "", usagef("there is no statement; write a SELECT, or --tables to see what there is")
	}
	return text, nil
}

func printTables(w io.Writer, format show.Format) error {
	described, err := queries.Described()
	if err != nil {
		return err
	}
	t := &show.Table{Columns: show.Columns("table", "column", "type", "unit", "meaning")}
	for _, d := range described {
		t.Add(d.Name, nil, nil, nil, d.Meaning)
		for _, c := range d.Columns {
			var unit any
			if c.Unit != "" {
				unit = c.Unit
			}
			t.Add(d.Name, c.Name, c.Type, unit, c.Meaning)
		}
	}
	return t.Print(w, format)
}

// answer prints what a statement gave, row by row.
type answer struct {
	head func([]queries.Column) error
	row  func([]any) error
	end  func() error
}

func answerPrinter(f show.Format, out, errs io.Writer) answer {
	var columns []queries.Column
	switch f {
	case show.CSV:
		return csvPrinter(out)
	case show.JSON:
		return jsonPrinter(out)
	}
	t := &show.Table{}
	rows := 0
	return answer{
		head: func(c []queries.Column) error {
			columns = c
			for _, x := range c {
				t.Columns = append(t.Columns, show.Column{Name: x.Name})
			}
			return nil
		},
		row: func(values []any) error {
			if rows++; rows > mostShown {
				return nil
			}
			cells := make([]any, len(values))
			for i, v := range values {
				if v != nil {
					cells[i] = cellText(v, columns[i].Type)
				}
			}
			t.Add(cells...)
			return nil
		},
		end: func() error {
			err := t.Print(out, show.Text)
			if rows > mostShown {
				fmt.Fprintf(errs, "wane: the first %d of %d rows; --format csv gives all\n", mostShown, rows)
			}
			return err
		},
	}
}

func csvPrinter(out io.Writer) answer {
	w := csv.NewWriter(out)
	var columns []queries.Column
	var record []string
	return answer{
		head: func(c []queries.Column) error {
			columns, record = c, make([]string, len(c))
			for i, x := range c {
				record[i] = show.Neutral(x.Name)
			}
			return w.Write(record)
		},
		row: func(values []any) error {
			for i, v := range values {
				record[i] = ""
				if v == nil {
					continue
				}
				record[i] = cellText(v, columns[i].Type)
				if _, text := v.(string); text {
					record[i] = show.Neutral(record[i])
				}
			}
			return w.Write(record)
		},
		end: func() error { w.Flush(); return w.Error() },
	}
}

func jsonPrinter(out io.Writer) answer {
	var columns []queries.Column
	sep := "[\n "
	return answer{
		head: func(c []queries.Column) error { columns = c; return nil },
		row: func(values []any) error {
			var b strings.Builder
			b.WriteString(sep + "{")
			sep = ",\n "
			for i, v := range values {
				if i > 0 {
					b.WriteString(", ")
				}
				name, err := json.Marshal(columns[i].Name)
				if err != nil {
					return err
				}
				cell, err := jsonCell(v, columns[i].Type)
				if err != nil {
					return fmt.Errorf("column %s: %w", columns[i].Name, err)
				}
				b.Write(name)
				b.WriteString(": ")
				b.Write(cell)
			}
			b.WriteString("}")
			_, err := io.WriteString(out, b.String())
			return err
		},
		end: func() error {
			if sep[0] == '[' {
				_, err := io.WriteString(out, "[\n]\n")
				return err
			}
			_, err := io.WriteString(out, "\n]\n")
			return err
		},
	}
}

// cellText is a value as it stands in a table: numbers as short as they are
// exact, days and moments by RFC 3339, what is no finite number as nothing.
func cellText(v any, engineType string) string {
	switch v := v.(type) {
	case string:
		return v
	case float64:
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return ""
		}
		return strconv.FormatFloat(v, 'g', -1, 64)
	case float32:
		return cellText(float64(v), engineType)
	case time.Time:
		if engineType == "DATE" {
			return v.Format("2006-01-02")
		}
		return v.UTC().Format("2006-01-02T15:04:05.999999Z")
	}
	return fmt.Sprint(v)
}

// jsonCell is a value as JSON: numbers and booleans as such, all else as text.
func jsonCell(v any, engineType string) ([]byte, error) {
	switch v := v.(type) {
	case nil:
		return []byte("null"), nil
	case bool:
		return strconv.AppendBool(nil, v), nil
	case float64, float32:
		if s := cellText(v, engineType); s != "" {
			return []byte(s), nil
		}
		return []byte("null"), nil
	case int8, int16, int32, int64, uint8, uint16, uint32, uint64:
		return fmt.Append(nil, v), nil
	case string:
		if engineType == "HUGEINT" || strings.HasPrefix(engineType, "DECIMAL") {
			return []byte(v), nil
		}
	}
	return json.Marshal(cellText(v, engineType))
}
