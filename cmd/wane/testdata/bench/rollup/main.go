// Command rollup compares the daily roll-up with the plain way to do it in SQL,
// lag() OVER (PARTITION BY series ORDER BY time), on the same Parquet files in
// one run. It invents a site of fixtures read every few minutes for some days,
// keeps it in a folder of its own, runs both ways as processes of their own, and
// prints time and peak memory as ratios. Lit hours are compared day by day.
//
//	go run ./cmd/wane/testdata/bench/rollup -fixtures 1000 -days 365
package main

import (
	"context"
	"database/sql"
	"flag"
	"fmt"
	"log"
	"math"
	"os"
	"path/filepath"
	"strings"
	"time"

	_ "github.com/marcboeker/go-duckdb"

	"wane/cmd/wane/internal/derive"
	"wane/cmd/wane/internal/sitefolder"
	"wane/ingest/archive"
	"wane/ingest/reading"
	"wane/ingest/site"
	"wane/testdata/bench/beside"
	"wane/transform/fleet"
)

var (
	fixtures = flag.Int("fixtures", 200, "how many")
	days     = flag.Int("days", 120, "how many")
	cadence  = flag.Int("cadence", 5, "minutes between readings")
	dir      = flag.String("dir", "", "folder to work in; empty: a temporary one")
	part     = flag.String("part", "", "internal: invent, rollup or sql")
)

func main() {
	log.SetFlags(0)
	flag.Parse()
	var err error
	switch *part {
	case "rollup":
		err = rollup()
	case "sql":
		err = plain()
	case "invent":
		err = invent()
	default:
		err = compare()
	}
	if err != nil {
		log.Fatal(err)
	}
}

func compare() error {
	if *dir == "" {
		tmp, err := os.MkdirTemp("", "rollup")
		if err != nil {
			return err
		}
		defer os.RemoveAll(tmp)
		*dir = tmp
	}
	if err := os.MkdirAll(*dir, 0o755); err != nil {
		return err
	}
	if _, err := os.Stat(filepath.Join(*dir, "archive", "manifest.json")); err != nil {
		fmt.Printf("inventing %d fixtures x %d days x %d a day\n", *fixtures, *days, 1440 / *cadence)
		// In a process of its own: a child's peak memory starts at its parent's.
		if _, _, err := child("invent"); err != nil {
			return err
		}
	}
	sqlTime, sqlMem, err := child("sql")
	if err != nil {
		return err
	}
	ourTime, ourMem, err := child("rollup")
	if err != nil {
		return err
	}
	fmt.Printf("%-10s %8s %10s\n", "", "seconds", "peak MB")
	fmt.Printf("%-10s %8.2f %10.0f\n", "plain SQL", sqlTime, sqlMem)
	fmt.Printf("%-10s %8.2f %10.0f\n", "roll-up", ourTime, ourMem)
	fmt.Printf("%-10s %8.3f %10.3f\n", "ratio", ourTime/sqlTime, ourMem/sqlMem)
	return same()
}

// child runs one way as a process of its own.
func child(which string) (seconds, peakMB float64, err error) {
	start := time.Now()
	out, c, err := beside.Child("-part", which, "-dir", *dir, "-fixtures", fmt.Sprint(*fixtures), "-days", fmt.Sprint(*days), "-cadence", fmt.Sprint(*cadence))
	fmt.Print(out)
	return time.Since(start).Seconds(), float64(c.MiB), err
}

var start = time.Date(2024, 1, 1, 0, 0, 0, 0, time.UTC)

func name(i int) (sensor, channel string) {
	return fmt.Sprintf("log%03d", i/8), fmt.Sprintf("%d", i%8)
}

func theSite() sitefolder.Site {
	s := sitefolder.Site{Config: site.Defaults(), Register: &fleet.Register{}}
	s.Config.Location = time.UTC
	for i := range *fixtures {
		id := fmt.Sprintf("f%04d", i)
		sensor, channel := name(i)
		s.Register.Fixtures = append(s.Register.Fixtures, fleet.Fixture{ID: id, Room: "room", LampType: fleet.HPSDE, Installed: start})
		s.Register.Sensors = append(s.Register.Sensors, fleet.SensorPeriod{Sensor: sensor, Channel: channel, Quantity: fleet.PPFD, Watches: id, Factor: 1})
	}
	return s
}

// invent writes the readings: lamps burn 18 h a day over midnight, with noise of
// one decimal, a gap now and then.
func invent() error {
	lock, err := archive.Acquire(filepath.Join(*dir, "archive"), archive.Holder{PID: os.Getpid(), What: "benchmark"})
	if err != nil {
		return err
	}
	defer lock.Release()
	for from := 0; from < *days; from += 31 { // a month a take bounds the memory
		t, err := archive.Begin(lock, archive.Options{Now: start.AddDate(0, 0, *days+2)})
		if err != nil {
			return err
		}
		p := filepath.Join(*dir, fmt.Sprintf("days-%d", from))
		if err := os.WriteFile(p, []byte(p), 0o644); err != nil {
			return err
		}
		kept, err := t.Keep(context.Background(), archive.Input{Path: p, Name: filepath.Base(p)})
		if err != nil {
			return err
		}
		sink, err := t.Sink(0, kept)
		if err != nil {
			return err
		}
		if err := readings(sink, from, min(*days, from+31)); err != nil {
			return err
		}
		if err := sink.Done(0); err != nil {
			return err
		}
		if _, err := t.Commit(context.Background()); err != nil {
			return err
		}
	}
	return nil
}

func readings(sink *archive.Sink, from, to int) error {
	var b reading.Batch
	seed := uint64(88172645463325252)
	for i := range *fixtures {
		sensor, channel := name(i)
		b.Series = append(b.Series, reading.Series{Sensor: sensor, Channel: channel})
	}
	for i := range *fixtures {
		b.Reset()
		for m := from * 1440; m < to*1440; m += *cadence {
			seed ^= seed << 13
			seed ^= seed >> 7
			seed ^= seed << 17
			if seed%5000 == 0 {
				m += 180 // three hours without a reading
			}
			if m >= to*1440 {
				break
			}
			v := int64(3)
			if h := m / 60 % 24; h >= 14 || h < 8 {
				v = int64(8000-i) - int64(m/20000) + int64(seed%40)
			}
			b.Add(int32(i), start.Add(time.Duration(m)*time.Minute).UnixMicro(), reading.Value{Mantissa: v, Digits: 1}, 0)
		}
		if err := sink.Readings(&b); err != nil {
			return err
		}
	}
	return nil
}

func rollup() error {
	lock, err := archive.Acquire(filepath.Join(*dir, "archive"), archive.Holder{PID: os.Getpid(), What: "benchmark"})
	if err != nil {
		return err
	}
	defer lock.Release()
	if err := archive.DropDerived(lock); err != nil {
		return err
	}
	_, err = derive.Daily(context.Background(), lock, theSite())
	return err
}

func glob() string { return filepath.Join(*dir, "archive", "readings", "**", "*.parquet") }

// plainSQL sums the time between two lit readings, as the roll-up does: a
// silence of more than an hour is not bridged, the time up to a reading belongs
// to the reading's day.
const plainSQL = `
COPY (
WITH stepped AS (
    SELECT sensor, channel, time, value,
        epoch_us(time) - lag(epoch_us(time)) OVER w AS dt, lag(value) OVER w AS before
    FROM readings
    WINDOW w AS (PARTITION BY sensor, channel ORDER BY time)
)
SELECT sensor, channel, epoch_us(time) // 86400000000 AS day, count(*) AS readings,
    sum(CASE WHEN dt <= 3600000000 AND value >= 100 AND before >= 100 THEN dt / 3600e6 ELSE 0 END) AS lit_h,
    sum(CASE WHEN dt <= 3600000000 AND (value >= 100) <> (before >= 100) THEN dt / 3600e6 ELSE 0 END) AS edge_h,
    median(value) FILTER (value >= 100) AS ppfd
FROM stepped
GROUP BY ALL
ORDER BY sensor, channel, day
) TO '%s' (FORMAT parquet)`

func plain() error {
	db, err := open()
	if err != nil {
		return err
	}
	defer db.Close()
	_, err = db.Exec(fmt.Sprintf(plainSQL, filepath.Join(*dir, "plain.parquet")))
	return err
}

func open() (*sql.DB, error) {
	db, err := sql.Open("duckdb", "")
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(1)
	for _, s := range []string{
		"SET autoinstall_known_extensions = false", "SET autoload_known_extensions = false", "SET memory_limit = '14GB'",
		fmt.Sprintf("CREATE VIEW readings AS SELECT sensor, channel, time, CAST(value AS DOUBLE) AS value FROM read_parquet('%s', hive_partitioning = false, union_by_name = true)", glob()),
	} {
		if _, err := db.Exec(s); err != nil {
			return nil, fmt.Errorf("%s: %w", s, err)
		}
	}
	return db, nil
}

// same compares both results day by day.
func same() error {
	db, err := open()
	if err != nil {
		return err
	}
	defer db.Close()
	q := fmt.Sprintf(`
SELECT count(*), max(abs(d.lit_h - p.lit_h)), max(abs(d.edge_h - p.edge_h)), max(abs(d.readings - p.readings))
FROM read_parquet('%s', hive_partitioning = false) d
JOIN read_parquet('%s') p ON d.sensor = p.sensor AND d.channel = p.channel AND d.day = DATE '1970-01-01' + p.day::INTEGER`,
		filepath.Join(*dir, "archive", "daily", "**", "*.parquet"), filepath.Join(*dir, "plain.parquet"))
	var n int64
	var lit, edge, count float64
	if err := db.QueryRow(q).Scan(&n, &lit, &edge, &count); err != nil {
		return err
	}
	fmt.Printf("compared %d fixture days: lit hours differ by at most %.2g h, edges by %.2g h, counts by %.0f\n", n, lit, edge, count)
	if worst := math.Max(lit, math.Max(edge, count)); worst > 1e-9 || n != int64(*fixtures**days) {
		return fmt.Errorf("the two ways differ (%s)", strings.TrimSpace(fmt.Sprintf("%d days of %d", n, *fixtures**days)))
	}
	return nil
}
