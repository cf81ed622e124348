package schedules

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"
)

// FileState is a StateStore in one small JSON file. The folder must exist. One
// process may use it at a time; the caller holds the site's lock.
type FileState struct {
	Path string
}

var _ StateStore = FileState{}

// fileVersion is the version of the file's form that is written and read.
const fileVersion = 1

type fileForm struct {
	Version int                `json:"version"`
	Jobs    map[string]fileJob `json:"jobs"`
}

type fileJob struct {
	Last   time.Time `json:"last"` // RFC 3339, UTC
	Missed int       `json:"missed"`
}

// Load reads the file. A missing one is an empty State; one that is no valid
// JSON of this form is ErrTorn; one of another version is an error.
func (f FileState) Load() (State, error) {
	b, err := os.ReadFile(f.Path)
	if errors.Is(err, fs.ErrNotExist) {
		return State{}, nil
	}
	if err != nil {
		return nil, fmt.Errorf("read schedule state: %w", err)
	}
	torn := func(why string) (State, error) {
		return State{}, fmt.Errorf("%w: %s: %s", ErrTorn, f.Path, why)
	}
	var form fileForm
	if len(bytes.TrimSpace(b)) == 0 {
		return torn("the file is empty")
	}
	// The version is read first: a later form may differ in all the rest.
	var version struct {
		Version *int `json:"version"`
	}
	if err := json.Unmarshal(b, &version); err != nil {
		return torn(err.Error())
	}
	if version.Version == nil {
		return torn("it has no version")
	}
	if *version.Version != fileVersion {
		return nil, fmt.Errorf("%s has version %d, this program knows %d; use the program that wrote it, or remove the file to count slots from now",
			f.Path, *version.Version, fileVersion)
	}
	if err := json.Unmarshal(b, &form); err != nil {
		return torn(err.Error())
	}
	s := State{}
	for name, j := range form.Jobs {
		if j.Last.IsZero() || j.Missed < 0 {
			return torn(fmt.Sprintf("job %q has no last slot or a negative count", name))
		}
		s[name] = Progress(j)
	}
	return s, nil
}

// Save writes beside under a temporary name, checks the length, syncs, renames
// and syncs the folder.
func (f FileState) Save(s State) error {
	form := fileForm{Version: fileVersion, Jobs: map[string]fileJob{}}
	for name, p := range s {
		form.Jobs[name] = fileJob{Last: p.Last.UTC(), Missed: p.Missed}
	}
	b, err := json.MarshalIndent(form, "", "  ")
	if err != nil {
		return fmt.Errorf("write schedule state: %w", err)
	}
	if err := f.replace(append(b, '\n')); err != nil {
		return fmt.Errorf("write schedule state: %w", err)
	}
	return nil
}

// replace makes the file hold b, wholly or not at all.
func (f FileState) replace(b []byte) (err error) {
	dir := filepath.Dir(f.Path)
	// One fixed name: what a killed process left is overwritten, not collected.
	tmp := filepath.Join(dir, "."+filepath.Base(f.Path)+".tmp")
	w, err := os.OpenFile(tmp, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o644)
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			os.Remove(tmp)
		}
	}()
	_, err = w.Write(b) // an error unless all was written
	if err == nil {
		err = w.Sync()
	}
	if err == nil {
		var info fs.FileInfo
		if info, err = w.Stat(); err == nil && info.Size() != int64(len(b)) {
			err = fmt.Errorf("%s has %d bytes after writing %d", tmp, info.Size(), len(b))
		}
	}
	if cerr := w.Close(); err == nil {
		err = cerr
	}
	if err != nil {
		return err
	}
	if err := os.Rename(tmp, f.Path); err != nil {
		return err
	}
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	err = d.Sync()
	if cerr := d.Close(); err == nil {
		err = cerr
	}
	return err
}
