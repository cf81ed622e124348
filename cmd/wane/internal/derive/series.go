package derive

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"sync"

	"wane/ingest/archive"
	"wane/transform/hours"
	"wane/transform/lamp"
	"wane/transform/level"
	"wane/transform/parallel"
)

// holdDays is up to how many days of levels are held at once, some 300 bytes a
// day. Of a greater site some fixtures' are, and are read again when others'
// were asked for meanwhile.
const holdDays = 600_000

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
	fixture, life, day := f["fixture"].Text, f["lamp_life"].Int, f["day"].Int
	method, sensor, flags, usable := f["witness"].Text, f["sensor"], f["flags"].Text, f["usable"].Int
	run, lo, hi := f.numbers("run_hours"), f.numbers("run_hours_lo"), f.numbers("run_hours_hi")
	dim, supplyV, ambientC := f.numbers("dim_pct"), f.numbers("supply_v"), f.numbers("ambient_c")
	output, outputRaw := f.numbers("output"), f.numbers("output_raw")
	gain, supply, ambient := f.numbers("gain_ln"), f.numbers("supply_ln"), f.numbers("ambient_ln")
	lev, levRaw := f.numbers("level"), f.numbers("level_raw")
	for i := range day {
		at, raw := int32(day[i]), outputRaw(i)
		r := seriesRow{lampLife: lampLife{fixture[i], int(life[i])}, rolled: there(sensor, i)}
		r.total = hours.Total{Day: at, Hours: run(i), Lo: lo(i), Hi: hi(i), Method: hours.Method(method[i]),
			Disagree: math.NaN()}
		r.day = level.Day{Day: at, RunHours: run(i), Usable: int(usable[i]), DimPct: dim(i), SupplyV: supplyV(i),
			AmbientC: ambientC(i), Sensor: sensor.Text[i], Spread: math.NaN(), PPFD: raw * dim(i) / 100}
		if !math.IsNaN(raw) {
			r.level = level.Level{Day: at, RunHours: run(i), Raw: raw, Output: output(i), Gain: gain(i),
				Supply: supply(i), Ambient: ambient(i), LevelRaw: levRaw(i), Level: lev(i),
				Flags: level.ParseFlags(flags[i])}
		}
		rows = append(rows, r)
	}
	return rows
}

func hourRows(rows []seriesRow, cols []archive.Column) []seriesRow {
	f := frameOf(cols)
	disagree := f.numbers("disagree")
	for i, day := range f["day"].Int {
		if d := disagree(i); !math.IsNaN(d) {
			rows = append(rows, seriesRow{lampLife: lampLife{f.text("fixture", i), int(f.whole("lamp_life", i))},
				hours: true, total: hours.Total{Day: int32(day), Disagree: d}})
		}
	}
	return rows
}

// shelve makes the series of the fixtures that the parts have read up to. Parts
// are in order of month, those of hours last, and a life's rows in order of day.
func (s *shelf) shelve() map[lampLife]*lamp.Series {
	out := map[lampLife]*lamp.Series{}
	for name, n := range s.days() {
		out[name] = &lamp.Series{Totals: make([]hours.Total, 0, n), Days: make([]level.Day, 0, n),
			Levels: make([]level.Level, 0, n)}
	}
	for _, p := range s.parts {
		var name lampLife
		var l *lamp.Series
		for i := range p.rows[:p.taken] {
			r := &p.rows[i]
			if l == nil || r.lampLife != name {
				name, l = r.lampLife, out[r.lampLife]
			}
			switch {
			case !r.hours:
				add(l, r)
			case l != nil:
				disagree(l, r.total)
			}
		}
	}
	return out
}

// days counts the days that the parts have read of each life.
func (s *shelf) days() map[lampLife]int {
	out := map[lampLife]int{}
	for _, p := range s.parts {
		for lo, hi := 0, 0; lo < p.taken; lo = hi {
			name := p.rows[lo].lampLife
			for hi = lo; hi < p.taken && p.rows[hi].lampLife == name; hi++ {
			}
			if !p.rows[lo].hours {
				out[name] += hi - lo
			}
		}
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

// disagree notes by how much the evidence of a day differs, where the day is
// among the levels.
func disagree(l *lamp.Series, t hours.Total) {
	i, ok := slices.BinarySearchFunc(l.Totals, t.Day, func(x hours.Total, day int32) int { return cmp.Compare(x.Day, day) })
	if ok {
		l.Totals[i].Disagree = t.Disagree
	}
}
