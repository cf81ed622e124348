package ingest

import (
	"bytes"
	"context"
	"io"
	"os"

	"wane/ingest/decode"
	"wane/ingest/reading"
)

// headBytes are enough of a file to hold its header against a description.
const headBytes = 64 << 10

// knownAs names the descriptions by which a file reads though its name fits none of
// their patterns: next month's file of a logger that is described.
func (r *round) knownAs(path, name string) (files []string, err error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	head, err := io.ReadAll(io.LimitReader(f, headBytes))
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	if err != nil {
		return nil, err
	}
	if i := bytes.LastIndexByte(head, '\n'); i >= 0 && len(head) == headBytes {
		head = head[:i+1]
	}
	for _, d := range r.all {
		var seen tally
		if _, err := decode.File(context.Background(), bytes.NewReader(head), name, d.Description, &seen); err == nil &&
			seen.readings > 9*seen.rejects {
			files = append(files, d.File())
		}
	}
	return files, nil
}

// tally counts what a trial gives.
type tally struct{ readings, rejects int }

func (t *tally) Readings(b *reading.Batch) error { t.readings += b.Len(); return nil }
func (t *tally) Reject(reading.Reject) error     { t.rejects++; return nil }
