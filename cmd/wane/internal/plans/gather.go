package plans

import (
	"context"
	"fmt"
	"math"
	"slices"
	"sort"
	"time"

	"wane/cmd/wane/internal/sitefolder"
	"wane/queries"
	"wane/transform/calendar"
	"wane/transform/due"
	"wane/transform/estimate"
	"wane/transform/fleet"
	"wane/transform/forecast"
	"wane/transform/lamp"
	"wane/transform/plan"
	"wane/transform/survival"
)

// Facts is what a plan is made from, and what must be said about it.
type Facts struct {
	Input    plan.Input
	Assumed  []string // what the numbers rest on beyond what the plan says itself
	LeftOut  []string // lamps that are not planned, and why
	Problems []plan.Problem
}

// gatherer collects the facts of one plan.
type gatherer struct {
	site  sitefolder.Site
	res   *due.Result
	loc   *time.Location
	end   time.Time // last moment that is used
	burn  map[string]forecast.Burn
	late  map[string][]queries.BurningRow // by fixture, the last days
	lives map[string][]*lamp.Life         // by fixture, in order
	out   Facts
}

// lateDays is how far back power and restarts are read.
const lateDays = 28

// Gather reads all that the plan rests on. Settings are the site's own or what
// a command made of them. The plan is made for the day after the last day that
// the answers use.
func Gather(ctx context.Context, db *queries.DB, s sitefolder.Site, res *due.Result, settings plan.Settings,
	seed uint64) (*Facts, error) {
	g := &gatherer{site: s, res: res, loc: s.Config.Location, late: map[string][]queries.BurningRow{},
		lives: map[string][]*lamp.Life{}}
	g.end = calendar.Start(res.AsOf+1, g.loc).Add(-time.Microsecond)
	g.burn = lamp.BurnByRoom(res.Lives, res.AsOf)
	g.out.Input = plan.Input{AsOf: calendar.Date(res.AsOf + 1), Seed: seed, Settings: settings}
	for _, l := range res.Lives {
		g.lives[l.Fixture.ID] = append(g.lives[l.Fixture.ID], l)
	}
	rows, err := queries.BurningDays(ctx, db, calendar.Date(res.AsOf-lateDays+1), calendar.Date(res.AsOf))
	if err != nil {
		return nil, err
	}
	for _, r := range rows {
		g.late[r.Fixture] = append(g.late[r.Fixture], r)
	}
	laws, err := g.laws()
	if err != nil {
		return nil, err
	}
	cycling, err := g.cycling(ctx, db)
	if err != nil {
		return nil, err
	}
	power := g.powers()
	for i := range res.Due {
		if l, ok := g.lamp(&res.Due[i]); ok {
			l.Hazard, l.Cycling = laws[res.Due[i].Life.LampType], cycling[l.Fixture]
			l.PowerW, l.RatedW = power[l.Fixture].watts, power[l.Fixture].rated
			g.out.Input.Lamps = append(g.out.Input.Lamps, l)
		}
	}
	g.rooms()
	g.unknownRooms()
	g.assumed(power)
	return &g.out, nil
}

// lamp turns one answer into a lamp of the plan; false where it is left out.
func (g *gatherer) lamp(d *due.Lamp) (plan.Lamp, bool) {
	f, an := d.Life.Fixture, &d.Answer
	leave := func(why string) (plan.Lamp, bool) {
		g.out.LeftOut = append(g.out.LeftOut, f.ID+": "+why)
		return plan.Lamp{}, false
	}
	if f.ID == g.site.Config.Survey.Reference {
		return leave("the reference fixture of the canopy survey is not relamped")
	}
	l := plan.Lamp{
		Fixture: f.ID, Life: d.Life.N, Room: d.Life.Place.Room, Bay: d.Life.Place.Bay, LampType: string(d.Life.LampType),
		Gear:   string(d.Life.Gear),
		Cohort: d.Life.Cohort, HoursNow: d.Life.HoursNow(), BurnPerDay: g.burn[d.Life.Place.Room].PerDay,
		Threshold: d.Threshold,
		Status:    string(an.Status), Reason: an.Reason, Level: an.Level,
		DirtShare: estimate.None(forecast.Method, "no share of dirt is known"),
		DeclineKh: estimate.None(forecast.Method, "no decline is known"),
	}
	if l.BurnPerDay <= 0 {
		l.BurnPerDay = g.site.Config.Rooms[l.Room].Hours
	}
	if l.BurnPerDay <= 0 {
		return leave(fmt.Sprintf("room %q burned no hours in the last year and site.yaml states none for it, so no run-hour becomes a date", l.Room))
	}
	if e := an.DueHours; e.Known() || estimate.Finite(e.Lo) {
		l.Due = plan.Due{Hours: known(e.Centre), LoHours: known(e.Lo), HiHours: known(e.Hi), Interval: d.Interval}
	}
	dirt := an.Decline.Dirt
	if an.Level.Known() && dirt.Known() {
		g.soil(&l, dirt)
	}
	if p := d.Posterior; p != nil && an.Decline.Lamp.Known() && l.HoursNow-p.FirstHours > forecast.Seasoning {
		l.DeclineKh = an.Decline.Lamp.Scale(1000 / (l.HoursNow - p.FirstHours))
	}
	if b := d.Life.Base.Baseline; b.Known() && b.Centre > 0 {
		l.PPFD = b.Centre
	}
	l.RecentFail, l.GearFault = g.failures(d.Life)
	return l, true
}

// soil puts the dirt back on the level: the due table speaks of the lamp's own
// output, the plan of the light that is there.
func (g *gatherer) soil(l *plan.Lamp, dirt estimate.Estimate) {
	own := l.Level
	if k := 1 - dirt.Centre; k > 0 {
		l.Level = own.Scale(k)
	}
	lost := 1 - l.Level.Centre
	if lost < 0.005 { // of a loss so small no share can be told
		return
	}
	share := func(x float64) float64 { return min(max(own.Centre*x/lost, 0), 1) }
	l.DirtShare = dirt
	l.DirtShare.Centre, l.DirtShare.Lo, l.DirtShare.Hi = share(dirt.Centre), share(dirt.Lo), share(dirt.Hi)
}

// recentHours is how far back failures in one fixture point to its gear.
const recentHours = 1000

// failures counts the lamps that failed in the fixture of late, and says where
// the logbook names its gear as what failed.
func (g *gatherer) failures(now *lamp.Life) (n int, fault string) {
	var regear time.Time
	for _, e := range g.res.Register.Events(now.Fixture) {
		switch {
		case e.What == fleet.Regear:
			regear, fault = e.At, ""
		case e.What == fleet.Fail && now.Dark() && namesGear(e.Value+" "+e.Note):
			fault = fmt.Sprintf("logged as failed on %s: %s", e.At.In(g.loc).Format(time.DateOnly), e.Value)
		case e.What == fleet.Relamp:
			fault = ""
		}
	}
	since := 0.0
	lives := g.lives[now.Fixture.ID]
	for i := len(lives) - 1; i >= 0; i-- {
		l := lives[i]
		if l.N > now.N || l.To.Before(regear) && !l.To.IsZero() {
			continue
		}
		if l.End == fleet.Fail && since <= recentHours {
			n++
		}
		since += l.HoursNow() - l.StartHours
	}
	return n, fault
}

// laws gives each lamp type in service its law of failure, from the lives that
// were watched.
func (g *gatherer) laws() (map[fleet.LampType]plan.Weibull, error) {
	begun := int32(math.MaxInt32)
	for _, l := range g.res.Lives {
		if day, ok := l.RecordBegins(); ok && l.LastRead > 0 {
			begun = min(begun, day)
		}
	}
	units, inService := map[fleet.LampType][]survival.Unit{}, map[fleet.LampType]bool{}
	for i := range g.res.Due {
		inService[g.res.Due[i].Life.LampType] = true
	}
	for _, l := range g.res.Lives {
		if _, ok := l.Total(); !ok || l.LastDay < begun || l.Fixture.ID == g.site.Config.Survey.Reference {
			continue // it ended before anything was read: nobody watched it
		}
		u := survival.Unit{Entry: l.StartHours, Exit: l.HoursNow(), Failed: l.End == fleet.Fail}
		if l.From.IsZero() || l.FirstDay < begun {
			u.Entry = g.hoursOn(l, begun)
		}
		if u.Exit > u.Entry {
			units[l.LampType] = append(units[l.LampType], u)
		}
	}
	out := map[fleet.LampType]plan.Weibull{}
	for _, t := range fleet.LampTypes {
		if !inService[t] {
			continue
		}
		w, words, err := plan.LifeLaw(string(t), units[t], g.res.Interval)
		if err != nil {
			return nil, err
		}
		out[t] = w
		g.out.Assumed = append(g.out.Assumed, words)
	}
	return out, nil
}

// hoursOn is a life's run-hours when the given day began.
func (g *gatherer) hoursOn(l *lamp.Life, day int32) float64 {
	l = l.WithSeries()
	i := sort.Search(len(l.Totals), func(i int) bool { return l.Totals[i].Day >= day })
	if i == len(l.Totals) {
		return l.HoursNow()
	}
	return max(l.StartHours, l.Totals[i].Hours-l.Totals[i].Burned)
}

// rooms gives each planned room the day on which most of its fixtures were last
// cleaned.
func (g *gatherer) rooms() {
	at := map[string][]time.Time{}
	for _, l := range g.out.Input.Lamps {
		var last time.Time
		for _, e := range g.res.Register.Events(g.res.Register.Fixture(l.Fixture)) {
			if e.What == fleet.Clean && e.Value != "sensor" {
				last = e.At
			}
		}
		at[l.Room] = append(at[l.Room], last)
	}
	var names []string
	for room := range at {
		names = append(names, room)
	}
	slices.Sort(names)
	for _, room := range names {
		days := at[room]
		slices.SortFunc(days, func(a, b time.Time) int { return a.Compare(b) })
		r := plan.Room{Name: room}
		if t := days[(len(days)-1)/2]; !t.IsZero() {
			r.LastCleaned = calendar.Date(calendar.DayOf(t, g.loc))
		}
		g.out.Input.Rooms = append(g.out.Input.Rooms, r)
	}
}

// unknownRooms tells of terms for rooms that hang no lamp.
func (g *gatherer) unknownRooms() {
	have := map[string]bool{}
	for _, f := range g.res.Register.Fixtures {
		have[f.Room] = true
	}
	for _, l := range g.out.Input.Lamps {
		have[l.Room] = true
	}
	var names []string
	for room := range g.out.Input.Settings.Rooms {
		if !have[room] {
			names = append(names, room)
		}
	}
	slices.Sort(names)
	for _, room := range names {
		g.out.Problems = append(g.out.Problems, plan.Problem{Path: "rooms[" + room + "]",
			What:   fmt.Sprintf("the register has no room %q, so nothing goes by these terms", room),
			Remedy: "write a room as in register/fixtures.csv"})
	}
}

func (g *gatherer) assumed(power map[string]watts) {
	say := func(s string) { g.out.Assumed = append(g.out.Assumed, s) }
	for _, l := range g.out.Input.Lamps {
		if l.PPFD > 0 {
			say("the light of a fixture at the canopy is what its own sensor read when its lamp was at 100 %")
			break
		}
	}
	for _, l := range g.out.Input.Lamps {
		if power[l.Fixture].shared > 1 {
			say("where one power meter serves several fixtures its reading is shared out by their rated watts")
			break
		}
	}
	say("rooms go on burning as they did over the last year")
}

// known is 0 for what the due table leaves open or empty.
func known(x float64) float64 {
	if !estimate.Finite(x) || x < 0 {
		return 0
	}
	return x
}
