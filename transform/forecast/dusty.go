package forecast

import (
	"math"
	"slices"
	"sort"

	"wane/transform/robust"
)

// Dust may come within weeks, from building work or from spraying, and go with the next
// cleaning. The dirt's law knows of none that gathers so fast: taken by it, that cleaning
// would show a room so dirty that its lamps hardly age. Such weeks stand for nothing.

// Dusty is a time before a cleaning in which the lamps under a sensor lost light together
// faster than by ageing and dirt, and which the cleaning gave back.
type Dusty struct {
	Group    int // index into Input.Groups
	From, To int // days, To not included
}

// How fast is too fast; choices, common practice, no source.
const (
	dustyWeeks  = 10   // weeks looked back at
	dustyWeekly = .004 // what dirt and ageing may take in a week, ln
	dustyLeast  = .02  // what the weeks must have taken beyond, ln
	dustyBack   = .6   // share of it that the cleaning must have given back
	dustyOnce   = .65  // and that may have gone within two weeks: more is a step
)

// holds says whether a day lies within it.
func (d Dusty) holds(day int) bool { return day >= d.From && day < d.To }

// dustyBefore finds such times under one sensor, and leaves their weeks out of the tracks.
func (m *model) dustyBefore(sensor, group int, under []*track) []Dusty {
	var out []Dusty
	for _, day := range m.cleanedTogether(under) {
		if from, ok := m.dustyFrom(sensor, day, under); ok {
			out = append(out, Dusty{Group: group, From: from, To: day})
		}
	}
	for _, t := range under {
		t.leaveOut(out)
	}
	return out
}

// leaveOut takes out the weeks of such times.
func (t *track) leaveOut(of []Dusty) {
	for _, d := range of {
		for k, day := range t.days {
			if d.holds(day) {
				t.runs[anySlope][k], t.runs[smallSlope][k] = -1, -1
			}
		}
	}
	if len(of) > 0 {
		t.measure(0, len(t.y))
	}
}

// cleanedTogether gives the days on which most lamps under a sensor were cleaned.
func (m *model) cleanedTogether(under []*track) []int {
	n := map[int]int{}
	for _, t := range under {
		for _, c := range m.in.Lamps[t.l.in].Cleanings {
			if c.Part != CleanRelamp && t.l.readOver(c.Day, c.Day) {
				n[c.Day]++
			}
		}
	}
	var out []int
	for day, k := range n {
		if 10*k >= 7*readOver(under, day) {
			out = append(out, day)
		}
	}
	slices.Sort(out)
	return out
}

// dustyFrom gives the day after which the weeks before a cleaning stand for nothing.
func (m *model) dustyFrom(sensor, day int, under []*track) (from int, ok bool) {
	most, read := 0.0, readOver(under, day)
	for back := 2; back <= dustyWeeks; back++ {
		var of []dustyTrack
		for _, t := range under {
			if partAt(t.parts, day) != sensor {
				continue
			}
			if d, ok := m.overDust(t, day, back); ok {
				of = append(of, d)
			}
		}
		if len(of) < 2 || 10*len(of) < 7*read {
			continue
		}
		median := func(what func(dustyTrack) float64) float64 {
			x := make([]float64, len(of))
			for k := range of {
				x[k] = what(of[k])
			}
			return robust.Sort(x)
		}
		by := median(func(d dustyTrack) float64 { return d.lost - d.may })
		given := median(func(d dustyTrack) float64 { return d.back })
		once := 0.0
		for i := range of[0].weeks {
			once = math.Max(once, median(func(d dustyTrack) float64 { return d.weeks[i] }))
		}
		sd := math.Hypot(2*median(func(d dustyTrack) float64 { return d.noise })/math.Sqrt(float64(len(of))), sharedNoise)
		if by > most && by >= math.Max(dustyLeast, sharedSure*sd) && given >= dustyBack*by &&
			once <= dustyOnce*median(func(d dustyTrack) float64 { return d.lost }) {
			most, from, ok = by, 0, true
			for _, d := range of {
				from = max(from, d.from)
			}
		}
	}
	return from, ok
}

// dustyTrack is what one lamp did in the weeks before a cleaning, ln: what it lost, what it
// may have by ageing and dirt, and what came back.
type dustyTrack struct {
	lost, may, back, noise float64
	weeks                  []float64 // what it lost from each of these weeks to the next but one
	from                   int       // day after the first of them
}

// overDust looks so many weeks back from a cleaning; not over anything else that happened.
func (m *model) overDust(t *track, day, back int) (d dustyTrack, ok bool) {
	k := t.lastBefore(day)
	if k < back || t.run[k] < 0 || t.run[k-back] != t.run[k] {
		return d, false
	}
	next := k + 1
	for next < len(t.y) && t.run[next] < 0 {
		next++
	}
	if next >= len(t.y) || t.days[next]-t.days[k] > stepReach {
		return d, false
	}
	weeks := float64(t.days[k]-t.days[k-back]) / binDays
	d = dustyTrack{noise: t.noise, from: t.days[k-back] + 1, back: t.y[next] - t.y[k],
		lost: t.y[k-back] - t.y[k], may: dustyWeekly*weeks + m.earlyLoss(t.l, k-back, k)}
	for i := k - back; i+2 <= k; i++ {
		d.weeks = append(d.weeks, t.y[i]-t.y[i+2])
	}
	return d, true
}

// readOver counts the lamps that were read before a day and after it.
func readOver(under []*track, day int) (n int) {
	for _, t := range under {
		if t.l.readOver(day, day) {
			n++
		}
	}
	return n
}

// lastBefore is the last week that ends before a day, -1: none.
func (t *track) lastBefore(day int) int { return sort.SearchInts(t.days, day-binDays/2) - 1 }

// earlyLoss is twice what a lamp's type is assumed to lose early between two weeks, ln.
func (m *model) earlyLoss(l *lampState, a, b int) float64 {
	law := m.law[l.class]
	early := func(h float64) float64 { return math.Exp(-h / law.Tau) }
	return 2 * math.Max(0, -law.Early.Mean) * (early(l.bins[a].Hours) - early(l.bins[b].Hours))
}

// dustyOn says whether a lamp's week stands for nothing.
func (m *model) dustyOn(l *Lamp, day int) bool {
	return len(m.found.Dusty) > 0 && slices.ContainsFunc(m.found.Dusty, func(d Dusty) bool {
		return d.holds(day) && d.Group == l.groupOn(day)
	})
}
