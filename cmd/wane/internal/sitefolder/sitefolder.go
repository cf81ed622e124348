// Package sitefolder opens a site folder: site.yaml and the register, checked as a
// whole, so that all that is wrong with them is listed at once. Its Site is what
// every command and the night know of the site besides the archive.
package sitefolder

import (
	"errors"
	"time"

	"wane/ingest/problem"
	"wane/ingest/register"
	"wane/ingest/site"
	"wane/schedules"
	"wane/transform/fleet"
	"wane/transform/survey"
)

// Site is what site.yaml and the register say.
type Site struct {
	Config   site.Config
	Register *fleet.Register
	Hash     string                  // of site.yaml and the register as written; "" = not known
	Beside   map[string]*survey.Note // what stood beside each canopy survey
	HoldDays int64                   // up to how many days of levels are held at once; 0: as many as usual
}

// Open reads the folder. The error is a problem.List where a person must mend
// something; the site is then what could be read, nil where there is none.
func Open(dir string) (*Site, error) {
	f, s := site.Folder(dir), &Site{}
	var found problem.List
	var err error
	if s.Config, err = f.Load(CronLine); err != nil && !errors.As(err, &found) {
		return nil, err
	}
	loc := s.Config.Location
	if loc == nil {
		loc = time.UTC // dates are checked all the same
	}
	if len(found) > 0 && found[0].Line == 0 && found[0].Column == 0 && s.Config.Name == "" && s.Config.Zone == "" {
		return nil, found // no site folder at all: the register has nothing to add
	}
	var more problem.List
	if s.Register, err = register.Load(dir, loc); err != nil && !errors.As(err, &more) {
		return nil, err
	}
	found = append(found, more...)
	more = nil
	if s.Beside, err = register.LoadSurveys(dir); err != nil && !errors.As(err, &more) {
		return nil, err
	}
	if err := append(found, more...).Err(); err != nil {
		return s, err
	}
	s.Hash, err = f.Hash()
	return s, err
}

// CronLine says what is wrong with a schedule of site.yaml.
func CronLine(line string) error {
	_, err := schedules.ParseLine(line)
	return err
}
