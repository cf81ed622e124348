package ingest

import (
	"fmt"
	"sort"

	"wane/ingest/archive"
	"wane/ingest/problem"
	"wane/transform/fleet"
)

// Summary adds up one round. For each source and for all:
// rows = stored + duplicate + quarantined.
type Summary struct {
	Sources []BySource // by name; "" are the plain forms
	All     archive.Counts
	Files   int // taken in now
	Again   int // taken in before, under whatever name

	Left        []string // files that stay where they are, and why
	Undeleted   []string // files that were taken in and could not be removed
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

func (s *Summary) add(res *archive.Result, reg *fleet.Register) {
	by := map[string]*BySource{}
	var unknown map[int64]int64
	s.Broken, s.Unknown, unknown = oddities(res, reg)
	for _, f := range res.Files {
		b := by[f.Source]
		if b == nil {
			b = &BySource{Name: f.Source}
			by[f.Source] = b
		}
		b.Files++
		b.Add(f.Counts)
		b.Unknown += unknown[f.Sequence]
		s.UnknownRows += unknown[f.Sequence]
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
	s.Undeleted = res.Left
}

// oddities tells which of the new files cannot be used, which of their series
// the register does not know, and how many readings of those each file has. What
// cannot be read here is read again by `wane check`, so that a fault of the disk
// is not told twice.
func oddities(res *archive.Result, reg *fleet.Register) (broken, unknown []string, rows map[int64]int64) {
	fresh := map[int64]bool{}
	for _, f := range res.Files {
		fresh[f.Sequence] = true
	}
	if len(fresh) == 0 {
		return nil, nil, nil
	}
	takenIn := res.Files[0].TakenIn // one round, one time
	if q, err := res.Archive.QuarantinedOf(takenIn); err == nil {
		for _, x := range q {
			if fresh[x.Sequence] && x.Code == archive.CodeWholeFile {
				broken = append(broken, x.Reason)
			}
		}
	}
	rows = map[int64]int64{}
	cover, err := res.Archive.CoverageOf(takenIn)
	if err != nil {
		return broken, nil, nil
	}
	return broken, unknownOf(cover, reg, func(c archive.Covered) bool { return fresh[c.Sequence] }, rows), rows
}

// Unknown lists the series of the archive that the register does not have.
func Unknown(a *archive.Archive, reg *fleet.Register) ([]string, error) {
	cover, err := a.Coverage()
	if err != nil {
		return nil, err
	}
	return unknownOf(cover, reg, func(archive.Covered) bool { return true }, map[int64]int64{}), nil
}

// unknownOf lists unknown series and adds their readings to rows, by file.
func unknownOf(cover []archive.Covered, reg *fleet.Register, wanted func(archive.Covered) bool, rows map[int64]int64) []string {
	if reg == nil {
		return nil
	}
	var out []string
	seen := map[string]bool{} // whether it is known
	for _, c := range cover {
		if !wanted(c) || c.Series.Sensor == SurveySensor {
			continue
		}
		name := c.Series.String()
		known, told := seen[name]
		if !told {
			known = reg.Known(c.Series.Sensor, c.Series.Channel)
			if seen[name] = known; !known {
				out = append(out, name)
			}
		}
		if !known {
			rows[c.Sequence] += c.Readings
		}
	}
	sort.Strings(out)
	return out
}

// NeedsPerson lists what only a person can settle, with what to do.
func (s *Summary) NeedsPerson() []string {
	var out []string
	if s.All.Quarantined > 0 {
		out = append(out, fmt.Sprintf("%d rows of new files went to quarantine; `wane quarantine` shows them by reason", s.All.Quarantined))
	}
	out = append(out, s.Broken...)
	for _, l := range s.Left {
		out = append(out, "left where it is: "+l)
	}
	for _, l := range s.Undeleted {
		out = append(out, "taken in, but could not be removed: "+l)
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
