package derive

import (
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
	burned []monthBurn
	hours  float64 // run-hours now
	first  int32   // day of the record
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
	for _, th := range s.Config.Thresholds.Rooms {
		if th.PPFD != 0 {
			return false
		}
	}
	return true
}

// leanLives is Lives without the series, in the memory of a few fixtures.
func leanLives(a *archive.Archive, s Site, asOf int32) ([]*Life, *fleet.Register, error) {
	reg := s.Register.AsOf(endOf(asOf, s.Config.Location))
	var out []*Life
	err := eachFixture(a, reg, asOf, lifeColumns, func(f *fleet.Fixture, rows []DailyRow) []*Life {
		lives := livesOf(reg, f, rows, s, asOf)
		for _, l := range lives {
			l.thin(s, asOf)
		}
		return lives
	}, func(lives []*Life) { out = append(out, lives...) })
	return out, reg, err
}

// thin makes the life's weeks and drops its days. No level is left, and of the
// baseline only its warnings are used, so that the declared coefficients do.
func (l *Life) thin(s Site, asOf int32) {
	l.Corrected = s.Config.Corrections
	none := estimate.None("day-to-day differences", "not asked for")
	l.Supply, l.Ambient, l.EnergyH = none, none, none
	l.Base = level.BaseOf(l.Days, level.Life{LampType: l.LampType, Gear: l.Gear, RatedV: l.Fixture.RatedV}, l.Corrected, s.Config.Baseline)
	t := &lean{hours: l.HoursNow(), burned: addBurn(nil, l.Totals, habitFrom(asOf)), blocks: l.blocks()}
	if len(l.Days) > 0 {
		t.first = l.Days[0].Day
	}
	l.lean = t
	l.Totals, l.Days = nil, nil
}
