package derive

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math"
	"time"

	"wane/ingest/archive"
	"wane/transform/fleet"
	"wane/transform/level"
)

// levelRow is one row of table levels.
type levelRow struct {
	life *Life
	i    int // index into Totals
	lvl  *level.Level
	day  *level.Day
}

// Levels writes table levels from the lives as of the last day, a part a
// month of days. A part whose rows are what they were is kept.
func Levels(l *archive.Lock, lives []*Life, loc *time.Location) (*archive.Archive, error) {
	d, err := archive.Derive(l, TableLevels)
	if err != nil {
		return nil, err
	}
	months := map[month][]levelRow{}
	for _, life := range lives {
		byDay := map[int32]*level.Level{}
		for i := range life.Levels {
			byDay[life.Levels[i].Day] = &life.Levels[i]
		}
		for i, t := range life.Totals {
			r := levelRow{life: life, i: i, lvl: byDay[t.Day], day: life.DayAt(t.Day)}
			m := monthOf(Date(t.Day))
			months[m] = append(months[m], r)
		}
	}
	first, last := extentOf(months)
	for m := first; m <= last; m++ {
		rows := months[m]
		if len(rows) == 0 {
			continue
		}
		cols := levelColumns(rows, loc)
		partition := "month=" + m.String()
		key := contentKey(cols)
		if d.Keep(TableLevels, partition, key) {
			continue
		}
		if _, err := d.Write(TableLevels, partition, key, cols); err != nil {
			return nil, fmt.Errorf("write levels of %s: %w", m, err)
		}
	}
	return d.Commit()
}

func extentOf(months map[month][]levelRow) (first, last month) {
	first, last = 0, -1
	for m := range months {
		if last < first || m < first {
			first = m
		}
		if m > last {
			last = m
		}
	}
	return first, last
}

// contentKey is the hash of the rows themselves: which month a change of the
// register reaches cannot be told beforehand.
func contentKey(cols []archive.Column) string {
	h := sha256.New()
	for _, c := range cols {
		fmt.Fprintf(h, "%s %d %v %x %q %v\n", c.Name, c.Type, c.Int, c.Float, c.Text, c.Valid)
	}
	return hex.EncodeToString(h.Sum(nil))[:32]
}

// levelColumns lays rows out as schema/levels.sql of package queries says.
func levelColumns(rows []levelRow, loc *time.Location) []archive.Column {
	nan := math.NaN()
	lvl := func(get func(*level.Level) float64) func(int) float64 {
		return func(i int) float64 {
			if rows[i].lvl == nil {
				return nan
			}
			return get(rows[i].lvl)
		}
	}
	day := func(get func(*level.Day) float64) func(int) float64 {
		return func(i int) float64 {
			if rows[i].day == nil {
				return nan
			}
			return get(rows[i].day)
		}
	}
	t := &table{rows: len(rows)}
	t.text("fixture", func(i int) string { return rows[i].life.Fixture.ID })
	t.whole("lamp_life", archive.Int64, func(i int) int64 { return int64(rows[i].life.N) })
	t.whole("day", archive.Date, func(i int) int64 { return int64(rows[i].life.Totals[rows[i].i].Day) })
	t.number("run_hours", func(i int) float64 { return rows[i].life.Totals[rows[i].i].Hours })
	t.number("run_hours_lo", func(i int) float64 { return rows[i].life.Totals[rows[i].i].Lo })
	t.number("run_hours_hi", func(i int) float64 { return rows[i].life.Totals[rows[i].i].Hi })
	t.text("witness", func(i int) string { return string(rows[i].life.Totals[rows[i].i].Method) })
	t.maybe("output", lvl(func(l *level.Level) float64 { return l.Output }))
	t.maybe("output_raw", lvl(func(l *level.Level) float64 { return l.Raw }))
	t.maybe("gain_ln", lvl(func(l *level.Level) float64 { return l.Gain }))
	t.maybe("supply_ln", lvl(func(l *level.Level) float64 { return l.Supply }))
	t.maybe("ambient_ln", lvl(func(l *level.Level) float64 { return l.Ambient }))
	t.maybe("level", lvl(func(l *level.Level) float64 { return l.Level }))
	t.maybe("level_raw", lvl(func(l *level.Level) float64 { return l.LevelRaw }))
	t.whole("usable", archive.Int64, func(i int) int64 {
		if rows[i].day == nil {
			return 0
		}
		return int64(rows[i].day.Usable)
	})
	t.maybe("supply_v", day(func(d *level.Day) float64 { return d.SupplyV }))
	t.maybe("ambient_c", day(func(d *level.Day) float64 { return d.AmbientC }))
	t.maybe("dim_pct", day(func(d *level.Day) float64 { return d.DimPct }))
	t.text("chain", func(i int) string {
		life := rows[i].life
		return fleet.ChainAt(life.Chain, Start(life.Totals[rows[i].i].Day, loc).Add(12*time.Hour))
	})
	t.text("flags", func(i int) string {
		if rows[i].lvl == nil {
			return ""
		}
		return rows[i].lvl.Flags.String()
	})
	return t.cols
}
