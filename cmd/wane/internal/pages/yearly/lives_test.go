package yearly

import (
	"testing"
	"time"

	"wane/queries"
	"wane/transform/fleet"
	"wane/transform/yearly"
)

// The hours reckoned after the last reading of a lamp's light; none where its
// light was never read, for then the logbook's day is all there is.
func TestHoursThatNobodySawLit(t *testing.T) {
	day := func(y int, m time.Month, d int) time.Time { return time.Date(y, m, d, 0, 0, 0, 0, time.UTC) }
	day0 := int32(day(2024, 7, 1).Unix() / 86400)
	g := &gatherer{loc: time.UTC}
	g.in = yearly.Input{AsOf: day0 + 800, Record: yearly.Span{First: day0, Last: day0 + 800}}
	hours := func(h float64) (n queries.Null) { n.V, n.Valid = h, true; return n }
	for _, c := range []struct{ lit24, lit25, want float64 }{
		{2000, 2600, 400}, {1900, 0, 1100}, {0, 0, 0}, {2000, 3000, 0},
	} {
		rows := []*queries.LifeYearRow{
			{Year: 2024, FirstDay: day(2024, 7, 1), LastDay: day(2024, 12, 31), HoursFirst: hours(12), HoursLast: 2000},
			{Year: 2025, FirstDay: day(2025, 1, 1), LastDay: day(2025, 3, 24), HoursFirst: hours(2012), HoursLast: 3000}}
		for i, h := range []float64{c.lit24, c.lit25} {
			if h > 0 {
				rows[i].HoursLit = hours(h)
			}
		}
		l := g.life(&fleet.Fixture{ID: "f"}, fleet.Life{N: 1, From: day(2024, 7, 1), To: day(2025, 3, 25),
			End: fleet.Fail}, rows)
		if l.Exit != 3000 || l.Unlit != c.want {
			t.Errorf("lit until %g and %g h: exit %g, %g h of it not seen lit, want %g",
				c.lit24, c.lit25, l.Exit, l.Unlit, c.want)
		}
	}
}
