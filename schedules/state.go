package schedules

import (
	"errors"
	"time"
)

// Progress is how far a job has come.
type Progress struct {
	// Last is the last slot done, or the time from which slots count where none
	// was done yet.
	Last time.Time
	// Missed counts the slots that were given up since the job was first seen.
	Missed int
}

// State is the progress of each job, by name. Jobs that are no longer listed
// keep their entry.
type State map[string]Progress

// StateStore keeps the State from one process to the next. The scheduler calls
// it from one goroutine at a time.
type StateStore interface {
	// Load gives the State last saved, or an empty one where none ever was. An
	// error that wraps ErrTorn means that there was one and it cannot be read:
	// the scheduler reports it and goes on without. Any other error stops it.
	Load() (State, error)
	// Save replaces the State whole. When it returns nil the State outlasts a
	// loss of power; when it returns an error, or never returns, Load gives the
	// old one or the new one. It keeps no reference to its argument.
	Save(State) error
}

// ErrTorn marks a stored State that cannot be read.
var ErrTorn = errors.New("schedule state cannot be read")
