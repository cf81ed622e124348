package collect

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sort"
	"time"

	"wane/ingest/collect/spool"
	"wane/ingest/internal/fsys"
)

// Status is what became of collecting a source, as it is kept beside its spool.
type Status struct {
	Source string `json:"source"`
	Kind   string `json:"kind"`

	Slot        time.Time `json:"slot"`                 // the last slot that was dealt with; zero for listeners
	Seen        time.Time `json:"seen"`                 // when wane looked after it last
	Tried       time.Time `json:"tried"`                // the last try
	Succeeded   time.Time `json:"succeeded"`            // the last one that ended well; of a listener, when something came last or it was connected
	Connected   bool      `json:"connected,omitempty"`  // of a listener
	Error       string    `json:"error,omitempty"`      // of the last try, in words; "" where it ended well
	Failures    int       `json:"failures,omitempty"`   // in a row
	Unreadable  string    `json:"unreadable,omitempty"` // why the last body that was no reading at all was none
	Readings    int64     `json:"readings"`             // since ever, as they came: what is known already counts too
	Rejects     int64     `json:"rejects"`
	Bytes       int64     `json:"bytes"`
	Missed      int64     `json:"missed"` // polls that did not happen or failed, since ever
	Gaps        []Gap     `json:"gaps,omitempty"`
	LastReading time.Time `json:"lastReading"` // when something came last
}

// Gap is a time in which a source was not collected. To is zero while it lasts.
type Gap struct {
	From  time.Time `json:"from"`
	To    time.Time `json:"to"`
	Polls int64     `json:"polls,omitempty"` // missed
	Why   string    `json:"why,omitempty"`
}

// mostGaps is how many gaps are remembered, the latest.
const mostGaps = 100

// Open is the gap that lasts still, nil where there is none.
func (s *Status) Open() *Gap {
	if n := len(s.Gaps); n > 0 && s.Gaps[n-1].To.IsZero() {
		return &s.Gaps[n-1]
	}
	return nil
}

// miss counts polls that were missed up to now.
func (s *Status) miss(n int64, from time.Time, why string) {
	s.Missed += n
	g := s.Open()
	if g == nil {
		if len(s.Gaps) == mostGaps {
			s.Gaps = append(s.Gaps[:0], s.Gaps[1:]...)
		}
		s.Gaps = append(s.Gaps, Gap{From: from})
		g = &s.Gaps[len(s.Gaps)-1]
	}
	g.Polls += n
	g.Why = why
}

// well ends a gap.
func (s *Status) well(at time.Time) {
	if g := s.Open(); g != nil {
		g.To = at
	}
	s.Error, s.Failures, s.Succeeded = "", 0, at
}

// add takes over what was kept.
func (s *Status) add(k spool.Kept, at time.Time) {
	s.Readings += k.Readings
	s.Rejects += k.Rejects
	s.Bytes += k.Bytes
	if k.Readings > 0 {
		s.LastReading = at
	}
}

const statusName = ".status"

// ReadStatus gives what became of the sources of a site folder, by name: of all
// that were ever collected. It may be called while they are.
func ReadStatus(dir string) ([]Status, error) {
	paths, err := filepath.Glob(filepath.Join(dir, spool.Folder, "*", statusName))
	if err != nil {
		return nil, err
	}
	sort.Strings(paths)
	var out []Status
	for _, p := range paths {
		s, err := readStatus(p)
		if err != nil {
			return nil, err
		}
		out = append(out, *s)
	}
	return out, nil
}

func readStatus(path string) (*Status, error) {
	s := &Status{}
	b, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return s, nil
	}
	if err == nil {
		err = json.Unmarshal(b, s)
	}
	if err != nil {
		return nil, fmt.Errorf("read the status of a source: %w; remove %s to begin anew", err, path)
	}
	return s, nil
}

// writeStatus replaces the status of a source whole.
func writeStatus(dir string, s *Status) error {
	b, err := json.MarshalIndent(s, "", " ")
	if err != nil {
		return err
	}
	folder := filepath.Join(dir, spool.Folder, s.Source)
	tmp := filepath.Join(folder, statusName+".tmp")
	if err := (fsys.OS{}).Remove(tmp); err != nil {
		return err
	}
	f, err := fsys.Create(fsys.OS{}, tmp)
	if err != nil {
		return fmt.Errorf("write the status of %s: %w", s.Source, err)
	}
	defer f.Discard()
	if _, err := f.Write(b); err != nil {
		return err
	}
	if err := f.Publish(filepath.Join(folder, statusName)); err != nil {
		return fmt.Errorf("write the status of %s: %w", s.Source, err)
	}
	return nil
}
