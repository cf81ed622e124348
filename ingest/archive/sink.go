package archive

import (
	"fmt"
	"slices"
	"time"
	"unicode/utf8"

	"wane/ingest/reading"
)

// Codes of the rejects that the archive itself makes.
const (
	CodeTooLarge  = "too-large"
	CodeFuture    = "future-time"
	CodeBadTime   = "bad-time"
	CodeBadSeries = "bad-series"
	CodeWholeFile = "unreadable-file"
)

const (
	// limit is the magnitude from which on a value is refused: below it any
	// value fits any scale. No quantity of a grow room comes near.
	limit = 1_000_000_000
	// longestName of a sensor or channel, in bytes.
	longestName = 200
	// minTime is 1970: a clock that was never set starts there.
	minTime = 0
	// eachReject is how many rejects of a file are kept one by one. From there
	// on those of one column and code are kept as one row that counts them, so
	// that a file of rubbish cannot fill the disk a second time.
	eachReject = 10_000
)

// Sink takes what is decoded of one file. It implements reading.Sink and, like
// it, is used from one goroutine. Done ends it.
type Sink struct {
	t     *Import
	kept  *Kept
	order int
	// When the file was or is imported, and as which; the sequence is given at
	// Commit unless this is a rebuild.
	importedAt time.Time
	sequence   int64

	series    []*column // by index in the batches' Series
	by        map[reading.Series]*column
	sorted    []*column // once Done: those with readings, by series
	held      int64     // bytes in memory, about, that the import knows of
	more      int64     // and since
	values    []int32   // room for the mantissas of closed chunks
	line      int32     // of the reading before
	reversals TimeReversals

	rows    int64 // readings and rejects that came
	blank   int64
	rejects []rejected
	pool    map[[2]string]int // from eachReject on: column and code to index in rejects
	done    bool

	horizon int64 // the greatest time that is believed
}

var _ reading.RowSink = (*Sink)(nil)

// rejected is a row of the quarantine.
type rejected struct {
	reading.Reject
	Last int   // the last line that the row stands for
	Rows int64 // how many readings or lines it stands for
}

// Sink starts the decoding of a kept file. Files get their sequence numbers in
// ascending order of order, whatever the order in which they are decoded. The
// file must not be one that is known Already, nor may two sinks of an import have
// files of the same content.
func (t *Import) Sink(order int, k *Kept) (*Sink, error) {
	if k.Already != nil {
		return nil, fmt.Errorf("%s is already imported", k.Name)
	}
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.keeping[k.SHA256] {
		return nil, fmt.Errorf("%s has the content of another file of this import", k.Name)
	}
	t.keeping[k.SHA256] = true
	s := &Sink{
		t: t, kept: k, order: order, importedAt: t.opt.Now, by: map[reading.Series]*column{},
		horizon: t.opt.Now.Add(FutureSlack).UnixMicro(),
	}
	t.sinks = append(t.sinks, s)
	return s, nil
}

// Same says that k has the content of an earlier file of this import: it counts
// as imported with it and is removed with it.
func (t *Import) Same(k *Kept) {
	t.mu.Lock()
	defer t.mu.Unlock()
	k.discard()
	t.drops = append(t.drops, k)
}

// Drop leaves a file for the next round, as if it had not been offered.
func (t *Import) Drop(s *Sink) {
	t.mu.Lock()
	defer t.mu.Unlock()
	for i := range t.sinks {
		if t.sinks[i] == s {
			t.sinks = append(t.sinks[:i], t.sinks[i+1:]...)
			break
		}
	}
	delete(t.keeping, s.kept.SHA256)
	t.held.Add(-s.held)
	s.kept.discard()
}

// Readings implements reading.Sink.
func (s *Sink) Readings(b *reading.Batch) error {
	s.meet(b.Series)
	s.rows += int64(b.Len())
	s.more += int64(4 * b.Len())
	of, values, lines := b.Of[:len(b.Time)], b.Value[:len(b.Time)], b.Line[:len(b.Time)]
	line := s.line
	for i, at := range b.Time {
		c, v := s.series[of[i]], values[i]
		if lines[i] < line {
			s.forgetOrder()
		}
		line = lines[i]
		if c.inStep(at, v) {
			continue
		}
		if err := s.irregular(c, at, v, line); err != nil {
			return err
		}
	}
	s.line = line
	return s.tell()
}

// Row implements reading.RowSink.
func (s *Sink) Row(series []reading.Series, of []int32, at int64, values []reading.Value, line int32) error {
	s.meet(series)
	s.rows += int64(len(values))
	s.more += int64(4 * len(values))
	if line < s.line {
		s.forgetOrder()
	}
	s.line = line
	for i, v := range values {
		c := s.series[of[i]]
		if c.inStep(at, v) {
			continue
		}
		if err := s.irregular(c, at, v, line); err != nil {
			return err
		}
	}
	if s.more < min(tellAfter, s.t.opt.Memory/64) {
		return nil
	}
	return s.tell()
}

// tellAfter is how many bytes of lines the import need not know of.
const tellAfter = 128 << 10

// tell tells the import what the sink holds. Where all of its files hold too much,
// what this one holds goes to disk.
func (s *Sink) tell() error {
	all := s.t.held.Add(s.more)
	s.held, s.more = s.held+s.more, 0
	if all > s.t.opt.Memory && s.held > s.t.opt.Memory/64 {
		return s.aside()
	}
	return nil
}

// meet makes columns of the series that are new.
func (s *Sink) meet(series []reading.Series) {
	for len(s.series) < len(series) {
		s.series = append(s.series, s.column(series[len(s.series)]))
	}
}

func (s *Sink) column(series reading.Series) *column {
	if c := s.by[series]; c != nil {
		return c
	}
	c := &column{series: series, first: 1<<63 - 1, last: -1 << 63, scratch: scratches.Get().(*scratch)}
	c.small, c.grids = c.scratch.small[:0], c.scratch.grids[:0]
	for _, name := range []string{series.Sensor, series.Channel} {
		switch {
		case name == "":
			c.bad = "the sensor or the channel has no name"
		case len(name) > longestName:
			c.bad = fmt.Sprintf("the name of the sensor or the channel is longer than %d bytes", longestName)
		case !utf8.ValidString(name):
			c.bad = "the name of the sensor or the channel is not text; declare the encoding of the file"
		}
	}
	s.by[series] = c
	return c
}

// refuse quarantines a reading that the archive cannot hold.
func (s *Sink) refuse(c *column, at int64, v reading.Value, line int) {
	r := reading.Reject{Line: line, Column: clip(c.series.String())}
	when := time.UnixMicro(at).UTC().Format(time.RFC3339Nano)
	switch {
	case c.bad != "":
		r.Code, r.Reason = CodeBadSeries, c.bad
	case at < minTime:
		r.Code, r.Reason, r.Text = CodeBadTime, "the time is before 1970: the logger's clock was not set", when
	case at > s.horizon:
		r.Code, r.Reason, r.Text = CodeFuture, "the time was still to come when the file was imported: mend the logger's clock or the declared zone", when
	default:
		r.Code, r.Reason, r.Text = CodeTooLarge, "the value is a thousand million or more: a missing-value code that is not declared, or a broken line", fmt.Sprint(v.Float())
	}
	s.quarantine(r)
}

// Reject implements reading.Sink.
func (s *Sink) Reject(r reading.Reject) error {
	s.rows++
	s.quarantine(r)
	return nil
}

func (s *Sink) quarantine(r reading.Reject) {
	if len(s.rejects) >= eachReject {
		if s.pool == nil {
			s.pool = map[[2]string]int{}
		}
		key := [2]string{r.Column, r.Code}
		if i, ok := s.pool[key]; ok {
			s.rejects[i].Rows++
			s.rejects[i].Last = r.Line
			return
		}
		if len(s.pool) >= eachReject {
			r.Column = ""
			key = [2]string{"", r.Code}
			if i, ok := s.pool[key]; ok {
				s.rejects[i].Rows++
				s.rejects[i].Last = r.Line
				return
			}
		}
		s.pool[key] = len(s.rejects)
	}
	// The decoder's text may lie in a buffer that it will use again.
	r.Text, r.Column, r.Reason = clip(r.Text), clip(r.Column), clip(r.Reason)
	s.rejects = append(s.rejects, rejected{Reject: r, Last: r.Line, Rows: 1})
}

// Refuse ends the decoding of a file that turned out to be unusable as a whole:
// what came of it before is forgotten, and the one reject stands for the file.
func (s *Sink) Refuse(r reading.Reject) error {
	s.t.held.Add(-s.held)
	s.held, s.more, s.rows, s.blank = 0, 0, 0, 0
	s.reversals = TimeReversals{}
	s.leaveScratch()
	s.series, s.by = nil, map[reading.Series]*column{}
	s.rejects, s.pool = nil, nil
	if err := s.Reject(r); err != nil {
		return err
	}
	return s.Done(0)
}

// clip makes valid text of at most 200 bytes that shares no memory.
func clip(s string) string {
	if len(s) > 200 {
		s = s[:200]
		for len(s) > 0 && !utf8.RuneStart(s[len(s)-1]) {
			s = s[:len(s)-1]
		}
		if r, n := utf8.DecodeLastRuneInString(s); r == utf8.RuneError && n == 1 {
			s = s[:len(s)-1]
		}
	}
	b := make([]byte, 0, len(s))
	for _, r := range s {
		b = utf8.AppendRune(b, r)
	}
	return string(b)
}

// Done ends the decoding; blank is the number of cells that the file declares
// missing.
func (s *Sink) Done(blank int64) error {
	s.blank, s.done = blank, true
	left := 0
	for _, c := range s.by {
		left += len(c.small)
	}
	if cap(s.values)-len(s.values) < left {
		s.values = make([]int32, 0, left)
	}
	for _, c := range s.by {
		s.countSteps(c)
		s.seal(c)
	}
	s.leaveScratch()
	s.sort()
	all := s.t.held.Add(s.more)
	s.held, s.more = s.held+s.more, 0
	if all > s.t.opt.Memory/2 {
		return s.aside()
	}
	return nil
}

// sort puts the series in order, of which there are readings.
func (s *Sink) sort() {
	s.sorted = make([]*column, 0, len(s.by))
	for _, c := range s.by {
		if c.n > 0 {
			s.sorted = append(s.sorted, c)
		}
	}
	slices.SortFunc(s.sorted, func(a, b *column) int { return compareSeries(a.series, b.series) })
}

// aside puts what the sink holds on disk.
func (s *Sink) aside() error {
	var all []*chunk
	for _, c := range s.by {
		s.countSteps(c)
		s.seal(c)
		c.room, c.span = 0, 0
		for _, k := range c.chunks {
			if k.size == 0 {
				all = append(all, k)
			}
		}
	}
	s.values = nil
	held := s.held
	s.held, s.more = 0, 0
	return s.t.putAside(all, held)
}
