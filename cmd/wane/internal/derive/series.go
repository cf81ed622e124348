package derive

import (
	"wane/ingest/archive"
	"wane/transform/fleet"
	"wane/transform/level"
)

// holdDays is up to how many days of table daily the lives' series are all held
// at once, some hundred bytes a day. Beyond, each fixture's days are packed and
// its series made when they are asked for.
const holdDays = 2_000_000

// great says whether the site's days are too many to be held.
func (s *Site) great(a *archive.Archive) bool {
	most := s.HoldDays
	if most == 0 {
		most = holdDays
	}
	return daysIn(a) > most
}

// record is what the series of a fixture's lives are made from again.
type record struct {
	days    *packedRows
	outages []fleet.Span
	site    Site
	asOf    int32
	gains   map[string]level.Gain
}

// daysIn counts the days of table daily.
func daysIn(a *archive.Archive) int64 {
	n := int64(0)
	for _, p := range a.Parts(TableDaily) {
		n += p.Rows
	}
	return n
}

// WithSeries gives the life with its series, day by day: Totals, Days and
// Levels, which a great fleet's lives do not hold. They are the caller's to
// forget.
func (l *Life) WithSeries() *Life {
	if l.record == nil {
		return l
	}
	r := l.record
	full := lifeOf(l.Fixture, l.Life, nil, r.days.rows(l.Fixture.ID), r.outages, r.site, r.asOf)
	out := *l
	out.record, out.lean = nil, nil
	out.Totals, out.Days = full.Totals, full.Days
	out.addLevels(r.gains, r.site)
	return &out
}

// WithSeries gives all of them with their series.
func WithSeries(lives []*Life) []*Life {
	out := make([]*Life, len(lives))
	each(len(lives), func(i int) { out[i] = lives[i].WithSeries() })
	return out
}

// manyLamps is of how many fixtures of a kind the coefficients are estimated at
// most, taken evenly: their interval rests on the number of fortnights, and
// hardly on that of lamps.
const manyLamps = 500

// sample tells of which fixtures the days go into the site's own coefficients.
func sample(fixtures []*fleet.Fixture) map[*fleet.Fixture]bool {
	byGear, byType := map[fleet.Gear]int{}, map[fleet.LampType]int{}
	for _, f := range fixtures {
		byGear[f.Gear]++
		byType[f.LampType]++
	}
	every := func(n int) int { return (n + manyLamps - 1) / manyLamps }
	gear, typ := map[fleet.Gear]int{}, map[fleet.LampType]int{}
	out := map[*fleet.Fixture]bool{}
	for _, f := range fixtures {
		if gear[f.Gear]%every(byGear[f.Gear]) == 0 || typ[f.LampType]%every(byType[f.LampType]) == 0 {
			out[f] = true
		}
		gear[f.Gear]++
		typ[f.LampType]++
	}
	return out
}
