// Package night remembers how the last night went and when the archive was last
// checked, for whoever asks without having been there: /health, /metrics and
// the status screen.
//
// Both stand in small files of the site folder that may be lost without harm. A
// night is written down when it begins and again when it ends, so that one that
// was killed, or whose disk was full, is not taken for the one before.
package night

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"syscall"
	"time"

	"wane/ingest/site"
)

const (
	nightFile = ".wane-night.json"
	checkFile = ".wane-check.json"
)

// Record is one night. End is zero while it runs, and of one that was killed.
type Record struct {
	Start time.Time `json:"start"`
	End   time.Time `json:"end,omitzero"`
	PID   int       `json:"pid"`             // of the process that ran it
	Exit  int       `json:"exit"`            // as of the command: 0 done, 3 done but something needs a person
	Error string    `json:"error,omitempty"` // why it failed

	Files       int   `json:"files"` // imported in it
	Rows        int64 `json:"rows"`
	Stored      int64 `json:"stored"`
	Duplicate   int64 `json:"duplicate"`
	Quarantined int64 `json:"quarantined"`
	Questions   int   `json:"questions"` // that wait for a person

	Waits []string `json:"waits,omitempty"` // the questions in words
}

// Check is one verification of the whole archive.
type Check struct {
	At       time.Time `json:"at"`
	Findings int       `json:"findings"`
}

// Begin writes down that a night has begun. A folder that is no site is left
// alone: nobody asks for its nights.
func Begin(folder site.Folder, now time.Time) (Record, error) {
	r := Record{Start: now.UTC(), PID: os.Getpid()}
	return r, r.Save(folder)
}

// Save writes the night down.
func (r Record) Save(folder site.Folder) error { return save(folder, nightFile, r) }

// Save writes the check down.
func (c Check) Save(folder site.Folder) error { return save(folder, checkFile, c) }

func save(folder site.Folder, name string, v any) error {
	if _, err := os.Stat(folder.Path("site.yaml")); err != nil {
		return nil
	}
	b, err := json.MarshalIndent(v, "", " ")
	if err == nil {
		err = site.WriteFile(folder.Path(name), append(b, '\n'))
	}
	if err != nil {
		return fmt.Errorf("write down how it went: %w", err)
	}
	return nil
}

// Last gives the last night; ok is false where none is written down.
func Last(folder site.Folder) (r Record, ok bool, err error) {
	ok, err = load(folder, nightFile, &r)
	return r, ok, err
}

// LastCheck gives the last check; ok is false where none is written down.
func LastCheck(folder site.Folder) (c Check, ok bool, err error) {
	ok, err = load(folder, checkFile, &c)
	return c, ok, err
}

func load(folder site.Folder, name string, v any) (bool, error) {
	b, err := os.ReadFile(folder.Path(name))
	if errors.Is(err, fs.ErrNotExist) {
		return false, nil
	}
	if err == nil {
		err = json.Unmarshal(b, v)
	}
	if err != nil {
		return false, fmt.Errorf("%s cannot be read (%w); the next run writes it anew", name, err)
	}
	return true, nil
}

// Running says whether the night's process is still at it.
func (r Record) Running() bool {
	return r.End.IsZero() && r.PID > 0 && !errors.Is(syscall.Kill(r.PID, 0), syscall.ESRCH)
}

// Grace is how long after its slot a night may begin before it counts as missing:
// a machine that slept, or a schedule of its own beside site.yaml.
const Grace = 3 * time.Hour

// Fault says why the night leaves the site unhealthy at a time; "" where it does
// not. next is the slot that follows the night's start.
func (r Record) Fault(now, next time.Time) string {
	switch {
	case r.End.IsZero() && !r.Running():
		return "the last night was cut off before its end; run `wane nightly`"
	case !r.End.IsZero() && r.Exit != 0 && r.Exit != 3:
		return fmt.Sprintf("the last night failed with exit %d: %s", r.Exit, r.Error)
	case now.After(next.Add(Grace)):
		return fmt.Sprintf("the night of %s is missing: none has begun since %s", next.Format(time.RFC3339),
			r.Start.Format(time.RFC3339))
	}
	return ""
}
