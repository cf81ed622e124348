package archive

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"sync"

	"wane/ingest/archive/bucket"
	"wane/ingest/internal/fsys"
)

// ErrOvertaken says that somebody else wrote to the bucket meanwhile.
var ErrOvertaken = errors.New("another machine has written to the archive meanwhile; nothing of this run counts: " +
	"run it again")

// far is an archive in a bucket, as a run sees it: the bucket is the truth, the
// folder a copy of it. A part and an original are called by their content, so
// that putting one again, by whoever, changes nothing; they are put before the
// manifest that names them, and the manifest is put only over the one that it
// was made from. So one writer of several comes through, and the others lose
// nothing but their time.
type far struct {
	b   *bucket.Bucket
	dir string

	mu   sync.Mutex
	m    *Manifest // in the bucket, when last seen; nil: none is there
	text []byte    // of it
	tag  string    // of it
	told []string  // lists that go to the bucket once their files count

	down error // what kept this run from sending: it ends, and does not wait for each of its files

	healed []string // what was damaged in the copy and has been fetched again
}

// load looks at the bucket's manifest.
func (f *far) load() error {
	f.m, f.text, f.tag = nil, nil, ""
	b, tag, err := f.manifest()
	if errors.Is(err, bucket.ErrNone) {
		return nil
	}
	if err != nil {
		return err
	}
	m, err := parseManifest(b)
	if err != nil {
		return fmt.Errorf("%s/%s: %w; %s", f.b, manifestName, err, doResend)
	}
	f.m, f.text, f.tag = m, b, tag
	return nil
}

// doResend is what to do where the bucket's manifest is no good and the copy is.
var doResend = "where the copy here is right, remove " + manifestName + " from the bucket and archive/" + markName +
	" here: the next run sends the copy"

func (f *far) manifest() (text []byte, tag string, err error) {
	r, tag, err := f.b.Get(manifestName)
	if err != nil {
		return nil, "", err
	}
	defer r.Close()
	text, err = io.ReadAll(r)
	return text, tag, err
}

// send puts a file of the copy into the bucket, by the name that it has or will
// have. Its bytes are held against what the name says of them.
func (f *far) send(path, rel string) error {
	r, err := os.Open(path)
	if err != nil {
		return err
	}
	defer r.Close()
	h := sha256.New()
	size, err := io.Copy(h, r)
	if err != nil {
		return err
	}
	name := filepath.Base(rel)
	if stem := strings.TrimSuffix(name, ".parquet"); filepath.Ext(name) != ".json" &&
		!strings.HasPrefix(hex.EncodeToString(h.Sum(nil)), stem) {
		return fmt.Errorf("send %s: its checksum does not match", path)
	}
	if _, err := r.Seek(0, io.SeekStart); err != nil {
		return err
	}
	f.mu.Lock()
	err = f.down
	f.mu.Unlock()
	if err == nil {
		err = f.b.Put(filepath.ToSlash(rel), r, size)
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	if err != nil {
		f.down = err
	}
	return err
}

// fetch brings a file of the archive from the bucket, if it is what it should be.
// A size below 0 is not known.
func (f *far) fetch(rel string, size int64, sha string) error {
	name := filepath.ToSlash(rel)
	r, _, err := f.b.Get(name)
	if errors.Is(err, bucket.ErrNone) {
		return fmt.Errorf("%w in the bucket too", errMissing)
	}
	if err != nil {
		return err
	}
	defer r.Close()
	disk := fsys.OS{}
	up, base := filepath.Split(filepath.Clean(f.dir)) // a reader may have no folder yet
	for _, below := range []string{tmpDir, filepath.Dir(rel)} {
		if err := fsys.MkdirAll(disk, filepath.Clean(up), filepath.Join(base, below)); err != nil {
			return err
		}
	}
	w, err := fsys.Create(disk, filepath.Join(f.dir, tmpDir, fmt.Sprintf("fetched-%d-%x", os.Getpid(), rand.Uint64())))
	if err != nil {
		return err
	}
	defer w.Discard()
	n, err := io.Copy(w, r)
	switch {
	case err != nil:
		return err
	case size >= 0 && n != size || w.Sum() != sha:
		return fmt.Errorf("%w: %s/%s is not what it was; `wane check --repair` where there is a whole copy sends it again",
			ErrDamaged, f.b, name)
	}
	return w.Publish(filepath.Join(f.dir, rel))
}

// whole says whether a file of the archive is what it should be. Of one in a
// bucket, it is fetched where it is not.
func (v *verified) whole(dir, rel string, size int64, sha string) error {
	err := fileIntact(filepath.Join(dir, rel), size, sha)
	if err == nil || v.far == nil {
		return err
	}
	var ferr error
	for range 3 { // a writer of this machine may clear up beside, and take what is being fetched for a leftover
		ferr = v.far.fetch(rel, size, sha)
		if !errors.Is(ferr, fs.ErrNotExist) || errors.Is(ferr, errMissing) {
			break
		}
	}
	if ferr == nil && !errors.Is(err, errMissing) {
		v.far.mu.Lock()
		v.far.healed = append(v.far.healed, filepath.ToSlash(rel)+": "+err.Error())
		v.far.mu.Unlock()
	}
	return ferr
}

// mirror is the disk on which a copy lies: what gets its name there has gone to
// the bucket before. Nothing is removed from the bucket here; see far.clear.
type mirror struct {
	fsys.FS
	far *far
}

func (m *mirror) Rename(from, to string) error {
	rel, err := filepath.Rel(m.far.dir, to)
	if err != nil {
		return err
	}
	inOriginals := strings.HasPrefix(rel, originalsDir+string(filepath.Separator))
	switch {
	case rel == manifestName:
		err = m.far.swap(from)
	case inOriginals && filepath.Ext(rel) == ".json":
		// Another writer's list may bear the same name until one of the two counts.
		m.far.mu.Lock()
		m.far.told = append(m.far.told, rel)
		m.far.mu.Unlock()
	case inOriginals, partName.MatchString(filepath.Base(rel)):
		err = m.far.send(from, rel)
	}
	if err != nil {
		return err
	}
	return m.FS.Rename(from, to)
}

// swap makes the manifest in the file the bucket's, which holds all that it names
// by then, and sends the lists of what counts now.
func (f *far) swap(path string) error {
	text, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	next, err := parseManifest(text)
	if err != nil {
		return err
	}
	if !bytes.Equal(text, f.text) {
		if err := f.put(text); err != nil {
			return err
		}
	}
	f.m, f.text = next, text
	for _, rel := range f.told {
		if err := f.send(filepath.Join(f.dir, rel), rel); err != nil {
			return fmt.Errorf("all counts, but the list of it is not in the bucket: %w; the next run sends it", err)
		}
	}
	f.told = nil
	return nil
}

// put puts the manifest in the place of the one that this run has seen. Where the
// reply is lost, what stands there tells.
func (f *far) put(text []byte) error {
	tag, err := f.b.Swap(manifestName, text, f.tag)
	if err == nil {
		f.tag = tag
		return nil
	}
	there, now, gerr := f.manifest()
	switch {
	case gerr == nil && bytes.Equal(there, text):
		f.tag = now
		return nil
	case errors.Is(err, bucket.ErrChanged):
		return fmt.Errorf("%s: %w", f.b, ErrOvertaken)
	case gerr != nil && !errors.Is(gerr, bucket.ErrNone):
		return fmt.Errorf("%w; whether this run counts is not known, the next one finds out", err)
	}
	return err
}
