// Package unexplained puts to a person what the fit found that nothing logged explains,
// each with the line that would answer it.
package unexplained

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"
	"time"

	"wane/transform/calendar"
	"wane/transform/fleet"
	"wane/transform/forecast"
	"wane/transform/lamp"
)

// Question asks about a step of the readings, or about an as-found gain that they
// contradict.
type Question struct {
	Fixtures []string // one, or several that stepped together
	Sensor   string   // those that read them then
	Day      int32    // to within four days
	Size     float64  // of the step, ln; 0: it is about a gain
	Likely   string
	Answer   string // what would log it
	what     string
}

// String says the question in words, with its likely answer.
func (q Question) String() string {
	return fmt.Sprintf("%s: %s? If so: %s", q.What(), q.Likely, q.Answer)
}

// What says what is not explained.
func (q Question) What() string {
	who := strings.Join(q.Fixtures, ", ")
	if len(q.Fixtures) > 4 {
		who = fmt.Sprintf("%d fixtures under %s", len(q.Fixtures), q.Sensor)
	}
	return who + " " + q.what
}

// Fleet is what a fit's numbers stand for: its lamps, and the sensors of its groups.
type Fleet struct {
	Lives   []*lamp.Life
	Sensors []string
}

// nearDays is how near a line of the logbook must be to explain a step.
const nearDays = 7

// Questions asks about what was found, the latest first.
func Questions(f *forecast.Found, of Fleet, reg *fleet.Register, loc *time.Location) []Question {
	told := notes(reg, loc)
	var out []Question
	for _, s := range f.Steps {
		s.Lamps = slices.DeleteFunc(slices.Clone(s.Made()), func(i int) bool {
			return told.near(of.Lives[i].Fixture, of.sensors(s), reg, s)
		})
		if len(s.Lamps) > 0 {
			out = append(out, of.step(s))
		}
	}
	asked := map[string]bool{}
	for _, d := range f.Doubts {
		if q := of.doubt(d); len(q.Fixtures) > 0 && !asked[q.String()] { // a sensor in two bays is of two groups
			asked[q.String()] = true
			out = append(out, q)
		}
	}
	sort.SliceStable(out, func(i, j int) bool {
		if out[i].Day != out[j].Day {
			return out[i].Day > out[j].Day
		}
		return out[i].Fixtures[0] < out[j].Fixtures[0]
	})
	return out
}

// book is the lines that tell what happened and that the fit has not weighed.
type book struct {
	lines []*fleet.Entry
	loc   *time.Location
}

func notes(reg *fleet.Register, loc *time.Location) book {
	b := book{loc: loc}
	for i := range reg.Logbook {
		switch e := &reg.Logbook[i]; e.What {
		case fleet.Note, fleet.Outage, fleet.Fail, fleet.Dim:
			if e.Scope != fleet.OfSite || e.What != fleet.Note {
				b.lines = append(b.lines, e)
			}
		}
	}
	return b
}

// near says whether a line about the fixture, or about a sensor, lies near a step.
func (b book) near(f *fleet.Fixture, sensors []string, reg *fleet.Register, s forecast.Step) bool {
	within := func(t time.Time) bool {
		d := int(calendar.DayOf(t, b.loc))
		return d >= s.Before-nearDays && d <= s.After+nearDays
	}
	for _, e := range b.lines {
		if !within(e.At) && !(e.What == fleet.Outage && within(e.Until)) {
			continue
		}
		if e.Scope == fleet.OfSensor && slices.Contains(sensors, e.ID) || e.Scope != fleet.OfSensor && reg.Covers(e, f) {
			return true
		}
	}
	return false
}

func (of Fleet) sensors(s forecast.Step) []string {
	var out []string
	for _, g := range s.Groups {
		if name := of.Sensors[g]; !slices.Contains(out, name) {
			out = append(out, name)
		}
	}
	return out
}

// step asks about a step.
func (of Fleet) step(s forecast.Step) Question {
	q := Question{Sensor: strings.Join(of.sensors(s), ", "), Day: int32(s.Before+s.After) / 2, Size: s.Size,
		Likely: s.Likely()}
	for _, i := range s.Lamps {
		q.Fixtures = append(q.Fixtures, of.Lives[i].Fixture.ID)
	}
	sort.Strings(q.Fixtures)
	q.Fixtures = slices.Compact(q.Fixtures)
	date := calendar.Date(q.Day).Format("2006-01-02")
	q.what = fmt.Sprintf("stepped by %+.1f %% (%+.1f to %+.1f) about %s and the logbook does not say why",
		100*math.Expm1(s.Size), 100*math.Expm1(s.Size-1.96*s.SD), 100*math.Expm1(s.Size+1.96*s.SD), date)
	log := func(format string, args ...any) string {
		return fmt.Sprintf("wane log "+format+" --at "+date, args...)
	}
	at := of.scope(s)
	switch {
	case s.Relamp:
		q.Likely, q.Answer = "the relamp that is logged later was done then", "date its line in register/logbook.csv "+date
	case s.Under == 1 && s.Size > forecast.NewLamp:
		q.Answer = log("relamp %s --value COHORT", at)
	case s.Under == 1 && s.Size < 0:
		q.Answer = log("note %s --note 'what happened'", at)
	case s.Sensors > 1 && s.Size < 0:
		q.Answer = log("dim %s --value PERCENT", at) + " (or: " + log("note %s --note 'what happened'", at) + ")"
	case s.Under > 1 && s.Sensors == 1:
		q.Answer = log("clean %s --value all", at) + " (or: " + log("recalibrate sensor %s", q.Sensor) + ")"
	default:
		q.Answer = log("clean %s --value all", at)
	}
	return q
}

// scope is the smallest that holds all that stepped, as `wane log` takes it.
func (of Fleet) scope(s forecast.Step) string {
	first := of.Lives[s.Lamps[0]]
	if s.Under == 1 {
		return "fixture " + first.Fixture.ID
	}
	bay, room := first.Place.Bay, first.Place.Room
	for _, i := range s.Lamps {
		if p := of.Lives[i].Place; p.Bay != bay {
			bay = ""
		}
		if of.Lives[i].Place.Room != room {
			room = ""
		}
	}
	switch {
	case bay != "":
		return "bay " + bay
	case room != "":
		return "room " + room
	}
	return "site"
}

// doubt asks about an as-found gain.
func (of Fleet) doubt(d forecast.Doubt) Question {
	sensor := of.Sensors[d.Group]
	q := Question{Sensor: sensor, Day: int32(d.Day), Likely: "is it another sensor's, or another day's",
		Answer: "correct its line in register/logbook.csv"}
	if d.UpsideDown {
		q.Likely = fmt.Sprintf("written upside down, for %.4g", 1/d.AsFound)
	}
	for _, l := range of.Lives {
		if slices.Contains(l.Light, sensor) && !slices.Contains(q.Fixtures, l.Fixture.ID) {
			q.Fixtures = append(q.Fixtures, l.Fixture.ID)
		}
	}
	sort.Strings(q.Fixtures)
	q.what = fmt.Sprintf("hang under %s, whose as-found gain %.4g of %s contradicts the readings, which say %.4g", sensor,
		d.AsFound, calendar.Date(q.Day).Format("2006-01-02"), d.Seen)
	return q
}
