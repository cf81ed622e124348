package derive

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"

	"wane/cmd/wane/internal/sitefolder"
	"wane/ingest/archive"
	"wane/transform/calendar"
)

// tablesAsOf gives the tables as of a day: those that the night left, where they
// are of that day and of what the register and the record are now; else tables
// made for the question, in the same way, beside the archive. done forgets them.
func tablesAsOf(ctx context.Context, a *archive.Archive, s sitefolder.Site, m Making) (t *tables, done func() error,
	err error) {
	none := func() error { return nil }
	t = &tables{Archive: a, site: s, reg: s.Register.AsOf(calendar.End(m.AsOf, s.Config.Location)), asOf: m.AsOf}
	if isMade(a, s, m.AsOf) {
		return t, none, nil
	}
	dir, err := os.MkdirTemp("", "wane-as-of-")
	if err != nil {
		return nil, nil, err
	}
	done = func() error { return os.RemoveAll(dir) }
	defer func() {
		if err != nil {
			err = errors.Join(err, done())
		}
	}()
	lock, err := archive.Acquire(filepath.Join(dir, "archive"), archive.Holder{PID: os.Getpid(),
		What: "tables as of a day"})
	if err != nil {
		return nil, nil, err
	}
	out, err := Make(ctx, lock, a, s, m)
	if err == nil {
		err = out.Close()
	}
	if err = errors.Join(err, lock.Release()); err != nil {
		return nil, nil, err
	}
	t.Archive = out.Archive
	return t, done, nil
}

// isMade says whether the tables that the night left are of the day, and of what
// there is now.
func isMade(a *archive.Archive, s sitefolder.Site, asOf int32) bool {
	parts := a.Parts(TableLives)
	return len(parts) == 1 && parts[0].Key == madeKey(a, s, asOf)
}

// Stale says in words what the tables that the night left do not know yet; ""
// where they are of what there is now.
func Stale(a *archive.Archive, s sitefolder.Site) string {
	last, any := LastDay(a, s)
	if !any {
		return ""
	}
	held := map[string]bool{}
	byDay := false
	for _, p := range a.Parts(TableDaily) {
		held[p.Key] = true
		x, ok := spanOf(p)
		byDay = byDay || ok && x.first == x.last
	}
	if slices.ContainsFunc(dailyParts(a.Parts(archive.Readings), s, byDay), func(p span) bool { return !held[p.key] }) {
		return "readings, or the register's lines about who watches what, are newer than the daily roll-up: run `wane nightly`"
	}
	if !isMade(a, s, last) {
		return "site.yaml or the register has changed since the last night: run `wane nightly`"
	}
	return ""
}

// siteKey is of what site.yaml and the register say.
func siteKey(s sitefolder.Site) string {
	if s.Hash != "" {
		return s.Hash
	}
	c := &s.Config
	d := newDigest("site", s).text(c.Zone, fmt.Sprintf("%+v %+v %+v %+v %v", c.Corrections, c.Rooms, c.Thresholds,
		c.Forecast, c.Interval))
	for i := range s.Register.Fixtures {
		d.text(fmt.Sprintf("%+v", s.Register.Fixtures[i]))
	}
	for i := range s.Register.Sensors {
		d.text(fmt.Sprintf("%+v", s.Register.Sensors[i]))
	}
	for i := range s.Register.Logbook {
		d.text(fmt.Sprintf("%+v", s.Register.Logbook[i]))
	}
	return d.key(nil)
}

// LastDay is the last local day on which anything was read, by a logger or in a
// canopy survey, whose spots stand among the readings.
func LastDay(a *archive.Archive, s sitefolder.Site) (int32, bool) {
	last, any := int32(math.MinInt32), false
	for _, p := range a.Parts(archive.Readings) {
		last, any = max(last, calendar.DayOf(p.Last, s.Config.Location)), true
	}
	return last, any
}
