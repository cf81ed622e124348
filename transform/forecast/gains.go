package forecast

import (
	"math"
	"sort"
	"wane/transform/robust"
)

// Doubt is an as-found gain that the readings contradict: a lamp can't jump when
// its sensor is recalibrated. The fit goes by the readings.
type Doubt struct {
	Group, Day int
	AsFound    float64 // as logged
	Seen       float64 // as the readings have it
	SD         float64 // of Seen, relative
	UpsideDown bool    // 1/AsFound is what they have
}

// weighed is an as-found gain beside the jump that the readings made.
type weighed struct {
	Doubt
	off, turned float64 // jump against the gain as logged, and upside down, in spreads of their difference
}

// weigh measures how the readings jumped at each recalibration of a sensor, and
// holds as-found gains against that.
func (m *model) weigh(sensor int, u *sensorState, tracks []*track) (jumps []Jump, out []weighed) {
	for _, r := range m.in.Groups[u.in].Recals {
		if r.SensorClean || r.Day > m.asOf {
			continue
		}
		var seen []jump
		for _, t := range tracks {
			if j, ok := t.across(r.Day, sensor); ok {
				seen = append(seen, j)
			}
		}
		if len(seen) == 0 {
			continue
		}
		size, sd := shared(seen)
		jumps = append(jumps, Jump{u.in, r.Day, size, sd})
		if r.AsFound <= 0 {
			continue
		}
		ln := math.Log(r.AsFound)
		spread := math.Sqrt(sd*sd + math.Pow(m.d.Sensor.AsFound, 2) + math.Pow(m.d.Sensor.Offset, 2))
		out = append(out, weighed{Doubt{Group: u.in, Day: r.Day, AsFound: r.AsFound, Seen: math.Exp(-size), SD: sd},
			math.Abs(size+ln) / spread, math.Abs(size-ln) / spread})
	}
	return jumps, out
}

// doubt picks the gains that the readings contradict. Who writes gains upside down
// does so each time: where all of a site's together fit far better that way, the
// small ones, of which none alone shows it, are doubted too.
func doubt(of []weighed) []Doubt {
	logged, turned := 0.0, 0.0
	for _, w := range of {
		logged, turned = logged+math.Min(w.off*w.off, mostAgainst), turned+math.Min(w.turned*w.turned, mostAgainst)
	}
	habit := logged-turned > habitSure && turned < 2*float64(len(of))
	var out []Doubt
	for _, w := range of {
		w.UpsideDown = w.off > 2.5 && w.turned < w.off/2 && w.turned < 2 || habit && w.turned < w.off && w.turned < 2.5
		if w.UpsideDown || w.off > 3.5 {
			out = append(out, w.Doubt)
		}
	}
	return out
}

// Sums of squares in spreads: by how much less upside down makes a habit, and the
// most that one gain counts.
const habitSure, mostAgainst = 9, 9

// across measures the jump at an event on a day, where no other falls near.
func (t *track) across(day, sensor int) (jump, bool) {
	n := len(t.days)
	k := sort.SearchInts(t.days, day)
	mid, from := k, k
	for mid > 0 && (t.run[mid-1] < 0 && day-t.days[mid-1] <= binDays) {
		mid--
	}
	for from < n && (t.run[from] < 0 && t.days[from]-day <= binDays) {
		from++
	}
	others := 0
	lo, hi := mid, from
	for lo > 0 && mid-lo < stepWeeks && t.run[lo-1] >= 0 && t.run[lo-1] == t.run[mid-1] && day-t.days[lo-1] <= stepReach {
		lo--
	}
	for hi < n && hi-from < stepWeeks && t.run[hi] >= 0 && t.run[hi] == t.run[from] && t.days[hi]-day <= stepReach {
		hi++
	}
	if lo == mid || hi == from || partAt(t.parts, t.days[mid-1]) != sensor || partAt(t.parts, t.days[from]) != sensor {
		return jump{}, false
	}
	for _, e := range t.events {
		if e > t.days[mid-1] && e <= t.days[from] {
			others++
		}
	}
	if others != 1 {
		return jump{}, false
	}
	return t.sturdyJump(lo, mid, from, hi)
}

// sturdyJump is jumpBetween by medians: weeks that something else threw off, such
// as a step shortly before, don't turn the slope.
func (t *track) sturdyJump(lo, mid, from, hi int) (jump, bool) {
	j, ok := t.jumpBetween(lo, mid, from, hi, anySlope)
	if !ok {
		return j, false
	}
	var slopes []float64
	for i := lo; i < hi; i++ {
		for k := i + 1; k < hi; k++ {
			if (i < mid) == (k < mid) && t.run[i] >= 0 && t.run[k] >= 0 {
				slopes = append(slopes, (t.y[k]-t.y[i])/float64(t.days[k]-t.days[i]))
			}
		}
	}
	slope := robust.Sort(slopes)
	level := func(a, b int) float64 {
		var y []float64
		for i := a; i < b; i++ {
			y = append(y, t.y[i]-slope*float64(t.days[i]))
		}
		return robust.Sort(y)
	}
	return jump{level(from, hi) - level(lo, mid), 1.2533 * j.sd}, true
}

// bridged says whether the readings go on across a recalibration, so that its
// jump tells what the gain had come to.
func (m *model) bridged(u *sensorState, day int) bool {
	j, ok := m.jumps[recalKey{u.in, day}]
	return ok && j.sd <= 2*m.d.Sensor.AsFound
}
