package derive

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"wane/ingest/archive"
)

// Table daily has a part a month, but of the month of the latest day with
// readings a part a day, so that a night need not write the month's other days
// again. Which it is depends on nothing but the readings and the register.

// fewFixtures is how many fixtures make days worth parts of their own: the
// month of fewer is written again in the time of a small file more.
const fewFixtures = 100

// dailyPart is a part of table daily as it should be.
type dailyPart struct {
	partition string
	days      []int32
	key       string
}

// partsOf gives the parts that a month of table daily should have: one, or where
// byDay one for each day with readings.
func (m month) partsOf(keys *dayKeys, byDay bool) []dailyPart {
	days := m.days()
	if !byDay {
		return []dailyPart{{partition: fmt.Sprintf("month=%s/day=all", m), days: days, key: keys.ofDays(days)}}
	}
	var out []dailyPart
	for i, d := range days {
		if key := keys.of(d); key != noReadings {
			out = append(out, dailyPart{partition: fmt.Sprintf("month=%s/day=%02d", m, i+1), days: days[i : i+1], key: key})
		}
	}
	return out
}

// heldDay is where a day's rows are, and what they were made from.
type heldDay struct {
	part int // index in the parts that heldDays gives
	key  string
}

// heldDays gives the parts that there are of a month of table daily, and the days
// in them.
func heldDays(a *archive.Archive, m month) (parts []archive.Part, days map[int32]heldDay) {
	days = map[int32]heldDay{}
	for _, p := range a.Parts(TableDaily) {
		of, ok := strings.CutPrefix(p.Partition, fmt.Sprintf("month=%s/day=", m))
		if !ok {
			continue
		}
		in := m.days()
		if of != "all" {
			day, err := time.Parse("2006-01-02", fmt.Sprintf("%s-%s", m, of))
			if err != nil {
				continue
			}
			in = []int32{DayOf(day, time.UTC)}
		}
		if len(p.Key) != len(in)*keyDigits {
			continue // of another kind: none of its rows are known to be right
		}
		for i, d := range in {
			days[d] = heldDay{len(parts), p.Key[i*keyDigits : (i+1)*keyDigits]}
		}
		parts = append(parts, p)
	}
	return parts, days
}

// dueDays compares the days of parts to be written with those held: the days to
// roll up again, and for each held part those of its days whose rows are still
// right.
func dueDays(due []dailyPart, held map[int32]heldDay) (changed []int32, kept map[int]map[int32]bool) {
	kept = map[int]map[int32]bool{}
	for _, p := range due {
		for i, d := range p.days {
			key := p.key[i*keyDigits : (i+1)*keyDigits]
			h, ok := held[d]
			switch {
			case key == noReadings:
			case ok && h.key == key:
				if kept[h.part] == nil {
					kept[h.part] = map[int32]bool{}
				}
				kept[h.part][d] = true
			default:
				changed = append(changed, d)
			}
		}
	}
	slices.Sort(changed)
	return changed, kept
}

// keptRows reads the rows that are still right of the parts held; the days of a
// part that is damaged must be rolled up too.
func keptRows(a *archive.Archive, parts []archive.Part, kept map[int]map[int32]bool) (rows []dayRows, damaged []int32) {
	read := make([][]archive.Column, len(parts))
	each(len(parts), func(i int) {
		if len(kept[i]) > 0 {
			if cols, err := a.ReadTable(parts[i]); err == nil && sameShape(cols, dailyColumns(nil)) {
				read[i] = cols
			}
		}
	})
	for i, cols := range read {
		switch {
		case cols != nil:
			rows = append(rows, dayRows{cols, kept[i]})
		default:
			for d := range kept[i] {
				damaged = append(damaged, d)
			}
		}
	}
	return rows, damaged
}

// columns gives the part's rows, out of those made anew and those that are still
// right; both may hold other days too.
func (p *dailyPart) columns(rows []DailyRow, before []dayRows) []archive.Column {
	mine := func(day int32) bool { return day >= p.days[0] && day <= p.days[len(p.days)-1] }
	var fresh []DailyRow
	for _, r := range rows {
		if mine(r.Day.Day) {
			fresh = append(fresh, r)
		}
	}
	parts := []dayRows{{cols: dailyColumns(fresh)}}
	for _, b := range before {
		some := map[int32]bool{}
		for day := range b.days {
			if mine(day) {
				some[day] = true
			}
		}
		if len(some) > 0 {
			parts = append(parts, dayRows{b.cols, some})
		}
	}
	if len(parts) == 1 {
		return parts[0].cols
	}
	return mergeDays(parts)
}
