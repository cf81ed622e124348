// Command yearly measures the yearly summary of a great fleet from its derived
// tables, and prints it as a ratio to one scan of the readings behind them.
//
// Run from the repository's root:
//
//	go run ./cmd/wane/testdata/bench/yearly -fixtures 10000 -years 5
//
// The derived tables are made up by SQL: daily values and levels of every lamp
// life, a third of the lamps changed once, a few failed. It stands below
// cmd/wane because it calls a package that is internal to it.
//
// Not in the time: the forecasts of both ends of the year, which are the cost
// of two nights and are measured by testdata/bench/forecast; and taking in and
// deriving, which the nights have done. The raw scan sums the values of
// readings, hourly, of one month of the fleet, times the months.
package main

import (
	"context"
	"database/sql"
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"time"

	_ "github.com/marcboeker/go-duckdb" // the driver that makes the tables

	"wane/cmd/wane/internal/pages/yearly"
	"wane/cmd/wane/internal/sitefolder"
	"wane/ingest/archive"
	"wane/ingest/site"
	"wane/queries"
	"wane/transform/fleet"
)

func main() {
	fixtures := flag.Int("fixtures", 10000, "fixtures")
	years := flag.Int("years", 5, "years of record, the last of them 2025")
	keep := flag.String("tables", "", "folder to make the tables in and keep them; those there are used again (default: a temporary one)")
	flag.Parse()
	if err := run(context.Background(), *fixtures, *years, *keep); err != nil {
		fmt.Fprintln(os.Stderr, "bench:", err)
		os.Exit(1)
	}
}

func run(ctx context.Context, fixtures, years int, dir string) (err error) {
	if dir == "" {
		if dir, err = os.MkdirTemp("", "bench-yearly-*"); err != nil {
			return err
		}
		defer os.RemoveAll(dir)
	}
	if err := tables(ctx, dir, fixtures, years); err != nil {
		return fmt.Errorf("make tables: %w", err)
	}
	scan, err := rawScan(ctx, dir, years*12)
	if err != nil {
		return err
	}
	runtime.GC()
	before, worked := time.Now(), processor()
	made, err := summary(ctx, dir, fixtures, years)
	if err != nil {
		return err
	}
	took := time.Since(before)
	worked = processor() - worked
	bytes := 0
	for _, f := range made.Files {
		bytes += len(f)
	}
	fmt.Printf("%d fixtures, %d years: %d lamp lives in %d groups\n", fixtures, years, lives(made), len(made.Summary.Groups))
	fmt.Printf("summary        %8.1f s (limit 15 s)   %d files, %.1f MB\n", took.Seconds(), len(made.Files), float64(bytes)/1e6)
	fmt.Printf("processor time %8.1f s\n", worked.Seconds())
	fmt.Printf("peak memory    %8.2f GiB (limit 1.5 GiB), the making of the tables in another process where -tables held them already\n", peakGiB())
	fmt.Printf("raw scan       %8.1f s of hourly readings, extrapolated from one month\n", scan.Seconds())
	fmt.Printf("ratio          %8.2f\n", took.Seconds()/scan.Seconds())
	if took > 15*time.Second {
		return errors.New("over 15 s")
	}
	return nil
}

func lives(m *yearly.Made) int {
	n := 0
	for _, g := range m.Summary.Groups {
		if g.By == "lamp type" {
			n += g.Units
		}
	}
	return n
}

// types and models give the fleet something to compare.
var (
	types  = []fleet.LampType{fleet.HPSDE, fleet.HPSSE, fleet.CMH, fleet.LED}
	models = []string{"make A", "make B", "make C"}
)

func name(i int) string { return fmt.Sprintf("f%05d", i) }

// changed is the day, counted from the record's first, on which fixture i got
// its second lamp; 0 where it never did. The SQL below says the same.
func changed(i, days int) int {
	if i%3 != 0 {
		return 0
	}
	return days/4 + (i*37)%(days/2)
}

func summary(ctx context.Context, dir string, fixtures, years int) (*yearly.Made, error) {
	start := time.Date(2026-years, 1, 1, 0, 0, 0, 0, time.UTC)
	days := int(time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC).Sub(start).Hours() / 24)
	reg := &fleet.Register{}
	for i := range fixtures {
		t := types[i%len(types)]
		room := fmt.Sprintf("room%03d", i/200)
		reg.Fixtures = append(reg.Fixtures, fleet.Fixture{ID: name(i), Room: room, Bay: fmt.Sprintf("%s-%02d", room, i/20%10), LampType: t,
			Cohort: fmt.Sprintf("lot-%s-%d", t, i/2000), Model: models[i/4%len(models)], RatedW: 1000, RatedV: 230, Gear: fleet.Electronic, Installed: start})
		reg.Sensors = append(reg.Sensors, fleet.SensorPeriod{Sensor: fmt.Sprintf("log%04d", i/20), Channel: fmt.Sprint(i % 20), Quantity: fleet.PPFD, Unit: "umol/m2/s", Watches: name(i), Factor: 1})
		if d := changed(i, days); d > 0 {
			at := start.AddDate(0, 0, d)
			if i%6 == 0 {
				reg.Logbook = append(reg.Logbook, fleet.Entry{At: at.AddDate(0, 0, -3), What: fleet.Fail, Scope: fleet.OfFixture, ID: name(i), Value: "does not strike"})
			}
			reg.Logbook = append(reg.Logbook, fleet.Entry{At: at, What: fleet.Relamp, Scope: fleet.OfFixture, ID: name(i), Value: "lot-new"})
		}
	}
	for r := range fixtures / 200 {
		for y := range years * 2 {
			reg.Logbook = append(reg.Logbook, fleet.Entry{At: start.AddDate(0, 6*y, 9), What: fleet.Clean, Scope: fleet.OfRoom, ID: fmt.Sprintf("room%03d", r), Value: "all"})
		}
	}
	reg.Sort()
	config := site.Defaults()
	config.Name, config.Zone, config.Location = "Invented great site", "UTC", time.UTC
	config.Invented = true
	empty := filepath.Join(dir, "site")
	a, err := archive.Open(filepath.Join(empty, "archive"))
	if err != nil {
		return nil, err
	}
	glob := func(table string) []string {
		list, _ := filepath.Glob(filepath.Join(dir, table+"-*.parquet"))
		return list
	}
	db, err := queries.Open(ctx, queries.Tables{"daily": glob("daily"), "levels": glob("levels")}, queries.Limits{Threads: runtime.NumCPU(), MemoryMB: 700, Temp: os.TempDir()})
	if err != nil {
		return nil, err
	}
	made, err := yearly.Make(ctx, a, db, yearly.Options{Folder: site.Folder(empty), Site: sitefolder.Site{Config: config, Register: reg}, Year: 2025})
	return made, errors.Join(err, db.Close())
}

// tables writes a part a month, as the derivation does.
func tables(ctx context.Context, dir string, fixtures, years int) error {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	db, err := sql.Open("duckdb", "")
	if err != nil {
		return err
	}
	defer db.Close()
	start := time.Date(2026-years, 1, 1, 0, 0, 0, 0, time.UTC)
	days := int(time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC).Sub(start).Hours() / 24)
	for m := range years * 12 {
		from := start.AddDate(0, m, 0)
		to := from.AddDate(0, 1, 0)
		base := fmt.Sprintf(`
			WITH f AS (SELECT range AS i, 'f' || lpad(range::VARCHAR, 5, '0') AS fixture,
					CASE WHEN range %% 3 = 0 THEN %[2]d / 4 + (range * 37) %% (%[2]d / 2) ELSE 0 END::BIGINT AS changed FROM range(%[1]d)),
				d AS (SELECT range AS n, (DATE '%[3]s' + range::INTEGER) AS day FROM range(%[4]d, %[5]d)),
				x AS (SELECT *, CASE WHEN changed > 0 AND n >= changed THEN 2 ELSE 1 END AS life,
					12::DOUBLE * (n + 1 - CASE WHEN changed > 0 AND n >= changed THEN changed ELSE 0 END) AS h FROM f, d
					WHERE NOT (i %% 6 = 0 AND n >= changed - 3 AND n < changed)),
				y AS (SELECT *, exp(-(8 + i %% 7) / 1e6 * h) * (1 + 0.004 * sin(n / 3.0 + i)) AS level FROM x)`,
			fixtures, days, start.Format("2006-01-02"), int(from.Sub(start).Hours()/24), int(to.Sub(start).Hours()/24))
		for table, columns := range map[string]string{
			"levels": `fixture, life AS lamp_life, day, h AS run_hours, h - 20 AS run_hours_lo, h + 20 AS run_hours_hi, 'lamp-on time' AS witness,
				800 * level AS output, 805 * level AS output_raw, 0.001::DOUBLE AS gain_ln, 0.002::DOUBLE AS supply_ln, 0.0::DOUBLE AS ambient_ln, level, level AS level_raw, 40::BIGINT AS usable,
				230.0::DOUBLE AS supply_v, 25.0::DOUBLE AS ambient_c, 100.0::DOUBLE AS dim_pct, '' AS chain, '' AS flags`,
			"daily": `fixture, day, 24.0::DOUBLE AS hours, 'log' || lpad((i // 20)::VARCHAR, 4, '0') AS sensor, (i % 20)::VARCHAR AS channel, 96::BIGINT AS readings, 40::BIGINT AS usable, 800 * level AS ppfd,
				0.002::DOUBLE AS spread, 100.0::DOUBLE AS dim_pct, 230.0::DOUBLE AS supply_v, 25.0::DOUBLE AS ambient_c, NULL::DOUBLE AS power_w, NULL::DOUBLE AS current_a, 11.5::DOUBLE AS lit_h, 1.0::DOUBLE AS edge_h, 0.0::DOUBLE AS gap_h, 1::BIGINT AS starts,
				NULL::DOUBLE AS meter_first, NULL::TIMESTAMP AS meter_first_at, NULL::DOUBLE AS meter_last, NULL::TIMESTAMP AS meter_last_at, NULL::DOUBLE AS energy_first, NULL::DOUBLE AS energy_last,
				48::BIGINT AS unlit, 0::BIGINT AS daylight, 0::BIGINT AS implausible, 6::BIGINT AS running_up, 2::BIGINT AS edge, 0::BIGINT AS stuck, 0::BIGINT AS odd_dim, 0::BIGINT AS odd_supply, 0::BIGINT AS shadowed, 0::BIGINT AS conflicting`,
		} {
			path := filepath.Join(dir, fmt.Sprintf("%s-%s.parquet", table, from.Format("2006-01")))
			if _, err := os.Stat(path); err == nil {
				continue
			}
			if _, err := db.ExecContext(ctx, fmt.Sprintf("COPY (%s SELECT %s FROM y ORDER BY fixture, life, day) TO '%s' (FORMAT parquet, COMPRESSION zstd)", base, columns, path)); err != nil {
				return err
			}
		}
	}
	path := filepath.Join(dir, "readings.parquet")
	if _, err := os.Stat(path); err == nil {
		return nil
	}
	_, err = db.ExecContext(ctx, fmt.Sprintf(`COPY (SELECT 'log' || lpad((f.range // 20)::VARCHAR, 4, '0') AS sensor, (f.range %% 20)::VARCHAR AS channel,
		TIMESTAMP '2025-01-01' + to_hours(t.range::INTEGER) AS time, (800 * exp(-t.range / 1e5) * (1 + 0.01 * sin(t.range + f.range)))::DECIMAL(9, 1) AS value, false AS conflict
		FROM range(%d) f, range(730) t ORDER BY f.range, t.range) TO '%s' (FORMAT parquet, COMPRESSION zstd)`, fixtures, path))
	return err
}

// rawScan is how long one pass over the readings would take.
func rawScan(ctx context.Context, dir string, months int) (time.Duration, error) {
	db, err := sql.Open("duckdb", "")
	if err != nil {
		return 0, err
	}
	defer db.Close()
	var n int64
	var sum float64
	best := time.Hour
	for range 3 {
		before := time.Now()
		if err := db.QueryRowContext(ctx, "SELECT count(*), sum(value)::DOUBLE FROM (SELECT sensor, channel, time, value FROM read_parquet('"+filepath.Join(dir, "readings.parquet")+"') WHERE NOT conflict AND time IS NOT NULL AND sensor <> '' AND channel <> '')").Scan(&n, &sum); err != nil {
			return 0, err
		}
		best = min(best, time.Since(before))
	}
	return best * time.Duration(months), nil
}

// processor is the processor time that the process has had.
func processor() time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// peakGiB is the most memory that the process has held, where the system tells.
func peakGiB() float64 {
	data, err := os.ReadFile("/proc/self/status")
	if err != nil {
		return 0
	}
	for _, line := range strings.Split(string(data), "\n") {
		var kb float64
		if n, _ := fmt.Sscanf(line, "VmHWM: %f kB", &kb); n == 1 {
			return kb / 1024 / 1024
		}
	}
	return 0
}
