package derive

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"

	"wane/ingest/archive"
	"wane/transform/hours"
	"wane/transform/lamp"
	"wane/transform/level"
	"wane/transform/parallel"
)

// holdDays is up to how many days of levels are held at once, some hundred bytes
// a day. Of a greater site some fixtures' are, and are read again when others'
// were asked for meanwhile.
const holdDays = 2_000_000

// shelf gives the lives their hours and levels day by day, out of tables levels
// and hours. Parts are in order of fixture, so that going through the lives in
// their order reads each part once.
type shelf struct {
	t    *tables
	most int64

	mu     sync.Mutex
	names  []string // of all fixtures, in order
	size   int      // fixtures read at once
	read   int      // chunks read since the beginning
	parts  []*partStream[seriesRow]
	chunks map[int]map[lampLife]*lamp.Series
	err    error
}

// seriesRow is a row of table levels, or of table hours.
type seriesRow struct {
	lampLife
	total  hours.Total
	day    level.Day
	level  level.Level
	hours  bool // of table hours
	rolled bool // table daily has the day
}

func newShelf(t *tables) *shelf {
	s := &shelf{t: t, most: t.site.HoldDays, chunks: map[int]map[lampLife]*lamp.Series{}}
	if s.most == 0 {
		s.most = holdDays
	}
	for _, f := range t.reg.ByName() {
		s.names = append(s.names, f.ID)
	}
	rows := int64(1)
	for _, p := range t.Parts(TableLevels) {
		rows += p.Rows
	}
	s.size = max(1, int(min(int64(len(s.names)), int64(len(s.names))*s.most/rows/heldChunks)))
	if rows <= s.most {
		s.size = max(1, len(s.names))
	}
	return s
}

// heldChunks is how many chunks of a great site are held: workers are not all in
// the same one.
const heldChunks = 3

// SeriesOf gives a life its series.
func (s *shelf) SeriesOf(l *lamp.Life) *lamp.Series {
	s.mu.Lock()
	defer s.mu.Unlock()
	i, ok := slices.BinarySearch(s.names, l.Fixture.ID)
	if !ok || s.err != nil {
		return nil
	}
	k := i / s.size
	if s.chunks[k] == nil {
		if s.err = s.load(k); s.err != nil {
			return nil
		}
	}
	x := s.chunks[k][lampLife{l.Fixture.ID, l.N}]
	if x != nil {
		x.Totals[0].Burned = x.Totals[0].Hours - l.StartHours
	}
	return x
}

// load reads a chunk of fixtures.
func (s *shelf) load(k int) (err error) {
	if s.parts == nil || k < s.read {
		if err := s.open(); err != nil {
			return err
		}
	}
	for ; s.read <= k; s.read++ {
		last := s.names[min(len(s.names), (s.read+1)*s.size)-1]
		errs := make([]error, len(s.parts))
		parallel.For(len(s.parts), func(i int) { errs[i] = s.parts[i].upTo(last) })
		if err := errors.Join(errs...); err != nil {
			return fmt.Errorf("read levels: %w", err)
		}
	}
	for old := range s.chunks {
		if len(s.chunks) >= heldChunks && old < k-1 || old > k+heldChunks {
			delete(s.chunks, old)
		}
	}
	s.chunks[k] = s.shelve()
	return nil
}

func (s *shelf) open() error {
	s.read = 0
	if err := s.closeParts(); err != nil {
		return err
	}
	for _, x := range []struct {
		table   string
		columns []string
		decode  func([]seriesRow, []archive.Column) []seriesRow
	}{
		{TableLevels, levelSeries, levelRows},
		{TableHours, hourSeries, hourRows},
	} {
		if x.table == TableHours && !metersRead(s.t.reg) {
			continue // nothing to disagree with
		}
		for _, p := range partsWithin(s.t.Archive, x.table, math.MinInt32, math.MaxInt32) {
			c, err := s.t.OpenTable(p, x.columns...)
			if err != nil {
				return fmt.Errorf("read table %s: %w", x.table, err)
			}
			s.parts = append(s.parts, &partStream[seriesRow]{cursor: c, decode: x.decode,
				of: func(r *seriesRow) string { return r.fixture }})
		}
	}
	return nil
}

func (s *shelf) closeParts() error {
	var err error
	for _, p := range s.parts {
		err = errors.Join(err, p.cursor.Close())
	}
	s.parts = nil
	return err
}

// close lets go of the tables' files. It says what kept the shelf from giving
// series, if anything did; after it there are none.
func (s *shelf) close() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	err := errors.Join(s.err, s.closeParts())
	s.err, s.chunks = errors.New("the asking has ended"), nil
	return err
}

var (
	levelSeries = []string{"fixture", "lamp_life", "day", "run_hours", "run_hours_lo", "run_hours_hi", "witness",
		"output", "output_raw",
		"gain_ln", "supply_ln", "ambient_ln", "level", "level_raw", "usable", "supply_v", "ambient_c", "dim_pct", "flags",
		"sensor"}
	hourSeries = []string{"fixture", "lamp_life", "day", "disagree"}
)

func levelRows(rows []seriesRow, cols []archive.Column) []seriesRow {
	f := frameOf(cols)
	for i, day := range f["day"].Int {
		run := f.number("run_hours", i)
		r := seriesRow{lampLife: lampLife{f.text("fixture", i), int(f.whole("lamp_life", i))},
			rolled: there(f["sensor"], i)}
		r.total = hours.Total{Day: int32(day), Hours: run, Lo: f.number("run_hours_lo", i),
			Hi:     f.number("run_hours_hi", i),
			Method: hours.Method(f.text("witness", i)), Disagree: math.NaN()}
		r.day = level.Day{Day: int32(day), RunHours: run, Usable: int(f.whole("usable", i)),
			DimPct:  f.number("dim_pct", i),
			SupplyV: f.number("supply_v", i), AmbientC: f.number("ambient_c", i), Sensor: f.text("sensor",
				i), Spread: math.NaN()}
		raw := f.number("output_raw", i)
		r.day.PPFD = raw * r.day.DimPct / 100
		if r.level.Day = int32(day); !math.IsNaN(raw) {
			r.level = level.Level{Day: int32(day), RunHours: run, Raw: raw, Output: f.number("output", i),
				Gain:   f.number("gain_ln", i),
				Supply: f.number("supply_ln", i), Ambient: f.number("ambient_ln", i), LevelRaw: f.number("level_raw",
					i), Level: f.number("level", i),
				Flags: level.ParseFlags(f.text("flags", i))}
		}
		rows = append(rows, r)
	}
	return rows
}

func hourRows(rows []seriesRow, cols []archive.Column) []seriesRow {
	f := frameOf(cols)
	for i, day := range f["day"].Int {
		if d := f.number("disagree", i); !math.IsNaN(d) {
			rows = append(rows, seriesRow{lampLife: lampLife{f.text("fixture", i), int(f.whole("lamp_life", i))},
				hours: true, total: hours.Total{Day: int32(day), Disagree: d}})
		}
	}
	return rows
}

// shelve makes the series of the fixtures that the parts have read up to.
func (s *shelf) shelve() map[lampLife]*lamp.Series {
	var rows, disagree []seriesRow
	for _, p := range s.parts {
		for _, r := range p.rows[:p.taken] {
			if r.hours {
				disagree = append(disagree, r)
			} else {
				rows = append(rows, r)
			}
		}
	}
	order := func(a, b seriesRow) int {
		return cmp.Or(strings.Compare(a.fixture, b.fixture), cmp.Compare(a.total.Day, b.total.Day))
	}
	slices.SortFunc(rows, order)
	slices.SortFunc(disagree, order)
	out := map[lampLife]*lamp.Series{}
	k := 0
	for i := 0; i < len(rows); {
		l := &lamp.Series{}
		name := rows[i].lampLife
		for ; i < len(rows) && rows[i].lampLife == name; i++ {
			r := &rows[i]
			for k < len(disagree) && order(disagree[k], *r) < 0 {
				k++
			}
			if k < len(disagree) && order(disagree[k], *r) == 0 {
				r.total.Disagree = disagree[k].total.Disagree
			}
			add(l, r)
		}
		out[name] = l
	}
	return out
}

func add(l *lamp.Series, r *seriesRow) {
	if n := len(l.Totals); n > 0 {
		r.total.Burned = r.total.Hours - l.Totals[n-1].Hours
	}
	l.Totals = append(l.Totals, r.total)
	if r.rolled {
		l.Days = append(l.Days, r.day)
	}
	if r.level.Raw > 0 {
		l.Levels = append(l.Levels, r.level)
	}
}
