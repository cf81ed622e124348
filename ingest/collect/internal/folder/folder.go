// Package folder fetches what is new in a folder of a server, for all kinds that
// look into one (sftp, ftp, s3).
//
//  1. The folder is listed. What was fetched before and has the same size, time
//     and mark is passed over.
//  2. A file that changed a moment ago, and is not the same as when the folder was
//     listed before, may still be being written: it is left for the next time.
//  3. The rest is fetched, the oldest first. A file that ends before or behind the
//     size of the listing changed meanwhile or broke off: it is not kept.
//  4. What was fetched is saved after it is kept. One file that fails holds up no
//     other.
package folder

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"path"
	"slices"
	"strings"
	"time"

	"wane/ingest/collect"
)

// Entry is a file as the folder lists it.
type Entry struct {
	Name string    `json:"-"` // as Open wants it; its last part is matched with patterns
	Size int64     `json:"size"`
	Time time.Time `json:"time"`
	Mark string    `json:"mark,omitempty"` // such as an ETag
}

func (e Entry) same(o Entry) bool {
	return e.Size == o.Size && e.Time.Equal(o.Time) && e.Mark == o.Mark
}

// Folder is one of a server.
type Folder interface {
	// List gives its files, without folders.
	List(ctx context.Context) ([]Entry, error)
	// Open begins to read a file. What it gives is closed before the next call.
	Open(ctx context.Context, name string) (io.ReadCloser, error)
}

// Rule says what to fetch.
type Rule struct {
	Names   []string      // patterns; none: all
	Settled time.Duration // a file that changed within it is left
	First   time.Duration // of the first collection: what is older is passed over; 0: nothing is
	Now     time.Time
}

// state is what was fetched, and what was left, by name.
type state struct {
	Begun   bool             `json:"begun"`
	Fetched map[string]Entry `json:"fetched"`
	Left    map[string]Entry `json:"left"`
}

// saveEvery is after how many files the state is saved, so that a long first
// collection that ends early goes on where it was.
const saveEvery = 20

// Fetch fetches what is new into the box.
func Fetch(ctx context.Context, f Folder, r Rule, box collect.Box) error {
	var st state
	if _, err := box.Load(&st); err != nil {
		return err
	}
	list, err := f.List(ctx)
	if err != nil {
		return err
	}
	todo, next := r.pick(list, st)
	var wrong []error
	for i, e := range todo {
		if err := fetch(ctx, f, e, box); err != nil {
			if wrong = append(wrong, err); ctx.Err() != nil || collect.IsRefused(err) {
				break
			}
			continue
		}
		next.Fetched[e.Name] = e
		if (i+1)%saveEvery == 0 {
			if err := box.Save(next); err != nil {
				return err
			}
		}
	}
	if len(wrong) > 0 {
		next.Begun = st.Begun // what is left of a first collection still is
	}
	if err := box.Save(next); err != nil {
		return err
	}
	return few(wrong)
}

// few joins the first errors and counts the rest.
func few(wrong []error) error {
	const most = 3
	if n := len(wrong); n > most {
		wrong = append(wrong[:most:most], fmt.Errorf("and %d more files", n-most))
	}
	return errors.Join(wrong...)
}

// pick says which files are to be fetched, oldest first, and what is known then.
func (r Rule) pick(list []Entry, st state) (todo []Entry, next state) {
	next = state{Begun: true, Fetched: map[string]Entry{}, Left: map[string]Entry{}}
	for _, e := range list {
		base := path.Base(e.Name)
		if !r.wanted(base) {
			continue
		}
		e.Time = e.Time.UTC()
		if old, ok := st.Fetched[e.Name]; ok && old.same(e) {
			next.Fetched[e.Name] = e
			continue
		}
		if !st.Begun && r.First > 0 && e.Time.Before(r.Now.Add(-r.First)) {
			next.Fetched[e.Name] = e
			continue
		}
		before, seen := st.Left[e.Name]
		if r.Settled > 0 && e.Time.After(r.Now.Add(-r.Settled)) && !(seen && before.same(e)) {
			next.Left[e.Name] = e
			continue
		}
		todo = append(todo, e)
	}
	slices.SortFunc(todo, func(a, b Entry) int { return cmp.Or(a.Time.Compare(b.Time), strings.Compare(a.Name, b.Name)) })
	return todo, next
}

// wanted says whether a name fits the patterns, upper and lower case alike, and is
// none of a file under way.
func (r Rule) wanted(base string) bool {
	low := strings.ToLower(base)
	if strings.HasPrefix(low, ".") || strings.HasSuffix(low, ".part") || strings.HasSuffix(low, ".tmp") ||
		strings.HasSuffix(low, ".filepart") {
		return false
	}
	for _, p := range r.Names {
		if ok, err := path.Match(strings.ToLower(p), low); ok && err == nil {
			return true
		}
	}
	return len(r.Names) == 0
}

func fetch(ctx context.Context, f Folder, e Entry, box collect.Box) error {
	in, err := f.Open(ctx, e.Name)
	if err != nil {
		return fmt.Errorf("open %s: %w", path.Base(e.Name), err)
	}
	_, err = box.Put(ctx, e.Name, &exact{r: in, left: e.Size})
	return errors.Join(err, in.Close())
}

// errOther is a file that is not as long as the folder said.
var errOther = errors.New("it is not as long as the folder says: it broke off or changed while it was read")

// exact gives an error where a file ends too early or too late.
type exact struct {
	r    io.Reader
	left int64
}

func (x *exact) Read(p []byte) (int, error) {
	n, err := x.r.Read(p)
	x.left -= int64(n)
	if x.left < 0 || err == io.EOF && x.left > 0 {
		return n, errOther
	}
	return n, err
}
