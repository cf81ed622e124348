package derive

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"wane/ingest/archive"
)

// runIn is how many days before a day count for it: a lamp burning over midnight
// is warm, and a slow logger's cadence shows. One more than a long weekend
// without light. A night reads only what daily.RollNear asks for of them.
const runIn = 4

// Daily brings table daily up to what was taken in.
func Daily(ctx context.Context, l *archive.Lock, s Site) (*archive.Archive, error) {
	a, _, err := rollUp(ctx, l, s, fewFixtures)
	return a, err
}

// rollUp is Daily, with parts by day from so many fixtures on; it also gives the
// days that it rolled up.
func rollUp(ctx context.Context, l *archive.Lock, s Site, fewest int) (_ *archive.Archive, rolled []int32, err error) {
	d, err := archive.Derive(l, TableDaily, TableDays)
	if err != nil {
		return nil, nil, err
	}
	a := d.Archive()
	t := newTracks(a, s.Register, wantedSeries(s.Register))
	made := make(chan *dayKeys, 1)
	go func() { made <- newDayKeys(s, nil) }() // while the readings are read
	digests, err := digestDays(d, t, s.Config.Location)
	if err != nil {
		return nil, nil, fmt.Errorf("see which days changed: %w", err)
	}
	if len(digests) > 0 {
		keys := <-made
		keys.digests = digests
		first, last := extent(digests)
		byDay := len(s.Register.Fixtures) >= fewest
		for m := first; m <= last; m++ {
			if err := ctx.Err(); err != nil {
				return nil, nil, err
			}
			days, err := dailyMonth(d, t, s, m, m.partsOf(keys, byDay && m == last))
			if err != nil {
				return nil, nil, fmt.Errorf("roll up %s: %w", m, err)
			}
			rolled = append(rolled, days...)
		}
	}
	a, err = d.Commit()
	return a, rolled, err
}

// extent gives the local months that readings fall in.
func extent(digests map[int32]digest) (first, last month) {
	any := false
	for day := range digests {
		m := monthOf(Date(day))
		if !any || m < first {
			first = m
		}
		if !any || m > last {
			last = m
		}
		any = true
	}
	return first, last
}

// dailyMonth writes the parts of a month of table daily, or keeps them, and gives
// the days that it rolled up for that.
func dailyMonth(d *archive.Derivation, t *tracks, s Site, m month, parts []dailyPart) ([]int32, error) {
	due := slices.DeleteFunc(parts, func(p dailyPart) bool { return d.Keep(TableDaily, p.partition, p.key) })
	if len(due) == 0 {
		return nil, nil
	}
	held, at := heldDays(d.Archive(), m)
	changed, kept := dueDays(due, at)
	before, damaged := keptRows(d.Archive(), held, kept)
	changed = append(changed, damaged...)
	slices.Sort(changed)
	var rows []DailyRow
	for _, run := range stretches(changed) {
		made, err := rollDays(t, s, run)
		if err != nil {
			return nil, err
		}
		rows = append(rows, made...)
	}
	slices.SortFunc(rows, func(a, b DailyRow) int {
		return cmp.Or(cmp.Compare(a.Fixture, b.Fixture), cmp.Compare(a.Day.Day, b.Day.Day))
	})
	for _, p := range due {
		cols := p.columns(rows, before)
		if cols[0].Len() == 0 && len(p.days) > 1 {
			continue
		}
		// A day without rows has its part too, which tells that it has none.
		if _, err := d.Write(TableDaily, p.partition, p.key, cols); err != nil {
			return nil, err
		}
	}
	return changed, nil
}

// stretches cuts days where the readings between two of them are not needed for
// either, as when a file came late.
func stretches(days []int32) [][]int32 {
	var out [][]int32
	lo := 0
	for i := range days {
		if i+1 == len(days) || days[i+1] > days[i]+runIn+1 {
			out = append(out, days[lo:i+1])
			lo = i + 1
		}
	}
	return out
}
