package derive

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"wane/ingest/archive"
)

// runIn is how many days before a day are read with it: a lamp burning over
// midnight is warm, and a slow logger's cadence shows. One more than a long
// weekend without light.
const runIn = 4

// Daily brings table daily up to what was taken in.
func Daily(ctx context.Context, l *archive.Lock, s Site) (*archive.Archive, error) {
	a, _, err := rollUp(ctx, l, s)
	return a, err
}

// rollUp is Daily; it also gives the days that it rolled up.
func rollUp(ctx context.Context, l *archive.Lock, s Site) (_ *archive.Archive, rolled []int32, err error) {
	d, err := archive.Derive(l, TableDaily, TableDays)
	if err != nil {
		return nil, nil, err
	}
	a := d.Archive()
	digests, err := digestDays(d, s.Config.Location)
	if err != nil {
		return nil, nil, fmt.Errorf("see which days changed: %w", err)
	}
	if len(digests) > 0 {
		t, keys := newTracks(a, s.Register, wantedSeries(s.Register)), newDayKeys(s, digests)
		first, last := extent(digests)
		for m := first; m <= last; m++ {
			if err := ctx.Err(); err != nil {
				return nil, nil, err
			}
			days, err := dailyMonth(d, t, s, keys, m)
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

// dailyMonth writes a month of table daily, or keeps it, and gives the days that
// it rolled up for that.
func dailyMonth(d *archive.Derivation, t *tracks, s Site, keys *dayKeys, m month) ([]int32, error) {
	days := m.days()
	key := keys.ofMonth(days)
	partition := "month=" + m.String()
	if d.Keep(TableDaily, partition, key) {
		return nil, nil
	}
	var old *archive.Part
	for _, p := range d.Archive().Parts(TableDaily) {
		if p.Partition == partition {
			old = &p
		}
	}
	oldKey := ""
	if old != nil {
		oldKey = old.Key
	}
	changed, kept := changedDays(days, oldKey, key)
	var before []archive.Column
	if len(kept) > 0 {
		var err error
		if before, err = d.Archive().ReadTable(*old); err != nil || !sameShape(before, dailyColumns(nil)) { // damaged: made anew as a whole
			changed, kept = changedDays(days, "", key)
		}
	}
	var rows []DailyRow
	for _, run := range stretches(changed) {
		loc := s.Config.Location
		if err := t.load(Start(run[0]-runIn, loc), Start(run[0], loc), Start(run[len(run)-1]+1, loc)); err != nil {
			return nil, err
		}
		rows = append(rows, rollDays(t, s, run)...)
	}
	slices.SortFunc(rows, func(a, b DailyRow) int {
		return cmp.Or(cmp.Compare(a.Fixture, b.Fixture), cmp.Compare(a.Day.Day, b.Day.Day))
	})
	cols := dailyColumns(rows)
	if len(kept) > 0 {
		cols = mergeDays(before, kept, cols)
	}
	if cols[0].Len() == 0 {
		return changed, nil
	}
	_, err := d.Write(TableDaily, partition, key, cols)
	return changed, err
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
