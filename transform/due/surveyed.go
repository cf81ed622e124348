package due

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"wane/transform/calendar"
	"wane/transform/forecast"
	"wane/transform/hours"
	"wane/transform/lamp"
	"wane/transform/survey/surveys"
)

// programmeSD is how well a declared daily programme tells the run-hours, as a
// share of them (common practice, no source).
const programmeSD = .05

// unknownHours: run-hours whose spread is more than this share of them tell no
// decline.
const unknownHours = .25

// surveyed fits the lamps that no logger reads and canopy surveys do; nil where
// there are none.
func (x *asked) surveyed() (*Lab, error) {
	if x.book == nil {
		return nil, nil
	}
	before := len(x.fleet.Notes)
	in, of := x.surveyInput()
	if len(of) == 0 {
		return nil, nil
	}
	fit, err := forecast.FitSurveys(in)
	if err != nil {
		return nil, fmt.Errorf("forecast from surveys: %w", err)
	}
	l := &Lab{Book: x.book, in: in, fit: fit, posts: fit.Posteriors(), of: of, interval: x.q.Interval,
		left: slices.Clone(x.fleet.Notes[before:])}
	alone := map[string]bool{}
	for _, k := range of {
		l.lives = append(l.lives, x.fleet.Lives[k])
		alone[x.fleet.Lives[k].Fixture.ID] = true
	}
	for k, life := range x.fleet.Lives {
		id := life.Fixture.ID
		if !alone[id] && life.InService() && len(x.fleet.Input.Lamps[k].Bins) > 0 && len(x.book.Of(id)) > 0 {
			l.left = append(l.left, fmt.Sprintf("%s is read by a logger, which dates it; `wane survey compare %s` says what its surveys say", id, id))
		}
	}
	return l, nil
}

// posteriors are those of the lamps in service, by their place in the fleet.
func (l *Lab) posteriors() []forecast.Posterior {
	if l == nil {
		return nil
	}
	out := slices.Clone(l.posts)
	for i := range out {
		out[i].Lamp = l.of[out[i].Lamp]
	}
	return out
}

// surveyInput gathers the lamps that surveys alone read, and each one's place in
// the fleet.
func (x *asked) surveyInput() (in *forecast.SurveyInput, of []int) {
	loc, book := x.rules.Location, x.book
	in = &forecast.SurveyInput{AsOf: int(x.q.AsOf), Defaults: x.fleet.Input.Defaults, Checks: checksOf(book)}
	sd := book.VisitSD()
	for v, o := range book.Visits {
		in.Visits = append(in.Visits, forecast.RigVisit{Day: int(calendar.DayOf(o.From, loc)), SD: sd[v]})
	}
	noted := map[string]bool{}
	for k, l := range x.fleet.Lives {
		if len(x.fleet.Input.Lamps[k].Bins) > 0 || l.Fixture.ID == book.Reference {
			continue
		}
		lamps, left := book.Sightings(l.Fixture.ID)
		if !noted[l.Fixture.ID] {
			noted[l.Fixture.ID] = true
			x.fleet.Notes = append(x.fleet.Notes, left...)
		}
		seen := forecast.SurveyedLamp{Lamp: x.fleet.Input.Lamps[k]}
		for _, of := range lamps {
			if day := calendar.DayOf(of[0].At, loc); day >= l.FirstDay && day <= l.LastDay {
				x.sightings(&seen, l, of)
			}
		}
		if len(seen.Surveys) > 0 {
			seen.Group = 0
			in.Lamps, of = append(in.Lamps, seen), append(of, k)
		}
	}
	return in, of
}

// checksOf gives the surveys of the reference fixture.
func checksOf(b *surveys.Book) (out []forecast.RigCheck) {
	if b.Reference == "" {
		return nil
	}
	lamps, _ := b.Sightings(b.Reference)
	for n, of := range lamps {
		for _, r := range of {
			out = append(out, forecast.RigCheck{Visit: r.Visit, Fixture: fmt.Sprintf("%s %d", b.Reference, n+1),
				Ln: r.Ln, SD: r.SD})
		}
	}
	return out
}

// sightings adds the surveys of a life at the run-hours that it had.
func (x *asked) sightings(to *forecast.SurveyedLamp, l *lamp.Life, of []surveys.Sighting) {
	loc := x.rules.Location
	l = l.WithSeries()
	reference := 0.0
	for _, o := range of {
		t, ok := l.TotalOn(calendar.DayOf(o.At, loc))
		sd := hoursSD(t, l.Habit(x.rules))
		if !ok || sd > max(unknownHours*t.Hours, forecast.Seasoning) {
			x.fleet.Notes = append(x.fleet.Notes, fmt.Sprintf("survey %s of %s: the lamp's run-hours on that day are not known; log what its meter or diary shows (`wane log run_hours fixture %s --value HOURS`), or give its room's hours a day in site.yaml",
				o.Survey, l.Fixture.ID, l.Fixture.ID))
			continue
		}
		g := forecast.Sighting{Survey: o.Survey, Visit: o.Visit, Hours: t.Hours, HoursSD: sd, Ln: o.Ln, SD: o.SD}
		if o.SupplyV > 0 {
			if reference == 0 {
				if reference = o.SupplyV; l.Fixture.RatedV > 0 {
					reference = l.Fixture.RatedV
				}
			}
			g.Supply, g.HasSupply = math.Log(o.SupplyV/reference), true
		}
		to.Surveys = append(to.Surveys, g)
	}
	sort.SliceStable(to.Surveys, func(i, j int) bool { return to.Surveys[i].Hours < to.Surveys[j].Hours })
}

// hoursSD is how well run-hours are known: what a meter's evidence leaves open, or
// what a declared programme does.
func hoursSD(t hours.Total, habit hours.Habit) float64 {
	open := (t.Hi - t.Lo) / 4 // nearly all of it lies within
	if habit >= 0 {
		return min(open, programmeSD*t.Hours)
	}
	return open
}
