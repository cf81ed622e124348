package main

import (
	"context"
	"errors"

	"wane/cmd/wane/internal/batch"
	"wane/cmd/wane/internal/night"
	"wane/ingest/site"
)

// recorded runs a night, writes down how it went (when it began, and how it
// ended) and tells those who are to be told. err is the night's end, told why not
// everybody has been told yet.
func recorded(ctx context.Context, folder site.Folder, e env, run func() (*batch.Outcome, error)) (told, err error) {
	r, err := night.Begin(folder, e.now())
	if err != nil {
		return nil, err
	}
	out, err := run()
	r.End, r.Exit = e.now().UTC(), status(ctx, err)
	if r.Exit != exitDone && r.Exit != exitPerson {
		r.Error = err.Error()
	}
	if out != nil {
		r.Questions, r.Waits = len(out.Person), out.Person
		if t := out.Imported; t != nil {
			r.Files, r.Rows, r.Stored, r.Duplicate, r.Quarantined = t.Files, t.All.Rows, t.All.Stored, t.All.Duplicate,
				t.All.Quarantined
		}
	}
	saved := r.Save(folder)
	return tellOutcome(ctx, folder, e, out, nightFacts(r.Exit, err)), errors.Join(err, saved)
}
