package archive

import (
	"cmp"
	"io"
	"slices"

	"wane/ingest/archive/internal/parq"
	"wane/ingest/reading"
)

// piece is a chunk with where it came from.
type piece struct {
	series reading.Series
	file   int // index of the sink, in order of sequence
	*chunk
}

// merger merges the pieces of one partition with what is stored of it.
type merger struct {
	w        *writer
	spill    io.ReaderAt
	at       partition
	from, to int64 // bounds of the partition in time
	cursors  []*source
	pieces   []piece // that overlap the partition, sorted by series, then file
	stored   []int64 // by file: readings that were new
	doubled  []int64 // by file: readings that were there
	out      *partWriters
	scratch  [2]struct{ times, values []int64 }
}

// source is a stored part being read.
type source struct {
	c     *parq.Cursor
	scale uint8
	next  parq.Stretch
	end   bool
}

func (s *source) advance() error {
	var err error
	s.next, err = s.c.Next()
	if err == io.EOF {
		s.end, err = true, nil
	}
	return err
}

// block is the merged readings of one series in the partition.
type block struct {
	series   reading.Series
	scale    uint8
	times    []int64
	values   []int64
	conflict []bool // nil: none
	clashes  int64
}

// run merges series by series, in order.
func (m *merger) run() ([]Part, error) {
	for _, s := range m.cursors {
		if err := s.advance(); err != nil {
			m.out.abort()
			return nil, err
		}
	}
	for {
		series, ok := m.nextSeries()
		if !ok {
			return m.out.close()
		}
		b, err := m.merge(series)
		if err == nil && len(b.times) > 0 {
			err = m.out.add(b)
		}
		if err != nil {
			m.out.abort()
			return nil, err
		}
	}
}

func compareSeries(a, b reading.Series) int {
	if c := cmp.Compare(a.Sensor, b.Sensor); c != 0 {
		return c
	}
	return cmp.Compare(a.Channel, b.Channel)
}

func (m *merger) nextSeries() (s reading.Series, ok bool) {
	for _, c := range m.cursors {
		if !c.end && (!ok || compareSeries(c.next.Series, s) < 0) {
			s, ok = c.next.Series, true
		}
	}
	if len(m.pieces) > 0 && (!ok || compareSeries(m.pieces[0].series, s) < 0) {
		s, ok = m.pieces[0].series, true
	}
	return s, ok
}

// span is a stretch of the gathered readings that came from one place.
type span struct {
	file int // -1: stored before
	n    int
	at   int // start in the gathered arrays
	// Its times are known to ascend strictly.
	ascending bool
}

// merge gathers one series from everywhere.
func (m *merger) merge(series reading.Series) (*block, error) {
	b := m.out.emptyBlock()
	b.series = series
	n := 0
	for n < len(m.pieces) && m.pieces[n].series == series {
		b.scale = max(b.scale, m.pieces[n].digits)
		n++
	}
	pieces := m.pieces[:n]
	m.pieces = m.pieces[n:]
	for _, c := range m.cursors {
		if !c.end && c.next.Series == series {
			b.scale = max(b.scale, c.scale)
		}
	}
	var spans []span
	for _, c := range m.cursors {
		up := pow10[max(b.scale, c.scale)-c.scale]
		at := len(b.times)
		for !c.end && c.next.Series == series {
			b.times = append(b.times, c.next.Time...)
			for _, v := range c.next.Mantissa {
				b.values = append(b.values, v*up)
			}
			if err := c.advance(); err != nil {
				return b, err
			}
		}
		if len(b.times) > at {
			spans = append(spans, span{file: -1, n: len(b.times) - at, at: at})
		}
	}
	for _, p := range pieces {
		at := len(b.times)
		var err error
		if b.times, b.values, err = p.unpack(m.spill, m.from, m.to, b.scale, b.times, b.values); err != nil {
			return b, err
		}
		if len(b.times) > at {
			spans = append(spans, span{p.file, len(b.times) - at, at, p.ascending})
		}
	}
	m.order(b, spans)
	b.reduce()
	return b, nil
}

// reduce brings the scale down to the fewest decimals that hold every value, so
// that it depends on the values alone and not on how they were printed or what
// else was in their file.
func (b *block) reduce() {
	cut := b.scale
	for _, v := range b.values {
		if cut == 0 {
			return
		}
		if v == 0 {
			continue
		}
		for v%pow10[cut] != 0 {
			cut--
		}
	}
	if cut == 0 {
		return
	}
	for i := range b.values {
		b.values[i] /= pow10[cut]
	}
	b.scale -= cut
}

// order puts the gathered readings in order, drops and counts duplicates, and
// marks conflicts.
func (m *merger) order(b *block, spans []span) {
	if m.inOrder(b, spans) {
		for _, s := range spans {
			if s.file >= 0 {
				m.stored[s.file] += int64(s.n)
			}
		}
		return
	}
	if len(spans) > maxZip || !m.zip(b, spans) {
		m.sort(b, spans)
	}
	b.markConflicts()
}

// maxZip is how many spans are worth zipping one after the other.
const maxZip = 8

// zip merges spans that are each in order of time and value: what comes of a
// file that goes over the same hours again. It says no, and has changed
// nothing, if one is not in order.
func (m *merger) zip(b *block, spans []span) bool {
	for _, s := range spans {
		if s.ascending {
			continue
		}
		for i := s.at + 1; i < s.at+s.n; i++ {
			if b.times[i] < b.times[i-1] || b.times[i] == b.times[i-1] && b.values[i] <= b.values[i-1] {
				return false
			}
		}
	}
	first := spans[0]
	times, values := b.times[first.at:first.at+first.n], b.values[first.at:first.at+first.n]
	if first.file >= 0 {
		m.stored[first.file] += int64(first.n)
	}
	for round, s := range spans[1:] {
		t, v := b.times[s.at:s.at+s.n], b.values[s.at:s.at+s.n]
		// The result of the last round is read while this one is written.
		room := &m.scratch[round%2]
		outT, outV := room.times[:0], room.values[:0]
		i, fresh := 0, 0
		for j := range t {
			if i == len(times) { // what is left is new
				outT, outV = append(outT, t[j:]...), append(outV, v[j:]...)
				fresh += len(t) - j
				break
			}
			from := i
			for i < len(times) && (times[i] < t[j] || times[i] == t[j] && values[i] < v[j]) {
				i++
			}
			outT, outV = append(outT, times[from:i]...), append(outV, values[from:i]...)
			if i < len(times) && times[i] == t[j] && values[i] == v[j] {
				continue
			}
			outT, outV = append(outT, t[j]), append(outV, v[j])
			fresh++
		}
		times, values = append(outT, times[i:]...), append(outV, values[i:]...)
		room.times, room.values = times, values
		if s.file >= 0 {
			m.stored[s.file] += int64(fresh)
			m.doubled[s.file] += int64(s.n - fresh)
		}
	}
	b.times, b.values = append(b.times[:0], times...), append(b.values[:0], values...)
	return true
}

// sort does the same for spans in any order.
func (m *merger) sort(b *block, spans []span) {
	type item struct {
		time, value int64
		file        int32
	}
	items := make([]item, len(b.times))
	for _, s := range spans {
		for i := s.at; i < s.at+s.n; i++ {
			items[i] = item{b.times[i], b.values[i], int32(s.file)}
		}
	}
	slices.SortFunc(items, func(x, y item) int {
		if x.time != y.time {
			return cmp.Compare(x.time, y.time)
		}
		if x.value != y.value {
			return cmp.Compare(x.value, y.value)
		}
		return cmp.Compare(x.file, y.file)
	})
	b.times, b.values = b.times[:0], b.values[:0]
	for i, it := range items {
		again := i > 0 && it.time == items[i-1].time && it.value == items[i-1].value
		if it.file >= 0 {
			if again {
				m.doubled[it.file]++
			} else {
				m.stored[it.file]++
			}
		}
		if !again {
			b.times = append(b.times, it.time)
			b.values = append(b.values, it.value)
		}
	}
}

// markConflicts finds the moments with several values.
func (b *block) markConflicts() {
	for i := 1; i < len(b.times); i++ {
		if b.times[i] != b.times[i-1] {
			continue
		}
		if b.conflict == nil {
			b.conflict = make([]bool, len(b.times))
		}
		if !b.conflict[i-1] {
			b.conflict[i-1] = true
			b.clashes++
		}
		b.conflict[i] = true
		b.clashes++
	}
}

// inOrder says whether the readings are strictly in order of time as they are,
// or can be made so by putting whole spans in order: what steady loggers give.
func (m *merger) inOrder(b *block, spans []span) bool {
	for k, s := range spans {
		if s.ascending {
			continue
		}
		for i := s.at + 1; i < s.at+s.n; i++ {
			if b.times[i] <= b.times[i-1] {
				return false
			}
		}
		spans[k].ascending = true
	}
	sorted := true
	for i := 1; i < len(spans); i++ {
		if b.times[spans[i].at] <= b.times[spans[i].at-1] {
			sorted = false
		}
	}
	if sorted {
		return true
	}
	spans = slices.Clone(spans) // their order is that of the files
	slices.SortFunc(spans, func(x, y span) int { return cmp.Compare(b.times[x.at], b.times[y.at]) })
	for i := 1; i < len(spans); i++ {
		if p := spans[i-1]; b.times[spans[i].at] <= b.times[p.at+p.n-1] {
			return false
		}
	}
	room := &m.scratch[0]
	room.times, room.values = room.times[:0], room.values[:0]
	for _, s := range spans {
		room.times = append(room.times, b.times[s.at:s.at+s.n]...)
		room.values = append(room.values, b.values[s.at:s.at+s.n]...)
	}
	copy(b.times, room.times)
	copy(b.values, room.values)
	return true
}
