package derive

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"time"

	"wane/cmd/wane/internal/sitefolder"
	"wane/ingest/archive"
	"wane/transform/calendar"
	"wane/transform/daily"
)

// runIn is how many days before a day count for it: a lamp burning over midnight
// is warm, and a slow logger's cadence shows. One more than a long weekend
// without light. A night reads only what daily.RollNear asks for of them.
const runIn = 4

// fewFixtures is how many fixtures make days worth parts of their own: the
// month of fewer is rolled up again in the time of a small file more.
const fewFixtures = 100

// Daily brings table daily up to what was taken in. It has a part a month, but
// of the month of the latest day with readings a part a day, so that a night
// need not roll the month's other days up again.
//
// Parts that were rolled up elsewhere, by Order.Roll, are taken where they are of
// what there is now.
func Daily(ctx context.Context, l *archive.Lock, s sitefolder.Site, offered ...Part) (*archive.Archive, error) {
	a, _, err := rollUp(ctx, l, s, fewFixtures, offered...)
	return a, err
}

// rollUp is Daily, with parts by day from so many fixtures on; it also gives the
// days that it rolled up.
func rollUp(ctx context.Context, l *archive.Lock, s sitefolder.Site, fewest int,
	offered ...Part) (_ *archive.Archive, rolled []int32, err error) {
	d, err := archive.Derive(l, TableDaily)
	if err != nil {
		return nil, nil, err
	}
	var due []span
	for _, p := range dailyParts(d.Archive().Parts(archive.Readings), s, len(s.Register.Fixtures) >= fewest) {
		if d.Keep(TableDaily, p.partition, p.key) {
			continue
		}
		taken, err := takeOffered(d, p, offered)
		if err != nil {
			return nil, nil, err
		}
		if !taken {
			due = append(due, p)
		}
	}
	t := newTracks(d.Archive(), s.Register, wantedSeries(s.Register))
	for _, some := range batches(due) {
		if err := ctx.Err(); err != nil {
			return nil, nil, err
		}
		if err := writeDaily(d, t, s, some); err != nil {
			return nil, nil, fmt.Errorf("roll up %s: %w", some[0].partition, err)
		}
		for _, p := range some {
			rolled = append(rolled, p.days()...)
		}
	}
	a, err := d.Commit()
	return a, rolled, err
}

// dailyParts gives the parts that table daily should have, in order of time.
func dailyParts(readings []archive.Part, s sitefolder.Site, byDay bool) []span {
	loc := s.Config.Location
	keys := newDayKeys(readings, s)
	var first, last calendar.Month
	for i, p := range readings {
		lo, hi := calendar.MonthOf(p.First.In(loc)), calendar.MonthOf(p.Last.In(loc))
		if i == 0 {
			first, last = lo, hi
		}
		first, last = min(first, lo), max(last, hi)
	}
	var out []span
	for m := first; m <= last; m++ {
		for _, p := range spansOf(m, byDay && m == last) {
			if key := keys.of(p.first, p.last); key != "" {
				p.key = key
				out = append(out, p)
			}
		}
	}
	return out
}

// batches puts days that follow each other so closely that they share readings,
// and each month, into one piece of work.
func batches(due []span) [][]span {
	var out [][]span
	for i, p := range due {
		if i > 0 && p.first == p.last && due[i-1].first == due[i-1].last && p.first <= due[i-1].last+runIn+1 {
			out[len(out)-1] = append(out[len(out)-1], p)
			continue
		}
		out = append(out, []span{p})
	}
	return out
}

// writeDaily rolls the days of some parts up and writes the parts. One without
// rows is written too, which tells that it has none.
func writeDaily(d *archive.Derivation, t *tracks, s sitefolder.Site, parts []span) error {
	var days []int32
	for _, p := range parts {
		days = append(days, p.days()...)
	}
	rows, err := rollDays(t, s, s.Register.ByName(), days)
	if err != nil {
		return err
	}
	for _, p := range parts {
		if _, err := d.Write(TableDaily, p.partition, p.key, dailyColumns(p.rows(rows, len(parts) == 1))); err != nil {
			return err
		}
	}
	return nil
}

// rows gives those of the part's days; all says that all are.
func (p *span) rows(rows []daily.Row, all bool) (mine []daily.Row) {
	if all {
		return rows
	}
	for _, r := range rows {
		if p.holds(r.Day.Day) {
			mine = append(mine, r)
		}
	}
	return mine
}

// dayKeys tells what days of table daily are made from.
type dayKeys struct {
	site     sitefolder.Site
	base     string // what every day depends on
	facts    factChain
	readings []archive.Part
}

func newDayKeys(readings []archive.Part, s sitefolder.Site) *dayKeys {
	return &dayKeys{
		site: s, facts: chainOf(s.Register, toldOfDays), readings: readings,
		base: fmt.Sprintf("%s\x00%s\x00%+v\x00%s", TableDaily, s.Config.Location, s.Config.Gate, sky(s)),
	}
}

// of gives the key of the days from first to last: the names of the parts with
// readings of them and their run-in, and what the register, as of their end, and
// site.yaml say; "" where no part has readings of the days.
func (k *dayKeys) of(first, last int32) string {
	loc := k.site.Config.Location
	since, from, to := calendar.Start(first-runIn, loc), calendar.Start(first, loc), calendar.Start(last+1, loc)
	var parts []archive.Part
	read := false
	for _, p := range k.readings {
		if p.First.Before(to) && !p.Last.Before(since) {
			parts = append(parts, p)
			read = read || !p.Last.Before(from)
		}
	}
	if !read {
		return ""
	}
	return archive.Key(parts, Version, k.base, fmt.Sprintf("%x", k.facts.before(to)),
		decisionFacts(k.site.Register, since, to))
}

// span is a part of a table that holds some days.
type span struct {
	partition   string
	first, last int32
	key         string
}

func (p *span) holds(day int32) bool { return day >= p.first && day <= p.last }

func (p *span) days() []int32 {
	out := make([]int32, 0, p.last-p.first+1)
	for d := p.first; d <= p.last; d++ {
		out = append(out, d)
	}
	return out
}

// spansOf gives the parts of a month: one, or one for each day.
func spansOf(m calendar.Month, byDay bool) []span {
	days := m.Days()
	if !byDay {
		return []span{{partition: fmt.Sprintf("month=%s/day=all", m), first: days[0], last: days[len(days)-1]}}
	}
	var out []span
	for i, d := range days {
		out = append(out, span{partition: fmt.Sprintf("month=%s/day=%02d", m, i+1), first: d, last: d})
	}
	return out
}

// spanOf gives the days of a part by its partition.
func spanOf(p archive.Part) (span, bool) {
	const month, day = "month=2006-01/day=all", "month=2006-01/day=02"
	if at, err := time.Parse(day, p.Partition); err == nil {
		d := calendar.DayOf(at, time.UTC)
		return span{partition: p.Partition, first: d, last: d, key: p.Key}, true
	}
	at, err := time.Parse(month, p.Partition)
	if err != nil {
		return span{}, false
	}
	out := spansOf(calendar.MonthOf(at), false)[0]
	out.key = p.Key
	return out, true
}

// partsWithin gives the parts of a table that may hold days from first to last,
// in order of time.
func partsWithin(a *archive.Archive, table string, first, last int32) []archive.Part {
	out := slices.DeleteFunc(a.Parts(table), func(p archive.Part) bool {
		s, ok := spanOf(p)
		return !ok || s.last < first || s.first > last
	})
	slices.SortFunc(out, func(a, b archive.Part) int { return cmp.Compare(a.Partition, b.Partition) })
	return out
}
