package derive

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"maps"
	"math"
	"slices"
	"sort"
	"time"

	"wane/ingest/archive"
	"wane/transform/fleet"
	"wane/transform/hours"
	"wane/transform/level"
)

// levelRow is one row of table levels.
type levelRow struct {
	fixture string
	life    int
	total   hours.Total
	level   level.Level // its numbers are NaN where the day has none
	day     level.Day   // the same
	chain   string
}

// How many rows of table levels are made in one pass over the lives, where their
// series are held and where they are made again for each pass.
const (
	rowsHeld   = 250_000
	rowsPacked = 2_000_000
)

// Levels writes table levels from the lives as of the last day, a part a
// month of days. A part whose rows are what they were is kept.
func Levels(l *archive.Lock, lives []*Life, loc *time.Location) (*archive.Archive, error) {
	d, err := archive.Derive(l, TableLevels)
	if err != nil {
		return nil, err
	}
	most := rowsHeld
	if len(lives) > 0 && lives[0].record != nil {
		most = rowsPacked
	}
	for _, some := range passes(lives, most) {
		for m, rows := range levelRows(lives, some[0], some[len(some)-1], loc) {
			if len(rows) == 0 {
				continue
			}
			month := some[0] + month(m)
			cols := levelColumns(rows)
			partition := "month=" + month.String()
			key := contentKey(cols)
			if d.Keep(TableLevels, partition, key) {
				continue
			}
			if _, err := d.Write(TableLevels, partition, key, cols); err != nil {
				return nil, fmt.Errorf("write levels of %s: %w", month, err)
			}
		}
	}
	return d.Commit()
}

// passes cuts the months of the lives where their rows would be too many at
// once.
func passes(lives []*Life, most int) [][]month {
	days := map[month]int{}
	for _, l := range lives {
		for m := monthOf(Date(l.FirstDay)); l.LastDay >= l.FirstDay && m <= monthOf(Date(l.LastDay)); m++ {
			days[m] += 31
		}
	}
	all := slices.Sorted(maps.Keys(days))
	var out [][]month
	n := 0
	for i, m := range all {
		if i == 0 || n+days[m] > most {
			out, n = append(out, nil), 0
		}
		out[len(out)-1] = append(out[len(out)-1], m)
		n += days[m]
	}
	return out
}

// levelRows makes the rows of the months from first to last, by month.
func levelRows(lives []*Life, first, last month, loc *time.Location) [][]levelRow {
	from, to := DayOf(first.first(time.UTC), time.UTC), lastDayOf(last)
	out := make([][]levelRow, last-first+1)
	for some := range slices.Chunk(lives, chunk) {
		rows := make([][]levelRow, len(some))
		each(len(some), func(i int) {
			if some[i].LastDay >= from && some[i].FirstDay <= to {
				rows[i] = some[i].WithSeries().levelRows(from, to, loc)
			}
		})
		for i := range rows {
			for _, r := range rows[i] {
				m := monthOf(Date(r.total.Day)) - first
				out[m] = append(out[m], r)
			}
		}
	}
	return out
}

// levelRows makes the rows of the life's days from one to another.
func (l *Life) levelRows(from, to int32, loc *time.Location) []levelRow {
	nan := math.NaN()
	noLevel := level.Level{Output: nan, Raw: nan, Gain: nan, Supply: nan, Ambient: nan, Level: nan, LevelRaw: nan}
	noDay := level.Day{SupplyV: nan, AmbientC: nan, DimPct: nan}
	k := sort.Search(len(l.Totals), func(i int) bool { return l.Totals[i].Day >= from })
	at := sort.Search(len(l.Levels), func(i int) bool { return l.Levels[i].Day >= from })
	var out []levelRow
	for ; k < len(l.Totals) && l.Totals[k].Day <= to; k++ {
		day := l.Totals[k].Day
		r := levelRow{fixture: l.Fixture.ID, life: l.N, total: l.Totals[k], level: noLevel, day: noDay, chain: fleet.ChainAt(l.Chain, Start(day, loc).Add(12*time.Hour))}
		for at < len(l.Levels) && l.Levels[at].Day < day {
			at++
		}
		if at < len(l.Levels) && l.Levels[at].Day == day {
			r.level = l.Levels[at]
		}
		if d := l.DayAt(day); d != nil {
			r.day = *d
		}
		out = append(out, r)
	}
	return out
}

// contentKey is the hash of the rows themselves: which month a change of the
// register reaches cannot be told beforehand.
func contentKey(cols []archive.Column) string {
	h := sha256.New()
	var buf []byte
	flush := func(least int) {
		if len(buf) >= least {
			h.Write(buf)
			buf = buf[:0]
		}
	}
	const page = 1 << 16
	for _, c := range cols {
		buf = words(buf, c.Name, fmt.Sprint(c.Type, c.Len()))
		for _, v := range c.Int {
			buf = binary.LittleEndian.AppendUint64(buf, uint64(v))
			flush(page)
		}
		for _, v := range c.Float {
			buf = number(buf, v)
			flush(page)
		}
		for _, v := range c.Text {
			buf = words(buf, v)
			flush(page)
		}
		for _, v := range c.Valid {
			buf = append(buf, '0')
			if v {
				buf[len(buf)-1] = '1'
			}
			flush(page)
		}
	}
	flush(0)
	return hex.EncodeToString(h.Sum(nil))[:32]
}

// levelColumns lays rows out as schema/levels.sql of package queries says.
func levelColumns(rows []levelRow) []archive.Column {
	t := &table{rows: len(rows)}
	t.text("fixture", func(i int) string { return rows[i].fixture })
	t.whole("lamp_life", archive.Int64, func(i int) int64 { return int64(rows[i].life) })
	t.whole("day", archive.Date, func(i int) int64 { return int64(rows[i].total.Day) })
	t.number("run_hours", func(i int) float64 { return rows[i].total.Hours })
	t.number("run_hours_lo", func(i int) float64 { return rows[i].total.Lo })
	t.number("run_hours_hi", func(i int) float64 { return rows[i].total.Hi })
	t.text("witness", func(i int) string { return string(rows[i].total.Method) })
	t.maybe("output", func(i int) float64 { return rows[i].level.Output })
	t.maybe("output_raw", func(i int) float64 { return rows[i].level.Raw })
	t.maybe("gain_ln", func(i int) float64 { return rows[i].level.Gain })
	t.maybe("supply_ln", func(i int) float64 { return rows[i].level.Supply })
	t.maybe("ambient_ln", func(i int) float64 { return rows[i].level.Ambient })
	t.maybe("level", func(i int) float64 { return rows[i].level.Level })
	t.maybe("level_raw", func(i int) float64 { return rows[i].level.LevelRaw })
	t.whole("usable", archive.Int64, func(i int) int64 { return int64(rows[i].day.Usable) })
	t.maybe("supply_v", func(i int) float64 { return rows[i].day.SupplyV })
	t.maybe("ambient_c", func(i int) float64 { return rows[i].day.AmbientC })
	t.maybe("dim_pct", func(i int) float64 { return rows[i].day.DimPct })
	t.text("chain", func(i int) string { return rows[i].chain })
	t.text("flags", func(i int) string { return rows[i].level.Flags.String() })
	return t.cols
}
