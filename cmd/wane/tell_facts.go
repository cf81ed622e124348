package main

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"wane/cmd/wane/internal/batch"
	"wane/cmd/wane/internal/tell"
	"wane/ingest/archive"
	"wane/ingest/collect"
	"wane/ingest/problem"
	"wane/ingest/site"
	"wane/queries"
	"wane/transform/calendar"
	"wane/transform/due"
	"wane/transform/estimate"
	"wane/transform/fleet"
	"wane/transform/forecast"
	"wane/transform/lamp"
)

// factsOf gathers what a night found, for those who are told.
func factsOf(ctx context.Context, folder site.Folder, out *batch.Outcome, now time.Time) (tell.Facts, error) {
	o, err := loadSite(string(folder))
	if err != nil {
		return tell.Facts{}, err
	}
	r := out.Result
	f := tell.Facts{
		AsOf: day(r.AsOf), Lamps: map[string]tell.Lamp{},
		Known: []tell.Kind{tell.Bay, tell.Silent, tell.Dark, tell.Under, tell.Unsettled, tell.Suspect},
	}
	for i := range r.Due {
		d := &r.Due[i]
		id := d.Life.Fixture.ID
		if l, ok := lampOf(d.Answer.DueDay); ok {
			f.Lamps[id] = l
		}
		if x, ok := lampFact(d); ok {
			f.List = append(f.List, x)
		}
	}
	f.List = append(f.List, silentFacts(r)...)
	for i := range out.Suspects {
		s := &out.Suspects[i]
		from, _ := s.Dates(o.Config.Location)
		f.List = append(f.List, tell.Fact{
			Key: fmt.Sprintf("%s %s %s", tell.Suspect, s.Name(), s.Kind), Kind: tell.Suspect, Where: s.Name(),
			What: fmt.Sprintf("%s since %s (%s): %s", s.Kind, from, s.Sure, s.What), Do: s.Do,
		})
	}
	if out.Pages != "" { // steps are looked for with the pages
		f.Known = append(f.Known, tell.Step)
		f.List = append(f.List, stepFacts(r)...)
	}
	if out.Imported != nil {
		f.Known = append(f.Known, tell.Files)
		for _, what := range out.Imported.NeedsPerson() {
			f.List = append(f.List, tell.Fact{Key: string(tell.Files) + " " + what, Kind: tell.Files, Where: "files",
				What: what})
		}
	}
	err = o.ask(ctx, func(_ *archive.Archive, db *queries.DB) error {
		last := min(r.AsOf, calendar.DayOf(now, o.Config.Location)-1)
		bays, err := darkBays(ctx, db, r, last)
		f.List = append(bays, f.List...)
		return err
	})
	return f, err
}

// lampOf is a due date as it is told; ok is false where there is none.
func lampOf(e estimate.Estimate) (l tell.Lamp, ok bool) {
	text := func(v float64) string {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return ""
		}
		return day(int32(v))
	}
	l = tell.Lamp{Due: text(e.Centre), Lo: text(e.Lo), Hi: text(e.Hi)}
	return l, l.Due != ""
}

// lampFact is what a lamp's status asks of a person.
func lampFact(d *due.Lamp) (tell.Fact, bool) {
	x := tell.Fact{Where: place(d.Life)}
	switch d.Answer.Status {
	case forecast.StatusDark:
		x.Kind, x.What = tell.Dark, "dark and not replaced"
		x.Do = "replace the lamp, and log it: wane log relamp fixture " + d.Life.Fixture.ID + " --value COHORT"
	case forecast.StatusUnder:
		x.Kind, x.What = tell.Under, "under its threshold"
		x.Do = "replace the lamp at the next visit; the plan says when"
	case forecast.StatusInseparable:
		x.Kind, x.What, x.Do = tell.Unsettled, "its ageing cannot be told from "+string(d.Answer.Rival), d.Answer.Identity.Settle
	default:
		return x, false
	}
	x.Key = string(x.Kind) + " " + d.Life.Fixture.ID
	return x, true
}

func place(l *lamp.Life) string {
	return fmt.Sprintf("%s (bay %s)", l.Fixture.ID, l.Place.Bay)
}

// silentFacts gives the loggers that have gone silent, each once.
func silentFacts(r *due.Result) []tell.Fact {
	type silence struct {
		days int
		who  []string
	}
	by := map[string]*silence{}
	for i := range r.Due {
		l := r.Due[i].Life
		if n := l.Silent(r.AsOf); n > 0 {
			s := by[l.SensorLast]
			if s == nil {
				s = &silence{}
				by[l.SensorLast] = s
			}
			s.days, s.who = max(s.days, n), append(s.who, l.Fixture.ID)
		}
	}
	var out []tell.Fact
	for _, id := range sortedKeys(by) {
		out = append(out, tell.Fact{
			Key: string(tell.Silent) + " " + id, Kind: tell.Silent, Where: "sensor " + id, Alarm: true,
			What: fmt.Sprintf("nothing read for %d days; it watches %s", by[id].days, problem.Few(by[id].who, 8)),
			Do:   "look at its power, its wiring and whether its files arrive",
		})
	}
	return out
}

// newsDays is how old a step may be that is told at once.
const newsDays = 14

// stepFacts gives the steps that the logbook does not explain; light that stepped
// down of late cannot wait.
func stepFacts(r *due.Result) []tell.Fact {
	var out []tell.Fact
	for _, q := range r.Questions {
		out = append(out, tell.Fact{
			Key: fmt.Sprintf("%s %s %s", tell.Step, strings.Join(q.Fixtures, " "), day(q.Day)), Kind: tell.Step,
			Where: problem.Few(q.Fixtures, 4), What: strings.TrimPrefix(q.String(), problem.Few(q.Fixtures, 4)+" "),
			Alarm: q.Size < 0 && r.AsOf-q.Day <= newsDays,
		})
	}
	return out
}

// The rule of a dark bay.
const (
	pastDays  = 7   // before the day
	burnedH   = 0.5 // h a day that a fixture burned in them, to be missed
	mostGapH  = 12  // h without readings, above which a day tells nothing
	leastDays = 3   // of the past that were read
)

// darkBays gives the bays of which every fixture that is read burned in the week
// before and not at all on its last day, which is the site's last or the one before. What the logbook says was off
// is left out.
func darkBays(ctx context.Context, db *queries.DB, r *due.Result, last int32) ([]tell.Fact, error) {
	rows, err := queries.BurningDays(ctx, db, calendar.Date(last-pastDays), calendar.Date(last))
	if err != nil {
		return nil, err
	}
	type record struct {
		burned, days float64 // before the latest day that was read
		latest       *queries.BurningRow
	}
	by := map[string]*record{}
	for i, x := range rows { // by day
		if x.GapH > mostGapH {
			continue
		}
		s := by[x.Fixture]
		if s == nil {
			s = &record{}
			by[x.Fixture] = s
		}
		if s.latest != nil {
			s.days++
			s.burned += s.latest.BurnedH
		}
		s.latest = &rows[i]
	}
	yesterday := calendar.Date(last - 1) // the last day may hold its first hour alone
	lit, dark := map[string]int{}, map[string][]string{}
	for i := range r.Due {
		l := r.Due[i].Life
		s := by[l.Fixture.ID]
		if s == nil || s.latest.Day.Before(yesterday) || s.days < leastDays || s.burned/s.days < burnedH {
			continue
		}
		key := l.Place.Room + "/" + l.Place.Bay
		if s.latest.BurnedH == 0 && !off(r.Register, l, s.latest.Day) {
			dark[key] = append(dark[key], l.Fixture.ID)
		} else {
			lit[key]++
		}
	}
	var out []tell.Fact
	for _, key := range sortedKeys(dark) {
		if lit[key] > 0 {
			continue
		}
		room, bay, _ := strings.Cut(key, "/")
		out = append(out, tell.Fact{
			Key: string(tell.Bay) + " " + key, Kind: tell.Bay, Where: fmt.Sprintf("bay %s, room %s", bay, room), Alarm: true,
			What: fmt.Sprintf("no light at all on its last day, %s, after a week in which all burned: %s",
				by[dark[key][0]].latest.Day.Format(time.DateOnly), problem.Few(dark[key], 8)),
			Do: "look at the circuit's breaker, timer and contactor; if it was meant to be off, log it: " +
				"wane log outage bay " + bay + " --value UNTIL",
		})
	}
	return out, nil
}

// off says whether the logbook has the fixture without power on a day.
func off(reg *fleet.Register, l *lamp.Life, at time.Time) bool {
	return slices.ContainsFunc(reg.Events(l.Fixture), func(e fleet.Entry) bool {
		return e.What == fleet.Outage && !e.At.After(at.AddDate(0, 0, 1)) && !e.Until.Before(at)
	})
}

// silentSource is for how long nothing may come from a source before it is told.
const silentSource = time.Hour

// sourceFacts gives the sources from which nothing is collected.
func sourceFacts(folder site.Folder, now time.Time) (tell.Facts, error) {
	f := tell.Facts{Known: []tell.Kind{tell.Source}}
	states, err := sourceStates(folder)
	if err != nil {
		return f, err
	}
	for _, s := range states {
		g := s.Open()
		if g == nil || now.Sub(g.From) < silentSource {
			continue
		}
		f.List = append(f.List, tell.Fact{
			Key: string(tell.Source) + " " + s.Source, Kind: tell.Source, Where: "source " + s.Source, Alarm: true,
			What: fmt.Sprintf("nothing comes since %s: %s", g.From.UTC().Format(time.RFC3339), cmp.Or(s.Error, g.Why)),
			Do:   "try it: wane collect " + s.Source + " --try",
		})
	}
	return f, nil
}

// sourceStates is what became of each source that is described now, by name.
func sourceStates(folder site.Folder) ([]collect.Status, error) {
	described, err := collected(folder)
	if err != nil {
		return nil, err
	}
	kept, err := collect.ReadStatus(string(folder))
	if err != nil {
		return nil, err
	}
	var out []collect.Status
	for _, d := range described {
		s := collect.Status{Source: d.Name, Kind: d.Collect.Kind()}
		if i := slices.IndexFunc(kept, func(k collect.Status) bool { return k.Source == d.Name }); i >= 0 {
			s = kept[i]
		}
		out = append(out, s)
	}
	return out, nil
}
