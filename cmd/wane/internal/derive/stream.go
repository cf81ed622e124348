package derive

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"sort"

	"wane/ingest/archive"
	"wane/transform/fleet"
)

// stream goes through table daily by fixture: all of a fixture's days, then the
// next one's. Parts are by month and each is in order of fixture, so that one
// pass over all of them side by side does it, in the memory of a few fixtures.
type stream struct {
	parts []*partStream
	last  int32        // day after which rows are not wanted
	rows  [][]DailyRow // given out by the last call; reused
}

// partStream is where one month's part stands.
type partStream struct {
	cursor *archive.TableCursor
	rows   []DailyRow // read; reused
	taken  int        // of them, by the last call
	end    bool
}

// batchRows is how many rows are read of a part at once.
const batchRows = 1024

// lifeColumns are the columns that hours and levels are made from.
var lifeColumns = []string{"fixture", "day", "hours", "sensor", "readings", "ppfd", "dim_pct", "supply_v", "ambient_c",
	"lit_h", "edge_h", "gap_h", "meter_first", "meter_first_at", "meter_last", "meter_last_at"}

func openStream(a *archive.Archive, last int32, columns []string) (*stream, error) {
	s := &stream{last: last}
	if columns == nil {
		for _, c := range dailyColumns(nil) {
			columns = append(columns, c.Name)
		}
	}
	for _, p := range a.Parts(TableDaily) {
		c, err := a.OpenTable(p, columns...)
		if err != nil {
			return nil, errors.Join(fmt.Errorf("read daily roll-up, which another version of wane may have made (`wane nightly` or `wane rebuild` makes it anew): %w", err), s.close())
		}
		s.parts = append(s.parts, &partStream{cursor: c})
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
// is called on all cores with a fixture's days up to last, then take one by one
// in order, with what build gave. The rows hold until take returns. columns are
// those to read, nil for all.
func eachFixture[T any](a *archive.Archive, reg *fleet.Register, last int32, columns []string, build func(*fleet.Fixture, []DailyRow) T, take func([]DailyRow, T)) (err error) {
	fixtures := make([]*fleet.Fixture, len(reg.Fixtures))
	for i := range fixtures {
		fixtures[i] = &reg.Fixtures[i]
	}
	sort.SliceStable(fixtures, func(i, j int) bool { return fixtures[i].ID < fixtures[j].ID })
	days, err := openStream(a, last, columns)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, days.close()) }()
	for some := range slices.Chunk(fixtures, chunk) {
		rows, err := days.upTo(some)
		if err != nil {
			return err
		}
		made := make([]T, len(some))
		each(len(some), func(i int) { made[i] = build(some[i], rows[i]) })
		for i := range some {
			take(rows[i], made[i])
		}
	}
	return nil
}

// upTo gives the rows of the fixtures asked for, which are sorted, in order of
// day, until the next call; rows of others before them are passed over.
func (s *stream) upTo(fixtures []*fleet.Fixture) ([][]DailyRow, error) {
	of := map[string]int{}
	for i, f := range fixtures {
		of[f.ID] = i
	}
	taken := make([][]DailyRow, len(s.parts))
	errs := make([]error, len(s.parts))
	each(len(s.parts), func(i int) { taken[i], errs[i] = s.parts[i].upTo(fixtures[len(fixtures)-1].ID) })
	if err := errors.Join(errs...); err != nil {
		return nil, fmt.Errorf("read daily roll-up: %w", err)
	}
	for len(s.rows) < len(fixtures) {
		s.rows = append(s.rows, nil)
	}
	out := s.rows[:len(fixtures)]
	for i := range out {
		out[i] = out[i][:0]
	}
	for _, rows := range taken { // parts are in order of month
		for from := 0; from < len(rows); {
			to := from + 1
			for to < len(rows) && rows[to].Fixture == rows[from].Fixture {
				to++
			}
			if i, ok := of[rows[from].Fixture]; ok {
				out[i] = append(out[i], rows[from:to]...)
			}
			from = to
		}
	}
	for i, rows := range out {
		n := len(rows)
		for n > 0 && rows[n-1].Day.Day > s.last {
			n--
		}
		out[i] = rows[:n]
	}
	return out, nil
}

// upTo gives the rows up to a fixture; they hold until the next call.
func (p *partStream) upTo(fixture string) ([]DailyRow, error) {
	p.rows = append(p.rows[:0], p.rows[p.taken:]...)
	for !p.end && (len(p.rows) == 0 || p.rows[len(p.rows)-1].Fixture <= fixture) {
		cols, err := p.cursor.Next(batchRows)
		if err == io.EOF {
			p.end = true
			break
		}
		if err != nil {
			return nil, err
		}
		p.rows = appendRows(p.rows, cols)
	}
	p.taken = len(p.rows)
	for p.taken > 0 && p.rows[p.taken-1].Fixture > fixture {
		p.taken--
	}
	return p.rows[:p.taken], nil
}
