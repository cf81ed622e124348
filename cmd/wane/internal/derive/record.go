package derive

import (
	"math"
	"slices"
	"wane/cmd/wane/internal/sitefolder"
	"wane/ingest/archive"
	"wane/transform/lamp"
)

// readRecord goes through table daily once: every lamp life as of the end of the
// day asOf. keep takes the hours of each, day by day, which are then forgotten.
func readRecord(a *archive.Archive, s sitefolder.Site, asOf int32, keep func(*lamp.Life)) (*lamp.Record, error) {
	rec := lamp.NewRecord(s.Register, s.Config.Rules(), asOf)
	columns := lifeColumns
	if rec.HasEnergy() {
		columns = append(slices.Clone(columns), "energy_first", "energy_last")
	}
	parts := partsWithin(a, TableDaily, math.MinInt32, asOf)
	err := eachFixture(a, parts, rec.Register, asOf, columns, rec.Fixture, func(share lamp.Share) {
		for _, l := range rec.Add(share) {
			keep(l)
			l.Totals = nil
		}
	})
	rec.Finish()
	return rec, err
}
