// Package unexplained puts steps of the levels that the logbook does not explain
// to a person, with the line that would answer each.
package unexplained

import (
	"fmt"
	"math"
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

// Steps finds the unexplained steps of the lives, the latest first.
func Steps(lives []*lamp.Life, reg *fleet.Register, loc *time.Location) []Step {
	type found struct {
		life *lamp.Life
		step changepoint.Step
	}
	perLife := make([][]found, len(lives))
	parallel.For(len(lives), func(i int) {
		l := lives[i].WithSeries()
		logged := explained(l, reg, loc)
		days, y := make([]int32, 0, len(l.Levels)), make([]float64, 0, len(l.Levels))
		for _, v := range l.Levels {
			days, y = append(days, v.Day), append(y, math.Log(v.Output))
		}
		for _, step := range changepoint.Steps(days, y, changepoint.Settings{}) {
			if !near(logged, step) {
				perLife[i] = append(perLife[i], found{lives[i], step})
			}
		}
	})
	bySensor := map[string][]found{}
	under := map[string]int{}
	for i, l := range lives {
		if l.Latest {
			under[l.SensorLast]++
		}
		bySensor[l.SensorLast] = append(bySensor[l.SensorLast], perLife[i]...)
	}
	var out []Step
	for sensor, list := range bySensor {
		sort.SliceStable(list, func(i, j int) bool { return list[i].step.After < list[j].step.After })
		for len(list) > 0 {
			n := 1
			for n < len(list) && list[n].step.After-list[0].step.After <= togetherDays {
				n++
			}
			if n >= 2 && 2*n >= under[sensor] {
				var lives []*lamp.Life
				var steps []changepoint.Step
				for _, f := range list[:n] {
					lives, steps = append(lives, f.life), append(steps, f.step)
				}
				out = append(out, together(sensor, lives, steps))
			} else {
				for _, f := range list[:n] {
					out = append(out, alone(sensor, f.life, f.step))
				}
			}
			list = list[n:]
		}
	}
	sort.Slice(out, func(i, j int) bool {
		if out[i].After != out[j].After {
			return out[i].After > out[j].After
		}
		return out[i].Fixtures[0] < out[j].Fixtures[0]
	})
	return out
}

// explained gives the days of logbook lines that could explain a step of the
// life: any line about its fixture or its sensor, a note included.
func explained(l *lamp.Life, reg *fleet.Register, loc *time.Location) []int32 {
	var out []int32
	for i := range reg.Logbook {
		e := &reg.Logbook[i]
		if (e.Scope == fleet.OfSensor && e.ID == l.SensorLast) || (e.Scope != fleet.OfSensor &&
			e.Scope != fleet.OfSite && reg.Covers(e, l.Fixture)) {
			out = append(out, calendar.DayOf(e.At, loc))
			if e.What == fleet.Outage {
				out = append(out, calendar.DayOf(e.Until, loc))
			}
		}
	}
	for _, p := range reg.Sensors { // another instrument, another factor
		if !p.From.IsZero() && p.Sensor == l.SensorLast {
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

func alone(sensor string, l *lamp.Life, s changepoint.Step) Step {
	q := question([]string{l.Fixture.ID}, sensor, s.Before, s.After, s.Size, s.SE)
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

func together(sensor string, lives []*lamp.Life, steps []changepoint.Step) Step {
	sum, weight := 0.0, 0.0
	var names []string
	for i, s := range steps {
		w := 1 / (s.SE * s.SE)
		sum, weight = sum+w*s.Size, weight+w
		names = append(names, lives[i].Fixture.ID)
	}
	sort.Strings(names)
	q := question(names, sensor, steps[0].Before, steps[len(steps)-1].After, sum/weight,
		steps[0].SE) // shared: no less sure than one alone
	date := calendar.Date(steps[0].After).Format("2006-01-02")
	if q.Size > 0 {
		q.Likely = "a cleaning of the bay, or the sensor wiped or recalibrated"
	} else {
		q.Likely = "the sensor moved, soiled or swapped"
	}
	q.Answer = fmt.Sprintf("wane log clean bay %s --value all --at %s (or: wane log recalibrate sensor %s --at %s)",
		lives[0].Place.Bay, date, sensor, date)
	return q
}

func question(fixtures []string, sensor string, before, after int32, size, se float64) Step {
	return Step{Fixtures: fixtures, Sensor: sensor, Before: before, After: after, Size: size,
		Lo: size - 1.96*se, Hi: size + 1.96*se}
}
