package derive

import (
	"context"
	"errors"

	"wane/cmd/wane/internal/sitefolder"
	"wane/ingest/archive"
	"wane/transform/due"
)

// Prepared is a question whose lamps are fitted with those of other sites. It is to be
// closed.
type Prepared struct {
	due.Asking
	known *Known
}

// Close ends the asking; see Known.Close.
func (p *Prepared) Close() error { return p.known.Close() }

// Prepare is Ask up to the fit, as of the last day with a reading.
func Prepare(ctx context.Context, a *archive.Archive, s sitefolder.Site) (*Prepared, error) {
	last, _ := LastDay(a, s)
	k, err := known(ctx, a, s, Making{AsOf: last, Bare: true})
	if err != nil {
		return nil, err
	}
	book, err := bookOf(a, s, k.Register, last)
	if err != nil {
		return nil, errors.Join(err, k.Close())
	}
	return &Prepared{due.Prepare(k.Lives, k.Register, s.Config.Rules(), book, due.Question{AsOf: last}), k}, nil
}
