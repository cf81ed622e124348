package derive

import (
	"cmp"
	"errors"
	"slices"
	"time"

	"wane/ingest/archive"
)

// Table days holds, for every part of the readings and every local day in it,
// the digest of its readings. Parts are named by their content, so that what is
// known of a part once need not be read again.

// partDay is a row of it.
type partDay struct {
	part string // SHA-256
	day  int32
	digest
}

// keepReadings is how many readings of parts that are new are kept when they are
// read for their digests, so that the roll-up need not read them again: those
// of a night, in some 8 bytes each.
const keepReadings = 1 << 22

// digestDays brings table days up to the parts of the readings and gives each
// day's digest. Of parts that it must read, few enough, t holds the readings.
func digestDays(d *archive.Derivation, t *tracks, loc *time.Location) (map[int32]digest, error) {
	a := d.Archive()
	known, sound := knownDays(a, loc)
	parts := a.Parts(archive.Readings)
	var fresh []int
	readings := int64(0)
	for i, p := range parts {
		if known[p.SHA256] == nil {
			fresh = append(fresh, i)
			readings += p.Rows
		}
	}
	slices.SortStableFunc(fresh, func(i, j int) int { return cmp.Compare(parts[j].Rows, parts[i].Rows) }) // the longest first, to end together
	read := make([]*partSeries, len(fresh))
	of := make([][]partDay, len(parts))
	for i, p := range parts {
		of[i] = known[p.SHA256]
	}
	errs := make([]error, len(fresh))
	each(len(fresh), func(k int) {
		p := parts[fresh[k]]
		sum := newDigester(p, loc)
		if readings <= keepReadings {
			read[k], errs[k] = t.read(p, everything, sum)
		} else {
			errs[k] = a.ReadReadings(p, func(r *archive.Run) error { sum.add(r); return nil })
		}
		of[fresh[k]] = sum.rows(p)
	})
	if err := errors.Join(errs...); err != nil {
		return nil, err
	}
	if readings <= keepReadings {
		t.hold(read)
	}
	rows := slices.Concat(of...)
	if key := daysKey(rows, loc); len(rows) > 0 && !(sound && d.Keep(TableDays, "", key)) {
		if _, err := d.Write(TableDays, "", key, daysColumns(rows)); err != nil {
			return nil, err
		}
	}
	out := map[int32]digest{}
	for _, r := range rows {
		out[r.day] = out[r.day].plus(r.digest)
	}
	return out, nil
}

// daysKey is the key of the table: the parts that it speaks of.
func daysKey(rows []partDay, loc *time.Location) string {
	var parts []archive.Part
	for i, r := range rows {
		if i == 0 || r.part != rows[i-1].part {
			parts = append(parts, archive.Part{SHA256: r.part})
		}
	}
	return archive.Key(parts, TableDays, Version, loc.String())
}

func daysColumns(rows []partDay) []archive.Column {
	t := &table{rows: len(rows)}
	t.text("part", func(i int) string { return rows[i].part })
	t.whole("day", archive.Date, func(i int) int64 { return int64(rows[i].day) })
	t.whole("readings", archive.Int64, func(i int) int64 { return rows[i].readings })
	t.whole("digest", archive.Int64, func(i int) int64 { return int64(rows[i].sum) })
	return t.cols
}

// knownDays gives the rows that the last derivation left, by part; none where
// another version made them, or for another time zone. sound is false where they
// are damaged, so that they must be made anew.
func knownDays(a *archive.Archive, loc *time.Location) (rows map[string][]partDay, sound bool) {
	rows = map[string][]partDay{}
	for _, p := range a.Parts(TableDays) {
		cols, err := a.ReadTable(p)
		if err != nil || !sameShape(cols, daysColumns(nil)) {
			return nil, false
		}
		all := make([]partDay, cols[0].Len())
		for i := range all {
			all[i] = partDay{cols[0].Text[i], int32(cols[1].Int[i]), digest{cols[2].Int[i], uint64(cols[3].Int[i])}}
		}
		if daysKey(all, loc) != p.Key {
			continue
		}
		for _, r := range all {
			rows[r.part] = append(rows[r.part], r)
		}
	}
	return rows, true
}
