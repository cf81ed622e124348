package schedules

import (
	"context"
	"errors"
	"fmt"
	"regexp"
	"time"
)

// Job is one kind of unattended work.
type Job struct {
	Name string // lower case letters, digits and hyphens; the key of its state
	Line string // cron line in the site's zone, see ParseLine

	CatchUp CatchUp // what to do with slots that passed; the zero value is Latest
	Limit   int     // Each: how many passed slots are run at most; 0 means DefaultLimit

	// Run does the work of a slot, given in the site's zone. nil means done.
	// It is never called from two goroutines at once, nor beside another job's.
	// It returns soon after ctx is cancelled, and bears to be called again for
	// a slot it did wholly or in part.
	Run func(ctx context.Context, slot time.Time) error
}

// CatchUp is the policy for slots that passed while nothing ran.
type CatchUp int

const (
	// Latest runs the last slot that passed; the others count as missed. For
	// work whose every run takes in all there is.
	Latest CatchUp = iota
	// Each runs every slot that passed, the oldest first. For work that is
	// about its slot, such as a year's summary. Beyond the job's limit the
	// oldest are given up and count as missed.
	Each
)

// String names the policy as the log does.
func (c CatchUp) String() string {
	switch c {
	case Latest:
		return "latest"
	case Each:
		return "each"
	}
	return fmt.Sprintf("CatchUp(%d)", int(c))
}

// DefaultLimit bounds Each where the job does not: a year of nights.
const DefaultLimit = 366

var nameForm = regexp.MustCompile(`^[a-z][a-z0-9-]*$`)

// check gives the job's line parsed, or all that is wrong with the job.
func (j Job) check() (Line, error) {
	var found []error
	bad := func(format string, args ...any) {
		found = append(found, fmt.Errorf("job %q: "+format, append([]any{j.Name}, args...)...))
	}
	if !nameForm.MatchString(j.Name) {
		bad("the name must be lower case letters, digits and hyphens")
	}
	line, err := ParseLine(j.Line)
	if err != nil {
		bad("%w", err)
	}
	if j.CatchUp != Latest && j.CatchUp != Each {
		bad("unknown catch-up policy %v; use Latest or Each", j.CatchUp)
	}
	if j.Limit < 0 {
		bad("limit %d is negative; leave it 0 for %d", j.Limit, DefaultLimit)
	}
	if j.Run == nil {
		bad("has no function to run")
	}
	return line, errors.Join(found...)
}

// plan is what a tick finds: the slots to run, oldest first, and how many
// older ones are given up for them.
type plan struct {
	run    []time.Time
	missed int
}

// plan picks from the slots in (last, now] by the job's policy.
func (j Job) plan(line Line, zone *time.Location, last, now time.Time) plan {
	keep := 1
	if j.CatchUp == Each {
		keep = j.Limit
		if keep == 0 {
			keep = DefaultLimit
		}
	}
	var p plan
	for slot := range line.slots(zone, last, now) {
		if len(p.run) == keep {
			copy(p.run, p.run[1:])
			p.run = p.run[:keep-1]
			p.missed++
		}
		p.run = append(p.run, slot)
	}
	return p
}
