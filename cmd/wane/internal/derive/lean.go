package derive

import (
	"errors"
	"math"
	"sort"

	"wane/ingest/archive"
	"wane/transform/estimate"
	"wane/transform/fleet"
	"wane/transform/forecast"
	"wane/transform/level"
)

// lean is what a forecast needs of a life's days, and all that is kept of them
// where the days themselves are not asked for: ten thousand fixtures over five
// years are eighteen million days.
type lean struct {
	blocks []forecast.Block
	year   []burned // of the year that ends on the day asked for
	hours  float64  // run-hours now
	first  int32    // day of the record
}

// canBeLean says whether the forecast can do without levels: references and
// surveys are tied to the levels about their day, and a threshold in PPFD to
// the baseline, which rests on coefficients estimated from all days.
func canBeLean(s Site) bool {
	if s.Config.Survey.Forecast && s.Config.Survey.Reference != "" {
		return false
	}
	for i := range s.Register.Logbook {
		if s.Register.Logbook[i].What == fleet.ReferenceIs {
			return false
		}
	}
	for i := range s.Register.Fixtures {
		f := &s.Register.Fixtures[i]
		if s.Config.Threshold(f.Room, f.LampType).PPFD != 0 {
			return false
		}
	}
	for i := range s.Register.Logbook { // a fixture may be moved to another room
		if e := &s.Register.Logbook[i]; e.What == fleet.Move {
			return false
		}
	}
	return true
}

// chunk is how many fixtures are worked on at once.
const chunk = 64

// leanLives is Lives without the series, in the memory of a few fixtures and on
// all cores.
func leanLives(a *archive.Archive, s Site, asOf int32) (out []*Life, reg *fleet.Register, err error) {
	reg = s.Register.AsOf(endOf(asOf, s.Config.Location))
	fixtures := make([]*fleet.Fixture, len(reg.Fixtures))
	for i := range fixtures {
		fixtures[i] = &reg.Fixtures[i]
	}
	sort.SliceStable(fixtures, func(i, j int) bool { return fixtures[i].ID < fixtures[j].ID })
	days, err := openStream(a, asOf)
	if err != nil {
		return nil, nil, err
	}
	defer func() { err = errors.Join(err, days.close()) }()
	for from := 0; from < len(fixtures); from += chunk {
		some := fixtures[from:min(from+chunk, len(fixtures))]
		ids := make([]string, len(some))
		for i, f := range some {
			ids[i] = f.ID
		}
		rows, err := days.upTo(ids)
		if err != nil {
			return nil, nil, err
		}
		lives := make([][]*Life, len(some))
		each(len(some), func(i int) {
			lives[i] = livesOf(reg, some[i], rows[i], s, asOf)
			for _, l := range lives[i] {
				l.thin(s, asOf)
			}
		})
		for _, l := range lives {
			out = append(out, l...)
		}
	}
	return out, reg, nil
}

// thin makes the life's weeks and drops its days. No level is left that could
// be shown, so that the declared coefficients do.
func (l *Life) thin(s Site, asOf int32) {
	l.Corrected = s.Config.Corrections
	none := estimate.None("day-to-day differences", "not asked for")
	l.Supply, l.Ambient, l.EnergyH = none, none, none
	l.Base = level.BaseOf(l.Days, level.Life{LampType: l.LampType, Gear: l.Gear, RatedV: l.Fixture.RatedV}, l.Corrected, s.Config.Baseline)
	t := &lean{hours: l.HoursNow(), year: l.burnedSince(asOf - year), blocks: l.blocks()}
	if len(l.Days) > 0 {
		t.first = l.Days[0].Day
	}
	l.lean = t
	l.Totals, l.Days = nil, nil
	if b := &l.Base.Baseline; b.Known() {
		b.Centre, b.Lo, b.Hi = math.NaN(), math.NaN(), math.NaN()
	}
}
