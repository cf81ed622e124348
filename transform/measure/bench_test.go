package measure_test

import (
	"testing"
	"time"

	"wane/transform/forecast"
	"wane/transform/measure"
	"wane/transform/measure/measuresim"
	"wane/transform/simfleet"
)

// many repeats an invented fleet's rooms under other names.
func many(fixtures int, never bool) *forecast.Input {
	f := simfleet.New(simfleet.Options{Seed: 77, Fixtures: 250, Days: 5 * 365, NeverRecalibrated: never})
	in := f.Input
	base, groups := len(in.Lamps), len(in.Groups)
	for k := 1; k*250 < fixtures; k++ {
		suffix := string(rune('A'+k/26)) + string(rune('a'+k%26))
		for i := 0; i < base; i++ {
			l := in.Lamps[i]
			l.Fixture, l.Room, l.Group = l.Fixture+suffix, l.Room+suffix, l.Group+k*groups
			in.Lamps = append(in.Lamps, l)
		}
		for g := range in.Groups[:groups] {
			x := in.Groups[g]
			x.ID += suffix
			in.Groups = append(in.Groups, x)
		}
	}
	return &in
}

// BenchmarkChoose10000 picks five measurements at 10,000 fixtures that are fitted and
// answered, beside fitting and answering them once, which is what each candidate would
// cost to weigh by a fit with its reading made: fits-each is that way's time over this.
func BenchmarkChoose10000(b *testing.B) {
	for _, site := range []struct {
		name  string
		never bool
	}{{"recalibrated", false}, {"never recalibrated", true}} {
		b.Run(site.name, func(b *testing.B) {
			known := many(10000, site.never)
			start := time.Now()
			in, err := measuresim.Site(known, measuresim.Settings())
			if err != nil {
				b.Fatal(err)
			}
			fit := time.Since(start)
			n := 0
			for b.Loop() {
				n = len(measure.Choose(in, measure.Limits{Count: 5}).Others)
			}
			per := b.Elapsed().Seconds() / float64(b.N)
			b.ReportMetric(float64(n), "candidates")
			b.ReportMetric(per/fit.Seconds(), "of-a-fit")
			b.ReportMetric(float64(n)*fit.Seconds()/per, "fits-each")
		})
	}
}
