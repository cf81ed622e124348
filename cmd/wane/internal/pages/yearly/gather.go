package yearly

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"time"

	"wane/cmd/wane/internal/derive"
	"wane/cmd/wane/internal/sitefolder"
	"wane/ingest/archive"
	"wane/queries"
	"wane/transform/calendar"
	"wane/transform/fleet"
	"wane/transform/plan"
	"wane/transform/yearly"
)

// confidence is that of the limits of what is measured; forecasts and
// predictions have the site's own interval.
const confidence = 0.95

// gatherer collects the facts of a year.
type gatherer struct {
	ctx  context.Context
	a    *archive.Archive
	db   *queries.DB
	site sitefolder.Site
	loc  *time.Location

	in       yearly.Input
	reg      *fleet.Register  // as of the report's date
	fixtures []*fleet.Fixture // by name
	use      map[string]*queries.YearUseRow
	terms    map[lifeKey]*yearly.Terms
}

type lifeKey struct {
	fixture string
	n       int
}

// gather reads all that the year's summary is made from. Without forecasts the
// parts that need them say so.
func gather(ctx context.Context, a *archive.Archive, db *queries.DB, s sitefolder.Site, year int,
	forecasts bool) (*gatherer, error) {
	g := &gatherer{ctx: ctx, a: a, db: db, site: s, loc: s.Config.Location, terms: map[lifeKey]*yearly.Terms{}}
	g.in = yearly.Input{Year: year, First: dayOf(year, 1, 1), Last: dayOf(year, 12, 31), Level: confidence,
		Interval: s.Config.Interval,
		Record:   yearly.Span{First: 0, Last: -1}}
	for _, step := range []func() error{g.span, g.fixturesOfYear, g.lives, g.weeks, g.lightPerWatt} {
		if err := step(); err != nil {
			return nil, err
		}
	}
	g.sensors()
	g.in.Prices = prices(&s.Config.Plan)
	if forecasts {
		if err := g.forecasts(); err != nil {
			return nil, err
		}
	}
	return g, nil
}

func dayOf(year int, m time.Month, d int) int32 {
	return calendar.DayOf(time.Date(year, m, d, 12, 0, 0, 0, time.UTC), time.UTC)
}

// span finds the record and the report's date.
func (g *gatherer) span() error {
	rows, err := queries.RecordSpan(g.ctx, g.db, calendar.Date(g.in.Last))
	if err != nil {
		return err
	}
	for _, r := range rows {
		g.in.Record = yearly.Span{First: calendar.DayOf(r.First, time.UTC), Last: calendar.DayOf(r.Last, time.UTC)}
	}
	g.in.AsOf = g.in.Last
	if last, any := derive.LastDay(g.a, g.site); any && last >= g.in.First {
		g.in.AsOf, g.in.Known = min(g.in.Last, last), last
	}
	g.reg = g.site.Register.AsOf(g.end())
	for i := range g.reg.Fixtures {
		g.fixtures = append(g.fixtures, &g.reg.Fixtures[i])
	}
	slices.SortFunc(g.fixtures, func(a, b *fleet.Fixture) int { return cmp.Compare(a.ID, b.ID) })
	return nil
}

// end is the last moment that the report speaks of.
func (g *gatherer) end() time.Time {
	return calendar.Start(g.in.AsOf+1, g.loc).Add(-time.Microsecond)
}

// inYear is the days of the year up to the report's date.
func (g *gatherer) inYear(day int32) bool { return day >= g.in.First && day <= g.in.AsOf }

// fixturesOfYear gathers each fixture's year.
func (g *gatherer) fixturesOfYear() error {
	rows, err := queries.YearUse(g.ctx, g.db, calendar.Date(g.in.First), calendar.Date(g.in.AsOf))
	if err != nil {
		return err
	}
	g.use = map[string]*queries.YearUseRow{}
	for i := range rows {
		g.use[rows[i].Fixture] = &rows[i]
	}
	start := calendar.Start(g.in.First, g.loc)
	for _, f := range g.fixtures {
		events := g.reg.Events(f)
		last, first := g.reg.PlaceAt(f, g.end()), g.reg.PlaceAt(f, start.Add(-time.Microsecond))
		out := yearly.Fixture{
			ID: f.ID, Model: f.Model, LampType: f.LampType, Gear: f.Gear, RatedW: f.RatedW, RoomFirst: first.Room,
			RoomLast:  last.Room,
			HungFirst: hung(f, events, start.Add(-time.Microsecond)), HungLast: hung(f, events, g.end()),
			Output: math.NaN(), Energy: yearly.Energy{KWh: math.NaN()}, LightPerWatt: [2]float64{math.NaN(), math.NaN()},
		}
		out.Added = !f.Installed.IsZero() && g.inYear(calendar.DayOf(f.Installed, g.loc))
		for _, e := range events {
			if !g.inYear(calendar.DayOf(e.At, g.loc)) {
				continue
			}
			switch {
			case e.What == fleet.Move && e.Scope == fleet.OfFixture:
				out.Moves++
			case e.What == fleet.Retire:
				out.Removed = true
			case e.What == fleet.Install && e.Scope == fleet.OfFixture && !out.HungFirst:
				out.Added = true
			}
		}
		for _, e := range events {
			if e.What == fleet.Regear {
				g.in.Gear = append(g.in.Gear, yearly.GearChange{Fixture: f.ID, Day: calendar.DayOf(e.At, g.loc)})
			}
		}
		g.used(&out, f)
		g.in.Fixtures = append(g.in.Fixtures, out)
	}
	return nil
}

// used adds what the roll-up says: starts, light, and energy with its meter.
func (g *gatherer) used(out *yearly.Fixture, f *fleet.Fixture) {
	u := g.use[f.ID]
	if u == nil {
		return
	}
	out.Starts = u.Starts
	if u.PPFD.Valid {
		out.Output = u.PPFD.V
	}
	for _, m := range []struct {
		q     fleet.Quantity
		days  int64
		kwh   queries.Null
		basis string
	}{{fleet.Energy, u.EnergyDays, u.EnergyKWh, "counter"},
		{fleet.PowerW, u.PowerDays, u.PowerKWh, "power times lamp-on time"}} {
		if p := g.reg.Watch(f, m.q, g.end()); p != nil && m.days > 0 && m.kwh.Valid {
			out.Energy = yearly.Energy{KWh: m.kwh.V, Meter: p.Sensor + "/" + p.Channel, Basis: m.basis}
			return
		}
	}
}

// hung says whether the fixture hangs at t.
func hung(f *fleet.Fixture, events []fleet.Entry, t time.Time) bool {
	from := f.Installed
	up := !from.After(t)
	for _, e := range events {
		if from.IsZero() && e.What == fleet.Install && e.Scope == fleet.OfFixture {
			from = e.At
			up = !from.After(t)
		}
		if e.At.After(t) || e.At.Before(from) {
			continue
		}
		switch e.What {
		case fleet.Retire:
			up = false
		case fleet.Install, fleet.Relamp:
			up = true
		}
	}
	return up
}

// lightPerWatt reads light and power at both ends of the year.
func (g *gatherer) lightPerWatt() error {
	const window = 28
	at := map[string]int{}
	for i := range g.in.Fixtures {
		at[g.in.Fixtures[i].ID] = i
	}
	for end, days := range [2][2]int32{{g.in.First, g.in.First + window - 1}, {g.in.AsOf - window + 1, g.in.AsOf}} {
		rows, err := queries.LightPerPower(g.ctx, g.db, calendar.Date(days[0]), calendar.Date(days[1]))
		if err != nil {
			return err
		}
		for _, r := range rows {
			if i, ok := at[r.Fixture]; ok && r.Days >= window/4 {
				g.in.Fixtures[i].LightPerWatt[end] = r.PPFDPerWatt
			}
		}
	}
	return nil
}

// weeks reads the weekly levels of every life.
func (g *gatherer) weeks() error {
	at := map[lifeKey]*yearly.Life{}
	for i := range g.in.Lives {
		at[lifeKey{g.in.Lives[i].Fixture, g.in.Lives[i].N}] = &g.in.Lives[i]
	}
	var last lifeKey
	var life *yearly.Life
	err := queries.LifeWeeks(g.ctx, g.db, calendar.Date(g.in.AsOf), func(r *queries.LifeWeekRow) {
		if k := (lifeKey{r.Fixture, int(r.LampLife)}); k != last {
			last, life = k, at[k]
		}
		if life != nil {
			life.Weeks = append(life.Weeks, yearly.Week{Week: int32(r.Week), Hours: r.RunHours, Level: r.Level})
		}
	})
	if err != nil {
		return fmt.Errorf("weekly levels: %w", err)
	}
	return nil
}

// prices gives what the plan's settings state of each lamp type, its own terms
// before the site's.
func prices(p *plan.Settings) map[fleet.LampType]yearly.Prices {
	out := map[fleet.LampType]yearly.Prices{}
	for _, t := range fleet.LampTypes {
		pick := func(of func(plan.Terms) *float64) float64 {
			for _, terms := range []plan.Terms{p.LampTypes[string(t)], p.Site} {
				if v := of(terms); v != nil && *v >= 0 && !math.IsInf(*v, 0) {
					return *v
				}
			}
			return math.NaN()
		}
		out[t] = yearly.Prices{
			Currency: p.Currency,
			Lamp:     pick(func(t plan.Terms) *float64 { return t.LampPrice }),
			Minutes:  pick(func(t plan.Terms) *float64 { return t.LabourSpotMin }),
			Wage:     pick(func(t plan.Terms) *float64 { return t.WagePerHour }),
			Disposal: pick(func(t plan.Terms) *float64 { return t.DisposalPerLamp }),
		}
	}
	return out
}
