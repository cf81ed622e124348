package ingest

import (
	"context"
	"errors"
	"fmt"
	"os"

	"wane/ingest/archive"
	"wane/ingest/problem"
	"wane/ingest/source"
)

// Rebuild makes all that was taken in anew from the originals, each read by the
// description that was kept with it; see archive.Rebuild.
func Rebuild(ctx context.Context, l *archive.Lock) (*archive.Archive, error) {
	return archive.Rebuild(ctx, l, archive.RebuildOptions{Decode: again})
}

// Repair checks the archive and makes anew what is damaged; see archive.Repair.
func Repair(ctx context.Context, l *archive.Lock) (*archive.Report, error) {
	return archive.Repair(ctx, l, archive.RebuildOptions{Decode: again})
}

// Retry reads every file that has rows in quarantine again, by the description
// that now fits it in place of the one it was read by, and makes the archive
// anew. Files whose description is gone or has not changed stay as they are.
func Retry(ctx context.Context, l *archive.Lock, all []*Described) (*archive.Archive, error) {
	a, err := archive.Open(l.Dir())
	if err != nil {
		return nil, err
	}
	files, err := a.Files()
	if err != nil {
		return nil, err
	}
	held := map[string]bool{}
	for _, f := range files {
		held[f.SHA256] = f.Quarantined > 0
	}
	return archive.Rebuild(ctx, l, archive.RebuildOptions{
		Decode: again,
		Describe: func(o archive.Original) (string, []byte, bool) {
			if !held[o.SHA256] || o.Source == SurveySource {
				return "", nil, false
			}
			for _, d := range all {
				if d.Name == o.Source {
					return d.Name, d.Text, true
				}
			}
			return "", nil, false
		},
	})
}

// again reads an original as it was read when it was taken in.
func again(ctx context.Context, o archive.Original, f *os.File, s *archive.Sink) (int64, error) {
	var by *source.Description
	if o.Describe != nil {
		d, err := source.Load(o.Describe, "sources/"+o.Source+".yaml")
		var list problem.List
		if errors.As(err, &list) {
			return 0, fmt.Errorf("the description that was kept with it is no longer understood: %w", err)
		}
		if err != nil {
			return 0, err
		}
		by = d
	}
	return 0, read(ctx, f, o.Name, by, o.Source == SurveySource, o.TakenIn, s)
}
