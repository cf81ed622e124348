package archive

import (
	"errors"
	"fmt"
	"path"
	"sync"
	"time"

	"wane/ingest/archive/internal/parq"
	"wane/ingest/internal/fsys"
	"wane/ingest/reading"
)

// A part is closed at the end of a series once it holds so many readings, so
// that large partitions are written and read in parallel.
const (
	dayPartRows   = 1 << 20
	monthPartRows = 1 << 23
)

// partWriters writes the parts of one partition, each scale in a goroutine of
// its own: packing is the dearest step of an import.
type partWriters struct {
	w       *writer
	at      partition
	old     map[string]Part // by path, parts that are there already
	maxRows int64
	lanes   [scales]*lane
	wg      sync.WaitGroup
}

// scales is how many there are: 0 to 9 decimals.
const scales = reading.MaxDigits + 1

// blocks are used again and again.
var blocks = sync.Pool{New: func() any { return new(block) }}

// lane is the writing of one scale.
type lane struct {
	in    chan *block
	parts []Part
	err   error
}

func newPartWriters(w *writer, at partition, old map[string]Part) *partWriters {
	p := &partWriters{w: w, at: at, old: old, maxRows: dayPartRows}
	if at.day == 0 {
		p.maxRows = monthPartRows
	}
	return p
}

// emptyBlock gives a block to fill.
func (p *partWriters) emptyBlock() *block {
	b := blocks.Get().(*block)
	*b = block{times: b.times[:0], values: b.values[:0]}
	return b
}

// add hands a block over. Errors come at close.
func (p *partWriters) add(b *block) error {
	l := p.lanes[b.scale]
	if l == nil {
		l = &lane{in: make(chan *block, 32)}
		p.lanes[b.scale] = l
		p.wg.Add(1)
		go func() {
			defer p.wg.Done()
			p.write(int(b.scale), l)
		}()
	}
	l.in <- b
	return nil
}

func (p *partWriters) abort() { _, _ = p.close() }

// close waits for all parts.
func (p *partWriters) close() ([]Part, error) {
	for _, l := range p.lanes {
		if l != nil {
			close(l.in)
		}
	}
	p.wg.Wait()
	var parts []Part
	var errs []error
	for _, l := range p.lanes {
		if l != nil {
			parts = append(parts, l.parts...)
			errs = append(errs, l.err)
		}
	}
	return parts, errors.Join(errs...)
}

// write drains a lane even after an error, so that the merger never blocks.
func (p *partWriters) write(scale int, l *lane) {
	var part *partMaker
	for b := range l.in {
		if l.err == nil && part == nil {
			part, l.err = p.start(scale)
		}
		if l.err == nil {
			l.err = part.add(b)
		}
		if l.err == nil && part.r.Rows() >= p.maxRows {
			l.err = p.finish(part, l)
			part = nil
		}
		blocks.Put(b)
	}
	if part == nil {
		return
	}
	if l.err != nil {
		part.f.Discard()
		_ = part.r.Close() // the error is known
		return
	}
	l.err = p.finish(part, l)
}

// partMaker is a part being written.
type partMaker struct {
	f           *fsys.File
	r           *parq.Readings
	part        Part
	first, last int64
}

func (p *partWriters) start(scale int) (*partMaker, error) {
	f, err := p.w.create()
	if err != nil {
		return nil, err
	}
	codec := parq.Snappy
	if p.at.day == 0 {
		codec = parq.Zstd
	}
	return &partMaker{
		f: f, r: parq.NewReadings(f, codec, scale), first: 1<<63 - 1, last: -1 << 63,
		part: Part{Table: Readings, Partition: p.at.hive(), Scale: scale},
	}, nil
}

func (m *partMaker) add(b *block) error {
	m.first = min(m.first, b.times[0])
	m.last = max(m.last, b.times[len(b.times)-1])
	m.part.Conflicts += b.clashes
	return m.r.Add(b.series, b.times, b.values, b.conflict)
}

// finish publishes a part, unless the very same one is there already.
func (p *partWriters) finish(m *partMaker, l *lane) error {
	if err := m.r.Close(); err != nil {
		m.f.Discard()
		return fmt.Errorf("write readings of %s: %w", p.at.hive(), err)
	}
	m.part.Rows = m.r.Rows()
	m.part.First, m.part.Last = time.UnixMicro(m.first).UTC(), time.UnixMicro(m.last).UTC()
	folder := path.Join(p.at.hive(), fmt.Sprintf("scale=%d", m.part.Scale))
	sum := m.f.Sum()
	if had, ok := p.old[path.Join(Readings, folder, sum[:16]+".parquet")]; ok && had.SHA256 == sum {
		m.f.Discard()
		l.parts = append(l.parts, had)
		return nil
	}
	l.parts = append(l.parts, p.w.publish(m.f, m.part, folder))
	return nil
}
