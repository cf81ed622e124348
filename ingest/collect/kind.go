package collect

import (
	"context"
	"errors"
	"io"
	"time"

	"wane/ingest/collect/secret"
	"wane/ingest/collect/spool"
	"wane/ingest/source"
)

// Setting is what a kind is made of.
type Setting struct {
	Description *source.Description // its Collect is set
	Dir         string              // the site folder, below which files named in it lie
	Vault       *secret.Vault
	Now         func() time.Time
	Try         bool // nothing may be taken away from the source: no session, no acknowledgement that it acts on
}

// Poller is a source that is asked.
type Poller interface {
	// Poll fetches all that is new into the box and saves where it stopped.
	Poll(ctx context.Context, box Box) error
}

// Listener is a source that sends by itself.
type Listener interface {
	// Listen takes what comes into the box until ctx ends, and then returns nil. up
	// is called, from any goroutine, when the connection is made (nil) and when it
	// is lost or refused (why); a kind that connects again by itself goes on.
	Listen(ctx context.Context, box Box, up func(error)) error
}

// Box takes what a kind fetched. It may be used by several goroutines.
type Box interface {
	// Put keeps a whole body: a file, an answer. When err is nil it is on disk. A
	// body that is larger than the source's limit, or whose reader fails, is not
	// kept in part. name is what it is called at the source; its last part is used.
	Put(ctx context.Context, name string, body io.Reader) (Came, error)
	// Append keeps lines (package decode/messages), each with its end. When err is
	// nil all of them are on disk; where it is not, some may be.
	Append(ctx context.Context, lines ...[]byte) error
	// Recent gives the lines that were appended last, in this process or before,
	// oldest first, up to some hundreds.
	Recent() [][]byte
	// Load reads what Save kept last into v, and says whether there was anything.
	Load(v any) (bool, error)
	// Save keeps v, where the kind stopped. It is on disk when err is nil.
	Save(v any) error
}

// Came is what a body holds, read by the source's description.
type Came = spool.Came

// ErrTooLarge is under the error of a Put whose body is larger than the source's
// limit.
var ErrTooLarge = spool.ErrTooLarge

// Refused marks an error that trying again at once will not mend: a wrong
// password, a certificate that is not trusted.
func Refused(err error) error {
	if err == nil {
		return nil
	}
	return &refused{err}
}

type refused struct{ error }

func (r *refused) Unwrap() error { return r.error }

// IsRefused says whether an error was marked so.
func IsRefused(err error) bool {
	var r *refused
	return errors.As(err, &r)
}
