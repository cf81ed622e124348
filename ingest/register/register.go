// Package register reads the three hand-written tables of a site (fixtures,
// sensors, logbook), checks them as a whole and hands them on as facts.
//
//  1. Each table is taken apart; every field is checked by itself.
//  2. The tables are checked against each other: names that one uses and none
//     declares, one name for two things, periods that overlap.
//  3. All problems are listed with file, line, column and remedy. The register
//     is used only where there is none: a wrong register makes wrong lamps due.
package register

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"
	"unicode"

	"wane/ingest/problem"
	"wane/transform/fleet"
)

// The files, relative to the site folder.
const (
	FixturesFile = "register/fixtures.csv"
	SensorsFile  = "register/sensors.csv"
	LogbookFile  = "register/logbook.csv"
)

// The columns of each file, in the order in which wane writes them.
var (
	FixtureColumns = []string{"fixture", "room", "bay", "circuit", "lamp_type", "cohort", "model", "rated_w", "rated_v",
		"gear", "installed", "hours_at_install"}
	// PositionColumns may be left out: where a fixture hangs in its room, in metres
	// from a corner of it, for the room's map.
	PositionColumns = []string{"x", "y"}
	SensorColumns   = []string{"sensor", "channel", "quantity", "unit", "watches", "factor", "from", "to"}
	LogbookColumns  = []string{"at", "what", "scope", "id", "value", "note"}
)

// Load reads the register below the site folder dir, with register/decisions.csv
// where there is one. The error is a
// problem.List where the files were read but cannot be used.
func Load(dir string, loc *time.Location) (*fleet.Register, error) {
	var data [3][]byte
	var missing problem.List
	for i, file := range []string{FixturesFile, SensorsFile, LogbookFile} {
		b, err := os.ReadFile(filepath.Join(dir, filepath.FromSlash(file)))
		switch {
		case errors.Is(err, fs.ErrNotExist):
			missing = append(missing, problem.Problem{File: file, What: "the file is missing",
				Do: "make it with the header of its kind; `wane new DIR` shows one"})
		case err != nil:
			return nil, fmt.Errorf("read register: %w", err)
		}
		data[i] = b
	}
	if len(missing) > 0 {
		return nil, missing
	}
	r, found := Parse(data[0], data[1], data[2], loc)
	more, err := loadDecisions(r, dir, loc)
	if err != nil {
		return nil, err
	}
	found = append(found, more...)
	return r, found.Err()
}

// Parse reads and checks the three tables. The register is complete only where
// the list is empty.
func Parse(fixtures, sensors, logbook []byte, loc *time.Location) (*fleet.Register, problem.List) {
	r := &fleet.Register{}
	names := newNames()
	// The tables are taken apart side by side. What their rows say is checked in
	// turn, as a table speaks of the names of those before it.
	var hung, watching, told *table
	var apart sync.WaitGroup
	apart.Go(func() { watching = read(SensorsFile, sensors, SensorColumns) })
	apart.Go(func() { told = read(LogbookFile, logbook, LogbookColumns) })
	hung = read(FixturesFile, fixtures, FixtureColumns, PositionColumns...)
	found := parseFixtures(r, names, hung, loc)
	apart.Wait()
	found = append(found, parseSensors(r, names, watching, loc)...)
	found = append(found, parseLogbook(r, names, told, loc)...)
	r.Sort()
	found.Sort()
	return r, found
}

// names is who is who in the register, so that a name means one thing.
type names struct {
	kind  map[string]fleet.Scope   // of a fixture, bay, circuit or room name
	known map[fleet.Scope][]string // in file order, for hints
	has   map[fleet.Scope]map[string]bool
	room  map[string]string                 // of a bay
	alike map[fleet.Scope]map[string]string // how a name was written first, by its letters and digits
}

func newNames() *names {
	return &names{
		kind:  map[string]fleet.Scope{},
		known: map[fleet.Scope][]string{},
		has:   map[fleet.Scope]map[string]bool{},
		room:  map[string]string{},
		alike: map[fleet.Scope]map[string]string{},
	}
}

// otherwise gives how a name was written first where it is written otherwise
// here: "Flower" and "flower" would be two rooms that nobody has.
func (n *names) otherwise(scope fleet.Scope, name string) (first string) {
	if name == "" {
		return ""
	}
	if n.alike[scope] == nil {
		n.alike[scope] = map[string]string{}
	}
	key := letters(name)
	first, ok := n.alike[scope][key]
	if !ok {
		n.alike[scope][key] = name
	}
	if first == name {
		return ""
	}
	return first
}

// letters is what two spellings of one name have in common: lower case, and one
// blank for blanks, dashes and underscores.
func letters(name string) string {
	return strings.Join(strings.FieldsFunc(strings.ToLower(name), func(r rune) bool {
		return unicode.IsSpace(r) || r == '-' || r == '_'
	}), " ")
}

// declare notes a name and says what else already bears it.
func (n *names) declare(scope fleet.Scope, name string) (clash fleet.Scope) {
	if name == "" {
		return ""
	}
	if n.has[scope] == nil {
		n.has[scope] = map[string]bool{}
	}
	if !n.has[scope][name] {
		n.has[scope][name] = true
		n.known[scope] = append(n.known[scope], name)
	}
	if scope == fleet.OfSensor { // sensors are never watched: their names stand apart
		return ""
	}
	if k, ok := n.kind[name]; ok && k != scope {
		return k
	}
	n.kind[name] = scope
	return ""
}
