package ingest

import (
	"fmt"
	"slices"
	"sort"

	"wane/ingest/archive"
	"wane/ingest/problem"
	"wane/ingest/reading"
	"wane/transform/fleet"
)

// Summary adds up one round. For each source and for all:
// rows = stored + duplicate + quarantined.
type Summary struct {
	Sources []BySource // by name; "" are the plain forms
	All     archive.Counts
	Files   int // imported now
	Again   int // imported before, under whatever name

	Left        []string // files that stay where they are, and why
	Undeleted   []string // files that were imported and could not be removed
	Healed      []string // files that came again and took the place of their damaged originals
	Mended      []string // what of the archive was damaged and has been made again
	Swept       []string // what a killed run had left over
	Unknown     []string // series of this round that the register does not have; kept all the same
	UnknownRows int64    // readings of them
	Broken      []string // files that cannot be used as a whole
	Order       []string // files whose time turns, with the place
	Notes       []string
}

// BySource is the counts of one source.
type BySource struct {
	Name  string
	Files int
	// Unknown is how many of the readings are of series that the register does
	// not have: kept like the others, and used by the next run once it does.
	Unknown int64
	archive.Counts
}

func (s *Summary) add(res *archive.Result, unknown *unknowns) {
	by := map[string]*BySource{}
	s.Broken, s.Unknown = res.Refused(), unknown.list()
	for _, f := range res.Files {
		b := by[f.Source]
		if b == nil {
			b = &BySource{Name: f.Source}
			by[f.Source] = b
		}
		b.Files++
		b.Add(f.Counts)
		b.Unknown += unknown.rows[f.SHA256]
		s.UnknownRows += unknown.rows[f.SHA256]
		s.Files++
		s.All.Add(f.Counts)
	}
	for _, b := range by {
		s.Sources = append(s.Sources, *b)
	}
	sort.Slice(s.Sources, func(i, j int) bool { return s.Sources[i].Name < s.Sources[j].Name })
	s.Again = len(res.Again)
	rows := map[string]int64{} // of this round, by content
	for _, f := range res.Files {
		rows[f.SHA256] = f.Rows
	}
	for _, k := range res.Again {
		n := rows[k.SHA256]
		if k.Already != nil {
			n = k.Already.Rows
		}
		s.All.Rows += n
		s.All.Duplicate += n
	}
	s.Undeleted, s.Healed = res.Left, res.Healed
}

// Unknown lists the series of the archive that the register does not have.
func Unknown(a *archive.Archive, reg *fleet.Register) ([]string, error) {
	cover, err := a.Coverage()
	if err != nil {
		return nil, err
	}
	u := newUnknowns(reg)
	for _, c := range cover {
		u.add("", c.Series, c.Readings)
	}
	return u.list(), nil
}

// unknowns gathers the series that the register does not have.
type unknowns struct {
	reg    *fleet.Register // nil: nothing is unknown
	series map[reading.Series]bool
	rows   map[string]int64 // readings of them, by the content of their file
}

func newUnknowns(reg *fleet.Register) *unknowns {
	return &unknowns{reg, map[reading.Series]bool{}, map[string]int64{}}
}

func (u *unknowns) add(sha string, s reading.Series, readings int64) {
	if u.reg == nil || s.Sensor == SurveySensor || u.reg.Known(s.Sensor, s.Channel) {
		return
	}
	u.series[s] = true
	u.rows[sha] += readings
}

// list names them, in order.
func (u *unknowns) list() []string {
	var out []string
	for s := range u.series {
		out = append(out, s.String())
	}
	sort.Strings(out)
	return slices.Compact(out) // a slash in a name makes two series one text
}

// NeedsPerson lists what only a person can settle, with what to do.
func (s *Summary) NeedsPerson() []string {
	var out []string
	if s.All.Quarantined > 0 {
		out = append(out, fmt.Sprintf("%d rows of new files went to quarantine; `wane quarantine` shows them by reason",
			s.All.Quarantined))
	}
	out = append(out, s.Broken...)
	if n := len(s.Mended); n > 0 {
		out = append(out, fmt.Sprintf("%d places of the archive were damaged and have been made again from the originals; look after the disk: %s", n, problem.Few(s.Mended, 4)))
	}
	if n := len(s.Healed); n > 0 {
		out = append(out, fmt.Sprintf("%d originals were gone or damaged and are whole again by copies that came in; look after the disk: %s", n, problem.Few(s.Healed, 4)))
	}
	for _, l := range s.Left {
		out = append(out, "left where it is: "+l)
	}
	for _, l := range s.Undeleted {
		out = append(out, "imported, but could not be removed: "+l)
	}
	if len(s.Unknown) > 0 {
		out = append(out, fmt.Sprintf("the register does not know %d series (kept; add them to register/sensors.csv and the next run uses them): %s", len(s.Unknown), problem.Few(s.Unknown, 8)))
	}
	for i, l := range s.Order {
		if i == mostOrder {
			out = append(out, fmt.Sprintf("%d more files whose time turns", len(s.Order)-i))
			break
		}
		out = append(out, l)
	}
	return append(out, s.Notes...)
}

// mostOrder is how many files whose time turns are told one by one.
const mostOrder = 8
