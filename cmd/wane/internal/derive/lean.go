package derive

import (
	"crypto/sha256"
	"slices"

	"wane/ingest/archive"
	"wane/transform/estimate"
	"wane/transform/fleet"
	"wane/transform/forecast"
	"wane/transform/hours"
)

// lean is what a forecast needs of a life's days, and all that is kept of them
// where the days themselves are not asked for: ten thousand fixtures over five
// years are eighteen million days.
type lean struct {
	before [sha256.Size]byte // forecast.Chain of the settled weeks, until addWeeks
	blocks []forecast.Block
	burned []monthBurn
	total  hours.Total // at the last day,
	days   bool        // where there is one
	first  int32       // day of the record
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

// leanLives is Lives without the series, in the memory of a few fixtures, from
// what is settled and the days since; ok is false where that does not stand
// before those days.
func leanLives(a *archive.Archive, s Site, asOf int32, past *settled) (out []*Life, reg *fleet.Register, ok bool, err error) {
	reg = s.Register.AsOf(endOf(asOf, s.Config.Location))
	ok = true
	err = eachFixture(a, past.parts(a, monthOf(Date(asOf))), reg, asOf, lifeColumns, func(f *fleet.Fixture, rows []DailyRow) []*Life {
		lives := livesOf(reg, f, past.of(f), rows, s, asOf)
		for _, l := range lives {
			l.thin(s, asOf)
		}
		return lives
	}, func(lives []*Life) {
		for _, l := range lives {
			ok = ok && !l.stale
		}
		out = append(out, lives...)
	})
	return out, reg, ok, err
}

// thin drops the life's days. No level is left, and of the
// baseline only its warnings are used, so that the declared coefficients do.
func (l *Life) thin(s Site, asOf int32) {
	l.Corrected = s.Config.Corrections
	none := estimate.None("day-to-day differences", "not asked for")
	l.Supply, l.Ambient, l.EnergyH = none, none, none
	l.drop(s, asOf)
}

// drop makes the life's weeks and drops its days.
func (l *Life) drop(s Site, asOf int32) {
	l.Base = l.baseline(l.Days, s)
	t := &lean{blocks: l.openWeeks()}
	t.total, t.days = l.Total()
	if len(l.Days) > 0 {
		t.first = l.Days[0].Day
	}
	if l.past != nil {
		t.burned = addBurn(slices.Clone(l.past.Burned), l.Totals[1:], habitFrom(asOf))
		t.before = l.past.chain()
		if l.past.First != 0 {
			t.first = l.past.First
		}
	} else {
		t.burned = addBurn(nil, l.Totals, habitFrom(asOf))
	}
	l.lean = t
	l.Totals, l.Days = nil, nil
}

// addWeeks puts the settled weeks before those at hand.
func addWeeks(lives []*Life, of *weeks) {
	for _, l := range lives {
		if settled := of.of(l.Fixture.ID, l.N); len(settled) > 0 {
			l.lean.blocks = append(settled[:len(settled):len(settled)], l.lean.blocks...)
		}
		l.lean.before = [sha256.Size]byte{}
	}
}
