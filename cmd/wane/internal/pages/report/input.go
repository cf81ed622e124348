package report

import (
	"time"

	"wane/cmd/wane/internal/circuits"
	"wane/cmd/wane/internal/plans"
	"wane/ingest/site"
	"wane/transform/due"
	"wane/transform/measure"
	"wane/transform/survey/surveys"
)

// Input is what the pages are made of.
type Input struct {
	Config site.Config
	// AsOf is the day the pages speak of; 0: that of Result.
	AsOf int32
	// Invented is the sentence that says that the data are invented; empty
	// where they are not. It stands on top of every page.
	Invented string
	// Result is the answers and lives; nil where nothing was taken in yet.
	Result *due.Result
	// Needs is what needs a person and cannot be seen from Result, such as
	// quarantined rows or unknown series, the weightiest first.
	Needs []Need
	// Years are those that have a reliability summary beside these pages, in
	// order.
	Years []int
	// Evidence is what each fixture's levels rest on, where it is known.
	Evidence map[string]Evidence
	// Plan is the relamp plan; nil where there is none.
	Plan *plans.Made
	// Measure is what to measure next; nil where it was not weighed.
	Measure *measure.Result
	// Surveys is the canopy surveys; nil where none was taken in.
	Surveys *surveys.Book
	// Supply is what the circuits' voltages say; nil where none is read.
	Supply *circuits.Site
}

// Need is one thing that waits for a person.
type Need struct {
	Where string // what it is about, such as a file, a sensor or a fixture
	What  string // what is the matter
	Do    string // what to do
	Link  string // address of a page that tells more, relative to the reports folder; may be empty
}

// Evidence is the way back from a fixture's levels to what was taken in.
type Evidence struct {
	Files   []File
	LeftOut []LeftOut // readings that do not count, by reason
	Read    int       // readings of its light in all
	Used    int       // of them in the levels
}

// File is an original that holds readings of the fixture.
type File struct {
	Name, SHA256 string
	Rows         int
}

// LeftOut counts readings that do not count for one reason.
type LeftOut struct {
	Reason string
	Count  int
}

func (in *Input) asOf() int32 {
	if in.AsOf == 0 && in.Result != nil {
		return in.Result.AsOf
	}
	return in.AsOf
}

func (in *Input) location() *time.Location {
	if in.Config.Location == nil {
		return time.UTC
	}
	return in.Config.Location
}
