package yearly

import (
	"math"
	"sort"

	"wane/transform/fleet"
	"wane/transform/survival"
)

// lateHours is the run-hours after which the first level no longer stands for
// the lamp when new: its later levels are against an aged lamp.
const lateHours = 500

// watched is a life with what the summary reads off it.
type watched struct {
	*Life
	smooth  []Week
	faded   Week // first smoothed week under the threshold
	hasFade bool
	late    bool // its 100 % is not that of a new lamp
}

// watch gives the lives under watch; the others are counted by why.
func watch(lives []Life) (out []watched, left []Count) {
	n := map[string]int{}
	for i := range lives {
		l := &lives[i]
		switch {
		case !l.Watched:
			n["ended before the record began"]++
			continue
		case !(tenth(l.Exit) > tenth(l.Entry)) && !(l.Entry == 0 && l.Ended == fleet.Fail):
			n["no run-hours under watch"]++
			continue
		}
		w := watched{Life: l, smooth: smooth(l.Weeks)}
		w.late = len(w.smooth) > 0 && w.smooth[0].Hours > lateHours
		if l.Threshold > 0 {
			w.faded, w.hasFade = firstUnder(w.smooth, l.Threshold)
		}
		out = append(out, w)
	}
	return out, counts(n)
}

func (w *watched) failed() bool { return w.Ended == fleet.Fail }

// gapShare is the share of the age up to which it does not matter when
// within it a lamp failed: Exit stands for it.
const gapShare = 0.01

// unit is the life with its failure between the last reading of its light and the day it was found.
func (w *watched) unit() survival.Unit {
	u := survival.Unit{Entry: tenth(w.Entry), Exit: tenth(w.Exit), Failed: w.failed()}
	if u.Failed && w.Unlit > gapShare*w.Exit {
		u.Gap = math.Min(tenth(w.Unlit), u.Exit-u.Entry)
	}
	return u
}

// middle is unit for what knows of no intervals.
func (w *watched) middle() survival.Unit { return w.unit().Midpoint() }

// tenth rounds run-hours to what any evidence can tell, so that sums made in
// another order give the same age.
func tenth(h float64) float64 { return math.Round(10*h) / 10 }

// ending is the first of the two ends; cause 1 is dark, 2 faded.
func (w *watched) ending() survival.Ending {
	if w.hasFade && tenth(w.faded.Hours) > tenth(w.Entry) && w.faded.Hours <= w.Exit {
		return survival.Ending{Entry: tenth(w.Entry), Exit: tenth(w.faded.Hours), Cause: 2}
	}
	e := survival.Ending{Entry: tenth(w.Entry), Exit: w.middle().Exit}
	if w.failed() {
		e.Cause = 1
	}
	return e
}

// hoursIn is the run-hours burned in a year, or in all where year is 0.
func (l *Life) hoursIn(year int) float64 {
	h := 0.0
	for _, y := range l.Years {
		if year == 0 || y.Year == year {
			h += y.Hours
		}
	}
	return h
}

// Count is a number of things of one kind.
type Count struct {
	Name  string `json:"name"`
	Count int    `json:"count"`
}

// counts sorts counts: the most first, then by name.
func counts(n map[string]int) []Count {
	out := make([]Count, 0, len(n))
	for k, c := range n {
		out = append(out, Count{k, c})
	}
	sort.Slice(out, func(i, j int) bool {
		if out[i].Count != out[j].Count {
			return out[i].Count > out[j].Count
		}
		return out[i].Name < out[j].Name
	})
	return out
}
