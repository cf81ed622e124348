package derive

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"sort"
	"sync"

	"wane/ingest/archive"
	"wane/transform/daily"
	"wane/transform/fleet"
	"wane/transform/parallel"
)

// stream goes through table daily by fixture: all of a fixture's days, then the
// next one's. Parts are by month and each is in order of fixture, so that one
// pass over all of them side by side does it, in the memory of a few fixtures.
type stream struct {
	parts []*partStream[daily.Row]
	last  int32 // day after which rows are not wanted
}

// partStream is where one part stands, which is in order of fixture.
type partStream[T any] struct {
	cursor *archive.TableCursor
	decode func([]T, []archive.Column) []T // appends
	of     func(*T) string                 // a row's fixture
	rows   []T                             // read; reused
	taken  int                             // of them, by the last call
	end    bool
}

// batchRows is how many rows are read of a part at once.
const batchRows = 1024

// lifeColumns are the columns that hours and levels are made from.
var lifeColumns = []string{"fixture", "day", "hours", "sensor", "readings", "ppfd", "spread", "dim_pct", "supply_v",
	"ambient_c",
	"lit_h", "edge_h", "gap_h", "meter_first", "meter_first_at", "meter_last", "meter_last_at"}

func openStream(a *archive.Archive, parts []archive.Part, last int32, columns []string) (*stream, error) {
	s := &stream{last: last}
	if columns == nil {
		for _, c := range dailyColumns(nil) {
			columns = append(columns, c.Name)
		}
	}
	for _, p := range parts {
		c, err := a.OpenTable(p, columns...)
		if err != nil {
			return nil, errors.Join(fmt.Errorf("read daily roll-up, which another version of wane may have made (`wane nightly` or `wane rebuild` makes it anew): %w", err), s.close())
		}
		s.parts = append(s.parts, &partStream[daily.Row]{cursor: c, decode: appendRows,
			of: func(r *daily.Row) string { return r.Fixture }})
	}
	return s, nil
}

func (s *stream) close() error {
	var err error
	for _, p := range s.parts {
		err = errors.Join(err, p.cursor.Close())
	}
	return err
}

// chunk is how many fixtures are worked on at once.
const chunk = 64

// eachFixture goes through the register's fixtures in order of their names: build
// is called on all cores with a fixture's days up to last, which it must not
// keep, then take with what build gave, one by one in order, while the days of the
// next are read. The parts are of table daily, in order of month; columns are
// those to read, nil for all.
func eachFixture[T any](a *archive.Archive, parts []archive.Part, reg *fleet.Register, last int32, columns []string,
	build func(*fleet.Fixture, []daily.Row) T, take func(T)) (err error) {
	days, err := openStream(a, parts, last, columns)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, days.close()) }()
	rooms := sync.Pool{New: func() any { return new([]daily.Row) }}
	var taking sync.WaitGroup
	defer taking.Wait()
	for some := range slices.Chunk(reg.ByName(), chunk) {
		if err := days.upTo(some[len(some)-1].ID); err != nil {
			return err
		}
		made := make([]T, len(some))
		parallel.For(len(some), func(i int) {
			room := rooms.Get().(*[]daily.Row)
			*room = days.of(some[i].ID, (*room)[:0])
			made[i] = build(some[i], *room)
			rooms.Put(room)
		})
		taking.Wait()
		taking.Go(func() {
			for i := range made {
				take(made[i])
			}
		})
	}
	return nil
}

// upTo reads every part up to a fixture; what came before is forgotten.
func (s *stream) upTo(fixture string) error {
	errs := make([]error, len(s.parts))
	parallel.For(len(s.parts), func(i int) { errs[i] = s.parts[i].upTo(fixture) })
	if err := errors.Join(errs...); err != nil {
		return fmt.Errorf("read daily roll-up: %w", err)
	}
	return nil
}

// of appends the days of one fixture, of those read, in order of day.
func (s *stream) of(fixture string, rows []daily.Row) []daily.Row {
	for _, p := range s.parts { // in order of month
		in := p.rows[:p.taken]
		lo := sort.Search(len(in), func(i int) bool { return in[i].Fixture >= fixture })
		hi := lo + sort.Search(len(in)-lo, func(i int) bool { return in[lo+i].Fixture > fixture })
		rows = append(rows, in[lo:hi]...)
	}
	n := sort.Search(len(rows), func(i int) bool { return rows[i].Day.Day > s.last })
	return rows[:n]
}

// upTo reads up to a fixture: the rows taken are of it and of those before it.
func (p *partStream[T]) upTo(fixture string) error {
	p.rows = append(p.rows[:0], p.rows[p.taken:]...)
	for !p.end && (len(p.rows) == 0 || p.of(&p.rows[len(p.rows)-1]) <= fixture) {
		cols, err := p.cursor.Next(batchRows)
		if err == io.EOF {
			p.end = true
			break
		}
		if err != nil {
			return err
		}
		p.rows = p.decode(p.rows, cols)
	}
	p.taken = len(p.rows)
	for p.taken > 0 && p.of(&p.rows[p.taken-1]) > fixture {
		p.taken--
	}
	return nil
}
