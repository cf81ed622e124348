package yearly

import (
	"math"
	"sort"
)

// reach is how many weeks on each side the smoothed level looks at.
const reach = 2

// longestGap is between which run-hours a level may be read off between two
// weeks.
const longestGap = 500.0

// smooth gives the level of each week as the median of the weeks about it, so
// that one odd week makes no crossing.
func smooth(weeks []Week) []Week {
	out := make([]Week, len(weeks))
	var near []float64
	for i, w := range weeks {
		near = near[:0]
		for k := max(0, i-reach); k <= min(len(weeks)-1, i+reach); k++ {
			if d := weeks[k].Week - w.Week; d >= -2*reach && d <= 2*reach {
				near = append(near, weeks[k].Level)
			}
		}
		sort.Float64s(near)
		n := len(near)
		out[i] = Week{w.Week, w.Hours, (near[(n-1)/2] + near[n/2]) / 2}
	}
	return out
}

// firstUnder gives the first smoothed week under a level.
func firstUnder(smoothed []Week, level float64) (Week, bool) {
	for _, w := range smoothed {
		if w.Level < level {
			return w, true
		}
	}
	return Week{}, false
}

// levelAt reads the smoothed level at run-hours; NaN where no weeks stand
// close on both sides.
func levelAt(smoothed []Week, hours float64) float64 {
	i := sort.Search(len(smoothed), func(i int) bool { return smoothed[i].Hours >= hours })
	if i < len(smoothed) && smoothed[i].Hours == hours {
		return smoothed[i].Level
	}
	if i == 0 || i == len(smoothed) {
		return math.NaN()
	}
	a, b := smoothed[i-1], smoothed[i]
	if b.Hours-a.Hours > longestGap {
		return math.NaN()
	}
	return a.Level + (b.Level-a.Level)*(hours-a.Hours)/(b.Hours-a.Hours)
}
