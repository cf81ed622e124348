package ingest

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"path"
	"time"

	"wane/ingest/archive"
	"wane/ingest/problem"
	"wane/ingest/source"
)

// Rebuild makes all that was imported anew from the originals, each read by the
// description that was kept with it; see archive.Rebuild.
func Rebuild(ctx context.Context, l *archive.Lock) (*archive.Archive, error) {
	return archive.Rebuild(ctx, l, archive.RebuildOptions{Decode: decodeAgain})
}

// Repair checks the archive and makes anew what is damaged; see archive.Repair.
func Repair(ctx context.Context, l *archive.Lock) (*archive.Report, error) {
	return archive.Repair(ctx, l, archive.RebuildOptions{Decode: decodeAgain})
}

// Mend makes anew what is damaged, and tells what that was.
func Mend(ctx context.Context, l *archive.Lock) (mended []string, err error) {
	r, err := Repair(ctx, l)
	if err != nil {
		return nil, err
	}
	for _, f := range r.Findings {
		mended = append(mended, f.Path+": "+f.What)
	}
	return mended, nil
}

// Verified is what came of a night's share of verifying.
type Verified struct {
	Bytes   int64
	Damaged []string // what cannot be made anew, with what to do
	Mended  []string // what was damaged and has been made anew
}

// Verify holds the night's share of the archive against its checksums and makes
// anew what is damaged; see archive.Scrub.
func Verify(ctx context.Context, l *archive.Lock, now time.Time) (*Verified, error) {
	s, err := archive.Scrub(ctx, l, now)
	if err != nil {
		return nil, err
	}
	v := &Verified{Bytes: s.Bytes}
	for _, what := range s.Healed {
		v.Mended = append(v.Mended, what+"; it is fetched again from the bucket")
	}
	for _, path := range s.Sent {
		v.Mended = append(v.Mended, path+": the bucket did not hold it whole; it is sent again")
	}
	if s.Mends() {
		mended, err := Mend(ctx, l)
		if err != nil {
			return nil, fmt.Errorf("the archive is damaged (%s) and cannot be made anew: %w", s.Findings[0], err)
		}
		v.Mended = append(v.Mended, mended...)
		return v, nil
	}
	for _, f := range s.Findings {
		v.Damaged = append(v.Damaged, f.String())
	}
	for _, path := range s.Swept {
		v.Mended = append(v.Mended, path+": it counted for nothing and is removed")
	}
	return v, nil
}

// Retried is what became of a file whose rows in quarantine were tried again.
type Retried struct {
	Name, Source  string
	Before, After archive.Counts
}

// Retry reads every file that has rows in quarantine again, by the description
// that now fits it in place of the one it was read by, and makes the archive
// anew. Files whose description is gone or has not changed stay as they are;
// where that is all of them, nothing is done. It gives what became of each file
// that was tried.
func Retry(ctx context.Context, l *archive.Lock, all []*Described) ([]Retried, error) {
	a, err := archive.Open(l.Dir())
	if err != nil {
		return nil, err
	}
	files, err := a.Files()
	if err != nil {
		return nil, err
	}
	mended := map[string]*Described{} // by content
	var out []Retried
	for _, f := range files {
		if f.Quarantined == 0 || f.Source == SurveySource {
			continue
		}
		if d := nowFor(f, all); d != nil && fmt.Sprintf("%x", sha256.Sum256(d.Text)) != f.DescriptionSHA {
			mended[f.SHA256] = d
			out = append(out, Retried{Name: f.Name, Source: d.Name, Before: f.Counts})
		}
	}
	if len(out) == 0 {
		return nil, nil
	}
	a, err = archive.Rebuild(ctx, l, archive.RebuildOptions{
		Decode: decodeAgain,
		Describe: func(o archive.Original) (string, []byte, bool) {
			if d := mended[o.SHA256]; d != nil {
				return d.Name, d.Text, true
			}
			return "", nil, false
		},
	})
	if err != nil {
		return nil, err
	}
	if files, err = a.Files(); err != nil {
		return nil, err
	}
	n := 0
	for _, f := range files { // in order of import, as before
		if mended[f.SHA256] != nil {
			out[n].After = f.Counts
			n++
		}
	}
	return out, nil
}

// nowFor gives the description that now tells how the file reads: the one of
// the name it was read by, else the only one that fits its name.
func nowFor(f archive.File, all []*Described) *Described {
	var fit []*Described
	for _, d := range all {
		if d.Name == f.Source {
			return d
		}
		if d.Match(path.Base(f.Name)) {
			fit = append(fit, d)
		}
	}
	if len(fit) == 1 {
		return fit[0]
	}
	return nil
}

// decodeAgain reads an original as it was read when it was imported.
func decodeAgain(ctx context.Context, o archive.Original, f archive.Content, s *archive.Sink) (int64, error) {
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
	_, err := read(ctx, f, o.Name, by, o.Source == SurveySource, o.ImportedAt, s)
	return 0, err
}
