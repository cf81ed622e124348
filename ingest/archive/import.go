package archive

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"sync"
	"sync/atomic"
	"time"
)

// Options are the settings of an import.
type Options struct {
	// Now is the time of the run. It is kept as the time of import, and
	// readings later than Now plus FutureSlack go to the quarantine.
	Now time.Time
	// Workers is how many goroutines merge; 0 means one a core.
	Workers int
	// Memory is how many bytes of readings may wait in memory before
	// some are put aside on disk; 0 means 256 MiB.
	Memory int64
}

func (o *Options) fill() {
	if o.Workers <= 0 {
		o.Workers = runtime.GOMAXPROCS(0)
	}
	if o.Memory <= 0 {
		o.Memory = 256 << 20
	}
}

// FutureSlack is how far the clock of a logger may be ahead: a time zone taken
// wrongly is not, a clock that was never set is.
const FutureSlack = 36 * time.Hour

// Import is one round of importing files. Nothing of it counts before Commit;
// one that is not committed must be Discarded.
type Import struct {
	lock *Lock
	opt  Options
	old  *Manifest // what the import builds on
	same bool      // of a repair: what comes out must be what sure says
	sure *Manifest // of a rebuild: what the archive held, whose parts need not be written if they come out the same
	w    *writer

	// Swept lists what a killed run had left over and Begin removed.
	Swept []string

	history func() (*history, error) // what is already imported, once it is read

	mu       sync.Mutex
	sinks    []*Sink
	keeping  map[string]bool
	drops    []*Kept // to be removed from where they came from
	spill    *os.File
	spillEnd int64
	held     atomic.Int64
	done     bool
}

// history is what is already imported.
type history struct {
	known map[string]Known       // by SHA-256
	seen  map[fingerprint]string // SHA-256, by name, size and time of change
}

// Known is a file that was imported before.
type Known struct {
	SHA256   string
	Name     string // under which it came
	Size     int64
	Modified time.Time
	Rows     int64
}

// readHistory reads the table Files, some of its parts at a time.
func readHistory(a *Archive, workers int) (*history, error) {
	columns := []string{"sha256", "name", "size", "modified", "rows"}
	parts := a.Parts(Files)
	found, errs := make([][]Known, len(parts)), make([]error, len(parts))
	var next atomic.Int64
	var wg sync.WaitGroup
	for range min(workers, len(parts)) {
		wg.Go(func() {
			for i := int(next.Add(1)) - 1; i < len(parts); i = int(next.Add(1)) - 1 {
				t, err := a.readPart(parts[i], columns...)
				if errs[i] = err; err != nil {
					continue
				}
				for k := range t.rows {
					found[i] = append(found[i], Known{t.text("sha256", k), t.text("name", k), t.int("size", k), t.time("modified", k),
						t.int("rows", k)})
				}
			}
		})
	}
	wg.Wait()
	h := &history{map[string]Known{}, map[fingerprint]string{}}
	for _, files := range found {
		for _, f := range files {
			h.known[f.SHA256] = f
			h.seen[fingerprint{f.Name, f.Size, f.Modified.UnixMicro()}] = f.SHA256
		}
	}
	return h, errors.Join(errs...)
}

// fingerprint tells a file that has not been touched since without reading it.
type fingerprint struct {
	name     string
	size     int64
	modified int64
}

// Begin starts an import. It first finishes what a killed run left: files in the
// making and parts that never counted are removed and listed in Swept.
func Begin(l *Lock, opt Options) (*Import, error) {
	m, err := loadForWriting(l)
	if err != nil {
		return nil, err
	}
	opt.fill()
	if opt.Now.IsZero() {
		return nil, fmt.Errorf("an import needs the time of its run")
	}
	opt.Now = opt.Now.UTC().Truncate(time.Microsecond)
	t := &Import{lock: l, opt: opt, old: m, keeping: map[string]bool{}}
	t.history = sync.OnceValues(func() (*history, error) { return readHistory(t.Archive(), opt.Workers) })
	if opt.Workers > 1 {
		go t.history() // it is asked for when the first file has been copied
	}
	if t.Swept, err = recoverFrom(l, m, t.history); err != nil {
		_, _ = t.history() // nothing may go on in the background
		return nil, fmt.Errorf("clear up after the last run: %w", err)
	}
	if err := found(l, m); err != nil {
		_, _ = t.history()
		return nil, err
	}
	t.w, err = newWriter(l, opt.Workers)
	return t, err
}

// found gives a new archive its manifest before anything else, so that one without
// is never new once it holds something.
func found(l *Lock, m *Manifest) error {
	if _, err := os.Lstat(filepath.Join(l.dir, manifestName)); !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	w, err := newWriter(l, 1)
	if err != nil {
		return err
	}
	return w.swap(m)
}

// Archive is the view from which the import started.
func (t *Import) Archive() *Archive { return view(t.lock.dir, t.old, t.lock.seen) }

// Discard ends an import without any of it counting. After Commit it does nothing.
func (t *Import) Discard() {
	if t.done {
		return
	}
	t.done = true
	_, _ = t.history()
	_ = t.w.wait() // nothing may go on in the background
	t.closeSpill()
	for _, s := range t.sinks {
		s.kept.discard()
	}
}

func (t *Import) closeSpill() {
	if t.spill != nil {
		name := t.spill.Name()
		t.spill.Close()
		_ = t.lock.fs.Remove(name) // swept by the next run if this fails
		t.spill = nil
	}
}

// putAside moves readings to disk, packed, which held so many bytes.
func (t *Import) putAside(chunks []*chunk, held int64) error {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.spill == nil {
		// The spill file is scratch: it is never published, needs no fsync,
		// and is read back, so it does not go through the writer's door.
		f, err := os.OpenFile(filepath.Join(t.lock.dir, tmpDir, "aside"), os.O_RDWR|os.O_CREATE|os.O_TRUNC, 0o644)
		if err != nil {
			return fmt.Errorf("put readings aside: %w", err)
		}
		t.spill = f
	}
	var all []byte
	for _, c := range chunks {
		from := len(all)
		all = c.pack(all)
		c.at, c.size = t.spillEnd+int64(from), len(all)-from
		c.grids, c.small, c.wide = nil, nil, nil
	}
	if _, err := t.spill.WriteAt(all, t.spillEnd); err != nil {
		return fmt.Errorf("put readings aside: %w", err)
	}
	t.spillEnd += int64(len(all))
	t.held.Add(-held)
	return nil
}
