// Package unexplained puts steps of the levels that the logbook does not explain
// to a person, with the line that would answer each.
package unexplained

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"sort"
	"strings"
	"time"

	"wane/transform/calendar"
	"wane/transform/changepoint"
	"wane/transform/fleet"
	"wane/transform/lamp"
	"wane/transform/parallel"
)

// Step is a step in the levels that the logbook does not explain. It is put
// to a person with the line that would answer it, and changes no number.
type Step struct {
	Fixtures []string // one, or several under one sensor that stepped together
	Sensor   string
	Before   int32 // the last day before the step
	After    int32 // the first day after it
	Size     float64
	Lo, Hi   float64 // of the size, ln, 95 %
	Likely   string
	Answer   string // the command that would log it
}

// String says the question in words, with its likely answer.
func (q Step) String() string {
	return fmt.Sprintf("%s: %s? If so: %s", q.What(), q.Likely, q.Answer)
}

// What says what is not explained.
func (q Step) What() string {
	who := strings.Join(q.Fixtures, ", ")
	if len(q.Fixtures) > 4 {
		who = fmt.Sprintf("%d fixtures under %s", len(q.Fixtures), q.Sensor)
	}
	return fmt.Sprintf("%s stepped by %+.1f %% (%+.1f to %+.1f) on %s and the logbook does not say why",
		who, 100*math.Expm1(q.Size), 100*math.Expm1(q.Lo), 100*math.Expm1(q.Hi), calendar.Date(q.After).Format("2006-01-02"))
}

// nearDays is how near a logbook line must be to explain a step.
const nearDays = 7

// togetherDays is how far apart the steps of fixtures under one sensor may be
// to count as one event.
const togetherDays = 3

// found is one lamp's step, and the sensor that read it then.
type found struct {
	life   *lamp.Life
	step   changepoint.Step
	sensor string
}

// Steps finds the unexplained steps of the lives, the latest first.
func Steps(lives []*lamp.Life, reg *fleet.Register, loc *time.Location) []Step {
	perLife := make([][]found, len(lives))
	parallel.For(len(lives), func(i int) {
		l := lives[i].WithSeries()
		days, y := make([]int32, 0, len(l.Levels)), make([]float64, 0, len(l.Levels))
		for _, v := range l.Levels {
			days, y = append(days, v.Day), append(y, math.Log(v.Output))
		}
		for _, step := range changepoint.Steps(days, y, changepoint.Settings{}) {
			sensor := sensorOn(l, reg, step.After, loc)
			if !near(explained(l, sensor, reg, loc), step) {
				perLife[i] = append(perLife[i], found{lives[i], step, sensor})
			}
		}
	})
	bySensor := map[string][]found{}
	under := map[string]int{}
	for i, l := range lives {
		for _, sensor := range l.Light {
			if l.Latest {
				under[sensor]++
			}
		}
		for _, f := range perLife[i] {
			bySensor[f.sensor] = append(bySensor[f.sensor], f)
		}
	}
	var out []Step
	var shared [][]found
	for _, sensor := range slices.Sorted(maps.Keys(bySensor)) {
		list := bySensor[sensor]
		sort.SliceStable(list, func(i, j int) bool { return list[i].step.After < list[j].step.After })
		for len(list) > 0 {
			n := 1
			for n < len(list) && list[n].step.After-list[0].step.After <= togetherDays {
				n++
			}
			if n >= 2 && 2*n >= under[sensor] {
				shared = append(shared, list[:n])
			} else {
				for _, f := range list[:n] {
					out = append(out, alone(f))
				}
			}
			list = list[n:]
		}
	}
	for _, of := range acrossSensors(shared) {
		out = append(out, together(of))
	}
	sort.SliceStable(out, func(i, j int) bool {
		if out[i].After != out[j].After {
			return out[i].After > out[j].After
		}
		return out[i].Fixtures[0] < out[j].Fixtures[0]
	})
	return out
}

// acrossSensors makes one event of those under several sensors on the same days.
func acrossSensors(events [][]found) [][]found {
	sort.SliceStable(events, func(i, j int) bool { return events[i][0].step.After < events[j][0].step.After })
	var out [][]found
	for _, e := range events {
		k := len(out) - 1
		if k >= 0 && e[0].step.After-out[k][0].step.After <= togetherDays && e[0].step.Size*out[k][0].step.Size > 0 {
			out[k] = append(slices.Clone(out[k]), e...)
			continue
		}
		out = append(out, e)
	}
	return out
}

// sensorOn gives the sensor that read the life's light on a day.
func sensorOn(l *lamp.Life, reg *fleet.Register, day int32, loc *time.Location) string {
	if w := reg.Watch(l.Fixture, fleet.PPFD, calendar.Start(day, loc).Add(12*time.Hour)); w != nil {
		return w.Sensor
	}
	return l.SensorLast
}

// explained gives the days of logbook lines that could explain a step of the
// life under a sensor: any line about its fixture or the sensor, a note included, and
// what was done to the whole site.
func explained(l *lamp.Life, sensor string, reg *fleet.Register, loc *time.Location) []int32 {
	var out []int32
	for i := range reg.Logbook {
		e := &reg.Logbook[i]
		if e.Scope == fleet.OfSensor && e.ID != sensor || e.Scope == fleet.OfSite && e.What == fleet.Note ||
			e.Scope != fleet.OfSensor && !reg.Covers(e, l.Fixture) {
			continue
		}
		out = append(out, calendar.DayOf(e.At, loc))
		if e.What == fleet.Outage {
			out = append(out, calendar.DayOf(e.Until, loc))
		}
	}
	for _, p := range reg.Sensors { // another instrument, another factor
		if !p.From.IsZero() && p.Sensor == sensor {
			out = append(out, calendar.DayOf(p.From, loc))
		}
	}
	return out
}

func near(days []int32, s changepoint.Step) bool {
	for _, d := range days {
		if d >= s.Before-nearDays && d <= s.After+nearDays {
			return true
		}
	}
	return false
}

func alone(f found) Step {
	l, s := f.life, f.step
	q := question([]string{l.Fixture.ID}, f.sensor, s.Before, s.After, s.Size, s.SE)
	date := calendar.Date(s.After).Format("2006-01-02")
	log := func(rest string) string { return fmt.Sprintf("wane log %s --at %s", rest, date) }
	switch {
	case s.Size > 0.04:
		q.Likely, q.Answer = "a new lamp", log("relamp fixture "+l.Fixture.ID+" --value COHORT")
	case s.Size > 0:
		q.Likely, q.Answer = "a cleaning", log("clean fixture "+l.Fixture.ID+" --value all")
	default:
		q.Likely, q.Answer = "moved, re-aimed, shaded or damaged", log("note fixture "+l.Fixture.ID+" --note 'what happened'")
	}
	return q
}

func together(of []found) Step {
	sum, weight := 0.0, 0.0
	var names, sensors []string
	for _, f := range of {
		w := 1 / (f.step.SE * f.step.SE)
		sum, weight = sum+w*f.step.Size, weight+w
		names = append(names, f.life.Fixture.ID)
		if !slices.Contains(sensors, f.sensor) {
			sensors = append(sensors, f.sensor)
		}
	}
	sort.Strings(names)
	first := of[0]
	q := question(names, strings.Join(sensors, ", "), first.step.Before, of[len(of)-1].step.After, sum/weight,
		first.step.SE) // shared: no less sure than one alone
	at, date := scope(of), calendar.Date(first.step.After).Format("2006-01-02")
	switch {
	case len(sensors) > 1 && q.Size > 0:
		q.Likely = "a cleaning round, or supply, dimming or daylight"
		q.Answer = fmt.Sprintf("wane log clean %s --value all --at %s", at, date)
		return q
	case len(sensors) > 1:
		q.Likely = "supply, dimming, daylight or an outage"
		q.Answer = fmt.Sprintf("wane log dim %s --value PERCENT --at %s (or: wane log note %s --note 'what happened' --at %s)",
			at, date, at, date)
		return q
	case q.Size > 0:
		q.Likely = "a cleaning, or the sensor wiped or recalibrated"
	default:
		q.Likely = "the sensor moved, soiled or swapped"
	}
	q.Answer = fmt.Sprintf("wane log clean %s --value all --at %s (or: wane log recalibrate sensor %s --at %s)",
		at, date, sensors[0], date)
	return q
}

// scope is the smallest that holds all that stepped, as `wane log` takes it.
func scope(of []found) string {
	bay, room := of[0].life.Place.Bay, of[0].life.Place.Room
	for _, f := range of {
		if f.life.Place.Bay != bay {
			bay = ""
		}
		if f.life.Place.Room != room {
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

func question(fixtures []string, sensor string, before, after int32, size, se float64) Step {
	return Step{Fixtures: fixtures, Sensor: sensor, Before: before, After: after, Size: size,
		Lo: size - 1.96*se, Hi: size + 1.96*se}
}
