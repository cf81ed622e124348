package measure

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"wane/transform/calendar"
	"wane/transform/forecast"
	"wane/transform/plan"
)

// Back is what one measurement that was made was worth: the answers with it, against
// those of a fit without it.
type Back struct {
	Kind    string // plan.Recalibrate or plan.Reference
	Target  string // the sensor, or the fixture whose level was read
	Rooms   []string
	Day     time.Time
	AsFound float64 // gain that a recalibration found; NaN where it noted none, and of references

	Moved  int     // lamps whose due date it moved by movedBy days or more
	Later  int     // of them, to a later day
	Days   float64 // by how many days, median of Moved
	Dated  int     // lamps that have a date because of it
	Undone int     // lamps that would have a date without it, and have none

	Touched       int     // lamps with a date both ways whose date or interval it changed
	Without, With float64 // width of their due dates' intervals, days, median; 0 where there is none

	day    int
	lamp   int // whose level was read, index into the fit's lamps; -1: the sensor was looked at
	groups []int
}

// OfLamp says whether a lamp's level was read, and not a sensor looked at.
func (b *Back) OfLamp() bool { return b.lamp >= 0 }

// movedBy is from how many days on a due date counts as moved.
const movedBy = 7

// Past is a look back.
type Past struct {
	Made  []Back // the last first
	Left  int    // measurements of those days that were not looked at, since only so many were to be
	Lamps int    // with a record that a logger reads
}

// LookBack takes each of the last measurements out of what the fit knew, at most count
// of them and none older than so many days, and fits again: each costs as much as the
// fit itself. known is what in.Fit was made of.
//
// Of a recalibration that is taken out, the day stays: the readings have its step in
// them, which is then one of unknown size, as where a sensor was wiped and not compared.
func LookBack(in *Input, known *forecast.Input, days, count int) (*Past, error) {
	all := in.made(known, known.AsOf-days)
	out := &Past{Made: all[:min(count, len(all))], Left: max(0, len(all)-count), Lamps: len(in.Posteriors)}
	for k := range out.Made {
		b := &out.Made[k]
		less := b.without(known)
		fit, err := forecast.Run(&less, forecast.Options{})
		if err != nil {
			return nil, fmt.Errorf("fit without %s %s of %s: %w", b.Kind, b.Target, b.Day.Format(time.DateOnly), err)
		}
		answers := map[int]*forecast.Answer{}
		got := fit.Answers(in.Asking)
		for i := range got {
			answers[got[i].Lamp] = &got[i]
		}
		b.compare(in, answers)
	}
	return out, nil
}

// made lists the measurements since a day, the last first. What was done to one sensor
// on one day is one measurement, in however many bays it watches.
func (in *Input) made(known *forecast.Input, since int) []Back {
	var out []Back
	add := func(b Back, g int) {
		at := slices.IndexFunc(out, func(o Back) bool {
			return o.Kind == b.Kind && o.Target == b.Target && o.day == b.day && o.lamp == b.lamp
		})
		if at < 0 {
			b.Day = calendar.Date(int32(b.day))
			at, out = len(out), append(out, b)
		}
		out[at].groups = append(out[at].groups, g)
	}
	for s := range in.Sensors {
		u := &in.Sensors[s]
		for _, g := range u.Groups {
			x := &known.Groups[g]
			for _, r := range x.Recals {
				if r.SensorClean || r.Day < since || r.Day > known.AsOf || r.Day <= x.Start {
					continue
				}
				b := Back{Kind: plan.Recalibrate, Target: u.Name, Rooms: u.Rooms, AsFound: math.NaN(), day: r.Day, lamp: -1}
				if r.AsFound > 0 {
					b.AsFound = r.AsFound
				}
				add(b, g)
			}
			for _, r := range x.References {
				if r.Day < since || r.Day > known.AsOf {
					continue
				}
				b := Back{Kind: plan.Reference, Target: u.Name, Rooms: u.Rooms, AsFound: math.NaN(), day: r.Day, lamp: r.Lamp}
				if r.Lamp >= 0 {
					b.Target, b.Rooms = known.Lamps[r.Lamp].Fixture, []string{known.Lamps[r.Lamp].Room}
				}
				add(b, g)
			}
		}
	}
	slices.SortStableFunc(out, func(a, b Back) int {
		return cmp.Or(b.day-a.day, strings.Compare(a.Kind, b.Kind), strings.Compare(a.Target, b.Target))
	})
	return out
}

// without is what was known less the measurement. The original is not changed.
func (b *Back) without(known *forecast.Input) forecast.Input {
	out := *known
	out.Groups = slices.Clone(known.Groups)
	for _, g := range b.groups {
		x := &out.Groups[g]
		if b.Kind == plan.Reference {
			x.References = slices.DeleteFunc(slices.Clone(x.References), func(r forecast.Reference) bool {
				return r.Day == b.day && r.Lamp == b.lamp
			})
			continue
		}
		x.Recals = slices.Clone(x.Recals)
		for k := range x.Recals {
			if x.Recals[k].Day == b.day {
				x.Recals[k] = forecast.Recal{Day: b.day, SensorClean: true}
			}
		}
	}
	return out
}

// compare holds the answers with it against those without, by index of lamp.
func (b *Back) compare(in *Input, without map[int]*forecast.Answer) {
	var by, before, after []float64
	for i := range in.Answers {
		now, was := &in.Answers[i], without[in.Posteriors[i].Lamp]
		if was == nil {
			continue
		}
		if !dated(now.Status) || !dated(was.Status) {
			if dated(now.Status) {
				b.Dated++
			} else if dated(was.Status) {
				b.Undone++
			}
			continue
		}
		shift := now.DueDay.Centre - was.DueDay.Centre
		moved := math.Abs(shift) >= movedBy
		if moved {
			b.Moved, by = b.Moved+1, append(by, math.Abs(shift))
			if shift > 0 {
				b.Later++
			}
		}
		w, v := width(was), width(now)
		if moved || math.Abs(v-w) > wideBy*w {
			b.Touched++
			if !math.IsNaN(w) && !math.IsNaN(v) {
				before, after = append(before, w), append(after, v)
			}
		}
	}
	b.Days, b.Without, b.With = median(by), median(before), median(after)
}
