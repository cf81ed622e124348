package ingest

import (
	"context"
	"fmt"
	"slices"
	"sort"
	"sync"
	"sync/atomic"
	"time"

	"wane/ingest/archive"
	"wane/ingest/reading"
	"wane/ingest/source"
)

// round is one Import under way.
type round struct {
	imp      *archive.Import
	all      []*Described
	now      time.Time
	progress func(string)
	summary  *Summary

	files []offered
	came  []outcome // by file

	mu    sync.Mutex
	done  int
	first map[string]int // by content, the file that is decoded
	later []int          // files whose content was met first in one that comes after them
}

// outcome is what came of a file.
type outcome struct {
	copied
	sink *archive.Sink
	said string
}

// run keeps and decodes the files, several at once. Of two files with the same
// content the first in order counts, whichever core was faster.
func (r *round) run(ctx context.Context, files []offered, workers int) error {
	r.offer(files)
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	var next atomic.Int64
	var wg sync.WaitGroup
	for range min(workers, len(files)) {
		wg.Go(func() {
			for {
				i := int(next.Add(1)) - 1
				if i >= len(files) || ctx.Err() != nil {
					return
				}
				if err := r.file(ctx, i); err != nil {
					cancel(err)
					return
				}
			}
		})
	}
	wg.Wait()
	if err := context.Cause(ctx); err != nil {
		return err
	}
	return r.inOrder(ctx)
}

func (r *round) offer(files []offered) {
	r.files, r.came, r.first = files, make([]outcome, len(files)), map[string]int{}
}

// inOrder puts right what came out of order, and tells in order what came.
func (r *round) inOrder(ctx context.Context) error {
	slices.Sort(r.later)
	for _, i := range r.later {
		if err := r.decodeFirst(ctx, i); err != nil {
			return err
		}
	}
	for i := range r.came {
		c := &r.came[i]
		if c.left != nil {
			r.left(r.files[i].name, c.left)
		}
		if c.said != "" {
			r.summary.Order = append(r.summary.Order, c.kept.Name+": "+c.said)
		}
	}
	sort.Strings(r.summary.Order)
	return nil
}

// file keeps a file and decodes it, unless its content is known.
func (r *round) file(ctx context.Context, i int) error {
	c := &r.came[i]
	c.copied = r.copy(ctx, r.files[i])
	if c.err != nil {
		return c.err
	}
	switch {
	case c.left != nil || c.kept == nil:
	case c.kept.Already == nil && r.claim(i):
		if err := r.decode(ctx, i); err != nil {
			return err
		}
	default:
		c.kept.Forget()
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.done++; r.done%20 == 0 {
		r.progress(fmt.Sprintf("reading files: %d of %d", r.done, len(r.files)))
	}
	return nil
}

// claim says whether the file is the one of its content to be decoded.
func (r *round) claim(i int) bool {
	r.mu.Lock()
	defer r.mu.Unlock()
	kept := r.came[i].kept
	j, found := r.first[kept.SHA256]
	switch {
	case !found:
		r.first[kept.SHA256] = i
		return true
	case j < i:
		r.imp.Same(kept)
	default:
		r.later = append(r.later, i)
	}
	return false
}

// decodeFirst decodes a file in place of the one of the same content that another
// core met first, or finds that one before it has done so already.
func (r *round) decodeFirst(ctx context.Context, i int) error {
	kept := r.came[i].kept
	j := r.first[kept.SHA256]
	if j < i {
		r.imp.Same(kept)
		return nil
	}
	other := &r.came[j]
	r.imp.Drop(other.sink)
	r.imp.Same(other.kept)
	other.sink, other.said = nil, ""
	r.first[kept.SHA256] = i
	return r.decode(ctx, i)
}

// decode reads a kept file into a sink of its own.
func (r *round) decode(ctx context.Context, i int) error {
	c := &r.came[i]
	f, err := c.kept.Open()
	if err != nil {
		return err
	}
	defer f.Close()
	if c.sink, err = r.imp.Sink(i, c.kept); err != nil {
		return err
	}
	by := (*source.Description)(nil)
	if c.by != nil {
		by = c.by.Description
	}
	c.said, err = read(ctx, f, c.kept.Name, by, c.kept.Source == SurveySource, r.now, c.sink)
	return err
}

// eachSeries gives the series of each file that was decoded to fn, with the
// file's content and the number of readings.
func (r *round) eachSeries(fn func(sha string, s reading.Series, readings int64)) {
	for i := range r.came {
		if c := &r.came[i]; c.sink != nil {
			c.sink.Series(func(s reading.Series, readings int64) { fn(c.kept.SHA256, s, readings) })
		}
	}
}
