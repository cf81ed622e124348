package queries

import (
	"bytes"
	"context"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// A lamp life of three weeks: the lamp is seasoned after 100 h, the supply is 1 %
// above its reference, the air 10 degC, the sensor's gain rises by 0.001 a day, and
// the logger stood still on two days.
const threeWeeks = `
INSERT INTO lives SELECT 1, 'f1', 1, 'hps-de', 'lot', 'magnetic', 'r', 'b', 'c', DATE '2025-01-02', DATE '2025-01-02', DATE '2025-01-22', DATE '2025-01-02', '',
    DATE '2025-01-02', DATE '2025-01-22', 'log', 'log', 0, 252, 252, 252, 100, DATE '2025-01-10', DATE '2025-01-12', 3, 108, FALSE, TRUE, 230, 25, 1.5, -0.003, 0.9, NULL, NULL, 0, FALSE, '';
INSERT INTO gains VALUES ('log', DATE '2025-01-02', DATE '9999-12-31', 0.001, FALSE, TRUE);
INSERT INTO chains VALUES ('f1', DATE '2025-01-02', DATE '9999-12-31', 'lamp 1');
INSERT INTO sensor_periods VALUES (7, 'f1', 'log', '1', 1, DATE '2025-01-02', DATE '9999-12-31');
INSERT INTO placements VALUES (8, 'f1', 'r', 'b', 'c', DATE '2025-01-02', DATE '9999-12-31');
INSERT INTO hours SELECT 'f1', 1, DATE '2025-01-02' + CAST(i AS INTEGER), 12 * (i + 1), 12 * (i + 1), 12 * (i + 1), 'lamp-on time', i = 13, NULL FROM range(21) t(i);
INSERT INTO daily (fixture, day, hours, sensor, channel, readings, usable, ppfd, dim_pct, supply_v, ambient_c, lit_h, edge_h, gap_h, starts,
    unlit, daylight, implausible, running_up, edge, stuck, odd_dim, odd_supply, shadowed, conflicting)
SELECT 'f1', DATE '2025-01-02' + CAST(i AS INTEGER), 24, 'log', '1', 288, 90, CASE WHEN i IN (12, 13) THEN 500 ELSE 400 + i END, 50, 232.3, CASE WHEN i > 0 THEN 35 END, 12, 0, 0, 1,
    0, 0, 0, 0, 0, 0, 0, 0, 0, 0
FROM range(21) t(i) WHERE i <> 15;
`

// What the statements that make tables say of a life, by hand.
func TestMadeByHand(t *testing.T) {
	ctx := context.Background()
	db := asking(t, Limits{Threads: 1})
	for _, s := range strings.Split(strings.TrimSpace(threeWeeks), ";\n") {
		if _, err := db.conn.ExecContext(ctx, s); err != nil {
			t.Fatalf("%s: %v", s, err)
		}
	}
	first := time.Date(2025, 1, 2, 0, 0, 0, 0, time.UTC) // a Thursday, as 1970-01-01 was
	to := filepath.Join(t.TempDir(), "made.parquet")
	if err := MakeBaselines(ctx, db, to); err != nil {
		t.Fatal(err)
	}
	corrected := func(i float64) float64 { return 2 * (400 + i) * math.Exp(-0.001*i-1.5*math.Log(1.01)+0.003*10) }
	var base, raw, deviation float64
	if err := db.conn.QueryRowContext(ctx, "SELECT baseline, baseline_raw, deviation FROM read_parquet($1)",
		to).Scan(&base, &raw, &deviation); err != nil {
		t.Fatal(err)
	}
	if math.Abs(base-corrected(9)) > 1e-9 || raw != 818 ||
		math.Abs(deviation-math.Min(corrected(10)-base, base-corrected(8))) > 1e-9 {
		t.Errorf("baseline %v, raw %v, deviation %v; want %v, 818", base, raw, deviation, corrected(9))
	}
	if _, err := db.conn.ExecContext(ctx, "INSERT INTO baselines SELECT * FROM read_parquet($1)", to); err != nil {
		t.Fatal(err)
	}
	if err := HoldLevels(ctx, db, first, first.AddDate(0, 0, 20)); err != nil {
		t.Fatal(err)
	}
	held := filepath.Join(t.TempDir(), "held.parquet")
	if err := MakeHeldLevels(ctx, db, held, first, first.AddDate(0, 0, 20)); err != nil {
		t.Fatal(err)
	}
	if err := MakeLevels(ctx, db, to, first, first.AddDate(0, 0, 20)); err != nil {
		t.Fatal(err)
	}
	if a, b := read(t, to), read(t, held); a != b {
		t.Error("levels held and written are not the levels written at once")
	}
	if _, err := db.conn.ExecContext(ctx, "INSERT INTO levels SELECT * FROM read_parquet($1)", to); err != nil {
		t.Fatal("table levels is not what its schema says: ", err)
	}
	rows, err := DailyLevels(ctx, db, first, first.AddDate(0, 0, 20), "f1")
	if err != nil || len(rows) != 21 {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	for i, r := range rows {
		flags := "gain-ahead dimmed short-baseline"
		switch {
		case i == 0:
			flags = "gain-ahead no-ambient dimmed seasoning"
		case i < 8:
			flags = "gain-ahead dimmed seasoning"
		case i == 15:
			flags = ""
		}
		if r.Flags != flags || r.Level.Valid != (i >= 8 && i != 15) || r.RunHours != 12*float64(i+1) || r.Chain != "lamp 1" {
			t.Errorf("day %d: %+v", i, r)
		}
		if r.Level.Valid && i != 12 && i != 13 && math.Abs(r.Level.V-corrected(float64(i))/base) > 1e-12 {
			t.Errorf("day %d: level %v, want %v", i, r.Level.V, corrected(float64(i))/base)
		}
	}
	if err := HoldWeeks(ctx, db, first, first.AddDate(0, 0, 20), 100); err != nil {
		t.Fatal(err)
	}
	if err := MakeWeeks(ctx, db, to, first, first.AddDate(0, 0, 20)); err != nil {
		t.Fatal(err)
	}
	if _, err := db.conn.ExecContext(ctx, "INSERT INTO weeks SELECT * FROM read_parquet($1)", to); err != nil {
		t.Fatal("table weeks is not what its schema says: ", err)
	}
	type week struct {
		day              time.Time
		period, place, n int
		hours, ln        float64
	}
	var got []week
	found, err := db.conn.QueryContext(ctx, "SELECT day, period, placement, n, run_hours, ln_output FROM weeks ORDER BY day")
	if err != nil {
		t.Fatal(err)
	}
	defer found.Close()
	for found.Next() {
		var w week
		if err := found.Scan(&w.day, &w.period, &w.place, &w.n, &w.hours, &w.ln); err != nil {
			t.Fatal(err)
		}
		got = append(got, w)
	}
	// Days 8 to 11 of the second week, without the two that stood still; 14 and 16 to 20 of the third. Supply stood
	// 1 % high, at a coefficient of 1.5, and the air 10 K, at -0.003 a kelvin.
	if len(got) != 2 || got[0].n != 4 || got[1].n != 6 || got[0].period != 7 || got[0].place != 8 ||
		!got[0].day.Equal(first.AddDate(0, 0, 10)) ||
		math.Abs(got[0].hours-12*10.5) > 1e-9 || math.Abs(got[0].ln-(math.Log(818)+math.Log(820))/2+
		1.5*math.Log(1.01)-0.003*10) > 1e-12 {
		t.Errorf("weeks: %+v", got)
	}
}

func read(t *testing.T, file string) string {
	t.Helper()
	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// A table is written with the same bytes whatever the threads, also where it is so
// long that several of them read and sort.
func TestWrittenTheSameWhateverTheThreads(t *testing.T) {
	ctx := t.Context()
	dir := t.TempDir()
	from, to := filepath.Join(dir, "from.parquet"), filepath.Join(dir, "made.parquet")
	var want []byte
	for n := range 12 {
		db := asking(t, Limits{Threads: 1 + n%4})
		if n == 0 {
			if _, err := db.conn.ExecContext(ctx, "COPY (SELECT hash(i) % 10000 AS life, i % 31 AS day, i AS x, sin(i) AS y "+
				"FROM range(310000) t(i)) TO '"+from+"' "+made); err != nil {
				t.Fatal(err)
			}
		}
		if _, err := db.conn.ExecContext(ctx, byLife("SELECT * FROM '"+from+"'", to)); err != nil {
			t.Fatal(err)
		}
		got, err := os.ReadFile(to)
		if err != nil {
			t.Fatal(err)
		}
		if want == nil {
			want = got
		}
		if !bytes.Equal(got, want) {
			t.Fatalf("time %d, by %d threads, gives other bytes", n, 1+n%4)
		}
	}
}
