package queries

import (
	"bufio"
	"context"
	"io/fs"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"
)

var day0 = time.Date(2025, 3, 1, 0, 0, 0, 0, time.UTC)

// asked calls every function of the package once; its keys are the statements.
var asked = map[string]func(context.Context, *DB) (int, error){
	"decline.sql": func(c context.Context, d *DB) (int, error) { r, err := Decline(c, d, day0, "f1"); return len(r), err },
	"decline_curve.sql": func(c context.Context, d *DB) (int, error) {
		r, err := DeclineCurve(c, d, day0, "", 250)
		return len(r), err
	},
	"daily_levels.sql": func(c context.Context, d *DB) (int, error) {
		r, err := DailyLevels(c, d, day0.AddDate(0, 0, -9), day0, "")
		return len(r), err
	},
	"left_out.sql": func(c context.Context, d *DB) (int, error) {
		r, err := LeftOut(c, d, day0.AddDate(0, 0, -9), day0, "")
		return len(r), err
	},
	"baselines.sql": func(c context.Context, d *DB) (int, error) {
		return written(c, d, func(to string) error { return MakeBaselines(c, d, to) })
	},
	"levels.sql": func(c context.Context, d *DB) (int, error) {
		if err := HoldLevels(c, d, day0, day0); err != nil {
			return 0, err
		}
		return written(c, d, func(to string) error { return MakeHeldLevels(c, d, to, day0, day0) })
	},
	"weeks.sql": func(c context.Context, d *DB) (int, error) {
		if err := HoldWeeks(c, d, day0, day0, 100); err != nil {
			return 0, err
		}
		return written(c, d, func(to string) error { return MakeWeeks(c, d, to, day0, day0) })
	},
	"rows_of_day.sql": func(c context.Context, d *DB) (int, error) {
		r, err := RowsOfDay(c, d, "log", "1", day0, day0.AddDate(0, 0, 1))
		return len(r), err
	},
	"record_span.sql": func(c context.Context, d *DB) (int, error) {
		r, err := RecordSpan(c, d, day0)
		return len(r),
			err
	},
	"life_years.sql": func(c context.Context, d *DB) (int, error) {
		r, err := LifeYears(c, d, day0, day0)
		return len(r),
			err
	},
	"life_weeks.sql": func(c context.Context, d *DB) (n int, err error) {
		err = LifeWeeks(c, d, day0, func(*LifeWeekRow) { n++ })
		return n, err
	},
	"year_use.sql": func(c context.Context, d *DB) (int, error) {
		r, err := YearUse(c, d, day0, day0)
		return len(r),
			err
	},
	"coverage_by_month.sql": func(c context.Context, d *DB) (int, error) {
		r, err := CoverageByMonth(c, d, day0, day0)
		return len(r), err
	},
	"supply_histogram.sql": func(c context.Context, d *DB) (int, error) {
		r, err := SupplyHistogram(c, d, "log", "v", 1, day0)
		return len(r), err
	},
	"supply_outside.sql": func(c context.Context, d *DB) (int, error) {
		r, err := SupplyOutside(c, d, "log", "v", 1, 207, 253, day0)
		return len(r), err
	},
	"supply_cadence.sql": func(c context.Context, d *DB) (int, error) {
		r, err := SupplyCadence(c, d, "log", "v", day0)
		return len(r), err
	},
	"supply_phases.sql": func(c context.Context, d *DB) (int, error) {
		r, err := SupplyPhases(c, d, [3][2]string{{"log", "a"}, {"log", "b"}, {"log", "c"}}, day0)
		return len(r), err
	},
	"burning_days.sql": func(c context.Context, d *DB) (int, error) {
		r, err := BurningDays(c, d, day0, day0)
		return len(r), err
	},
	"on_edges.sql": func(c context.Context, d *DB) (int, error) {
		r, err := OnEdges(c, d, "p", "a", 0.5, day0, day0.AddDate(0, 0, 1))
		return len(r), err
	},
	"light_per_power.sql": func(c context.Context, d *DB) (int, error) {
		r, err := LightPerPower(c, d, day0, day0)
		return len(r), err
	},
}

// Every statement has one function and every function its statement; each runs
// on a site that has nothing yet, and gives the columns of its rows.
func TestEachStatementRunsOnEmptyTables(t *testing.T) {
	ctx := context.Background()
	db := asking(t, Limits{Threads: 1})
	files, err := fs.Glob(statements, "*.sql")
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		if f == "views.sql" { // every Open runs it
			continue
		}
		ask, ok := asked[f]
		if !ok {
			t.Errorf("%s has no function in the table of this test", f)
			continue
		}
		if n, err := ask(ctx, db); err != nil || n != 0 {
			t.Errorf("%s: %d rows, %v", f, n, err)
		}
	}
	if len(files) != len(asked)+1 {
		t.Errorf("%d statements beside views.sql, %d functions asked", len(files)-1, len(asked))
	}
}

// written is how many rows a statement that makes a table writes.
func written(ctx context.Context, db *DB, make func(to string) error) (n int, err error) {
	dir, err := os.MkdirTemp("", "made")
	if err != nil {
		return 0, err
	}
	defer os.RemoveAll(dir)
	to := filepath.Join(dir, "made.parquet")
	if err := make(to); err != nil {
		return 0, err
	}
	return n, db.conn.QueryRowContext(ctx, "SELECT count(*) FROM read_parquet($1)", to).Scan(&n)
}

var header = regexp.MustCompile(`^-- name: (\w+)$`)

// Each statement says its name, which is that of its function, its purpose and
// as many parameters as it uses.
func TestEachStatementHasItsHeader(t *testing.T) {
	var source []byte
	names, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	for _, n := range names {
		if strings.HasSuffix(n, "_test.go") {
			continue
		}
		text, err := os.ReadFile(n)
		if err != nil {
			t.Fatal(err)
		}
		source = append(source, text...)
	}
	for f := range asked {
		text, err := statements.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		sc := bufio.NewScanner(strings.NewReader(string(text)))
		sc.Scan()
		m := header.FindStringSubmatch(sc.Text())
		if m == nil || !strings.Contains(string(source), "func "+m[1]+"(ctx") {
			t.Errorf("%s: first line %q names no function", f, sc.Text())
		}
		if sc.Scan(); !strings.HasPrefix(sc.Text(), "-- ") {
			t.Errorf("%s: no purpose", f)
		}
		body := string(text)
		for _, p := range []string{"$1", "$2", "$3", "$4", "$5", "$6", "$7"} {
			if strings.Contains(body, p) != strings.Contains(body, "-- "+p+" ") {
				t.Errorf("%s: parameter %s is used or described, not both", f, p)
			}
		}
	}
}

// The rows of a small data set, which the statements in testdata/golden.sql make,
// against what follows from it by hand.
func TestGoldenRows(t *testing.T) {
	ctx := context.Background()
	dir := t.TempDir()
	maker, err := Open(ctx, Tables{}, Limits{Threads: 1})
	if err != nil {
		t.Fatal(err)
	}
	defer maker.Close()
	text, err := os.ReadFile("testdata/golden.sql")
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range strings.Split(string(text), ";\n") {
		s = strings.ReplaceAll(s, "{dir}", dir)
		if strings.TrimSpace(s) == "" {
			continue
		}
		if _, err := maker.conn.ExecContext(ctx, s); err != nil {
			t.Fatalf("%s: %v", s, err)
		}
	}
	db, err := Open(ctx, Tables{
		"readings": {filepath.Join(dir, "readings1.parquet"), filepath.Join(dir, "readings2.parquet")},
		"daily":    {filepath.Join(dir, "daily.parquet")},
		"levels":   {filepath.Join(dir, "levels.parquet")},
	}, Limits{Threads: 2})
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()

	rows, err := RowsOfDay(ctx, db, "log", "1", day0, day0.AddDate(0, 0, 1))
	if err != nil || len(rows) != 3 || rows[0].Value != 812.5 || !rows[1].Conflict || rows[2].Value != 812.25 {
		t.Errorf("readings: %+v %v", rows, err)
	}
	decline, err := Decline(ctx, db, day0.AddDate(0, 0, 1), "")
	if err != nil || len(decline) != 2 || decline[1].RunHours != 124 || decline[1].Level != 0.99 ||
		decline[1].LevelRaw.V != 0.985 {
		t.Errorf("decline: %+v %v", decline, err)
	}
	if decline[0].LevelRaw.Valid {
		t.Errorf("a null must stay a null: %+v", decline[0])
	}
	all, err := Decline(ctx, db, day0.AddDate(1, 0, 0), "f1")
	if err != nil || len(all) != 3 {
		t.Errorf("decline of f1: %+v %v", all, err)
	}
	curve, err := DeclineCurve(ctx, db, day0.AddDate(1, 0, 0), "", 100)
	if err != nil || len(curve) != 1 || curve[0].RunHours != 150 || curve[0].Level != 0.99 || curve[0].Days != 3 {
		t.Errorf("curve: %+v %v", curve, err)
	}
	left, err := LeftOut(ctx, db, day0, day0.AddDate(0, 0, 9), "")
	if err != nil || len(left) != 1 || left[0].Readings != 192 || left[0].Shadowed != 3 || left[0].Usable != 90 {
		t.Errorf("left out: %+v %v", left, err)
	}
	span, err := RecordSpan(ctx, db, day0.AddDate(0, 0, 9))
	if err != nil || len(span) != 1 || !span[0].First.Equal(day0) || !span[0].Last.Equal(day0.AddDate(0, 0, 1)) {
		t.Errorf("span: %+v %v", span, err)
	}
	years, err := LifeYears(ctx, db, day0.AddDate(0, 0, 9), day0.AddDate(0, 0, 1))
	if err != nil || len(years) != 1 || years[0].HoursUnseen.V != 112 || years[0].HoursFirst.V != 124 ||
		years[0].HoursLit.V != 136 ||
		years[0].HoursLast != 136 || years[0].ByMeter != 1 || math.Abs(years[0].Baseline.V-800/0.98) > 1e-9 {
		t.Errorf("years: %+v %v", years, err)
	}
	weeks := []LifeWeekRow{}
	err = LifeWeeks(ctx, db, day0.AddDate(0, 0, 9), func(r *LifeWeekRow) { weeks = append(weeks, *r) })
	if err != nil || len(weeks) != 1 || weeks[0].Level != 0.99 || weeks[0].Days != 3 || weeks[0].RunHours != 124 ||
		weeks[0].Fixture != "f1" {
		t.Errorf("weeks: %+v %v", weeks, err)
	}
	use, err := YearUse(ctx, db, day0, day0.AddDate(0, 0, 9))
	if err != nil || len(use) != 1 || use[0].Starts != 1 || use[0].EnergyDays != 0 || use[0].EnergyKWh.Valid ||
		use[0].PPFD.V != 812.5 {
		t.Errorf("use: %+v %v", use, err)
	}
	burning, err := BurningDays(ctx, db, day0, day0.AddDate(0, 0, 9))
	if err != nil || len(burning) != 2 || burning[0].BurnedH != 12 || burning[0].Starts != 1 || burning[0].PowerW.Valid ||
		burning[1].DimPct.Valid {
		t.Errorf("burning: %+v %v", burning, err)
	}
	edges, err := OnEdges(ctx, db, "p", "a", 0.9, day0, day0.AddDate(0, 0, 1))
	if err != nil || len(edges) != 2 || edges[0].Lit || !edges[0].Time.Equal(day0.Add(time.Hour)) ||
		edges[0].Seconds != 1800 || !edges[1].Lit {
		t.Errorf("edges: %+v %v", edges, err)
	}
	months, err := CoverageByMonth(ctx, db, day0, day0.AddDate(0, 0, 9))
	if err != nil || len(months) != 1 || months[0].FixtureDays != 2 || months[0].LevelDays != 1 || months[0].Usable != 90 {
		t.Errorf("months: %+v %v", months, err)
	}
	supply(t, db)
}

// The engine must not go looking for extensions.
func TestEngineLoadsNothingFromOutside(t *testing.T) {
	ctx := context.Background()
	db := asking(t, Limits{})
	if _, err := db.conn.ExecContext(ctx, "INSTALL httpfs"); err == nil {
		t.Error("an extension was installed")
	}
	var auto string
	if err := db.conn.QueryRowContext(ctx, "SELECT current_setting('autoload_known_extensions')::VARCHAR").Scan(&auto); err != nil || auto != "false" {
		t.Errorf("autoload is %s, %v", auto, err)
	}
}

// Nothing above the queries is pulled in by them.
func TestQueriesKnowOnlyTheEngine(t *testing.T) {
	out, err := exec.Command("go", "list", "-f", "{{join .Imports \"\\n\"}}", ".").Output()
	if err != nil {
		t.Fatal(err)
	}
	for _, imp := range strings.Fields(string(out)) {
		if strings.HasPrefix(imp, "wane/") {
			t.Errorf("queries imports %s", imp)
		}
	}
}
