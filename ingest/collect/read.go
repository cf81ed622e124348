package collect

import (
	"context"
	"errors"
	"time"

	"wane/ingest/collect/spool"
	"wane/ingest/decode"
	"wane/ingest/reading"
	"wane/ingest/source"
)

// reader gives what says of a body what it holds, by the description that will
// read it when it is taken in. sink gets it all; nil counts only.
func reader(d *source.Description, now func() time.Time, sink reading.Sink) func(string, spool.File) Came {
	return func(name string, f spool.File) Came {
		count := &counter{to: sink}
		_, err := decode.File(context.Background(), f, name, d, count, decode.Now(now()))
		var whole *decode.FileError
		if errors.As(err, &whole) {
			err = errors.New(whole.What)
		}
		return Came{Readings: count.readings, Rejects: count.rejects, Unreadable: err}
	}
}

// counter counts what goes through.
type counter struct {
	to                reading.Sink
	readings, rejects int64
}

func (c *counter) Readings(b *reading.Batch) error {
	c.readings += int64(b.Len())
	if c.to != nil {
		return c.to.Readings(b)
	}
	return nil
}

func (c *counter) Reject(r reading.Reject) error {
	c.rejects++
	if c.to != nil {
		return c.to.Reject(r)
	}
	return nil
}
