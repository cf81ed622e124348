package forecast

import (
	"math"
	"sort"

	"wane/transform/robust"
)

// sharedSteps finds the steps that most lamps under a sensor made in one week.
func sharedSteps(group, sensor int, under []*track) []Step {
	var out []Step
	for len(out) < mostSteps {
		at, lamps, jumps := surestShared(sensor, under)
		if len(lamps) == 0 {
			return out
		}
		var all Step
		for i, t := range lamps {
			s := t.cut(indexOf(t.days, at), jumps[i], group)
			if i == 0 {
				all = s
				continue
			}
			all.Lamps, all.Days = append(all.Lamps, s.Lamps...), append(all.Days, s.Days...)
		}
		all.Size, all.SD = shared(jumps)
		out = append(out, all)
	}
	return out
}

// jumpsOf is what lamps under a sensor did in a week.
type jumpsOf struct {
	tracks []*track
	jumps  []jump
}

// jumpsUnder gives, by day, how the lamps under a sensor jumped.
func jumpsUnder(sensor int, under []*track, slope int) map[int]*jumpsOf {
	by := map[int]*jumpsOf{}
	for _, t := range under {
		for k, d := range t.days {
			if partAt(t.parts, d) != sensor {
				continue
			}
			if j, ok := t.jumpAt(k, slope); ok {
				if by[d] == nil {
					by[d] = &jumpsOf{}
				}
				by[d].tracks, by[d].jumps = append(by[d].tracks, t), append(by[d].jumps, j)
			}
		}
	}
	return by
}

// surestShared gives the week in which the lamps under a sensor stepped most
// surely together, and which of them did.
func surestShared(sensor int, under []*track) (day int, lamps []*track, jumps []jump) {
	by := jumpsUnder(sensor, under, anySlope)
	days := make([]int, 0, len(by))
	for d := range by {
		days = append(days, d)
	}
	sort.Ints(days)
	sizes := make([]float64, 0, len(days))
	for _, d := range days {
		size, _ := shared(by[d].jumps)
		sizes = append(sizes, size)
	}
	usual := spreadAbout0(sizes)
	for _, t := range under {
		t.usualShared = math.Max(t.usualShared, usual)
	}
	best := 0.0
	for _, d := range days {
		s := by[d]
		size, sd := shared(s.jumps)
		z := math.Abs(size) / sd
		if len(s.jumps) < 2 || math.Abs(size) < stepShared || z < sharedSure || z <= best {
			continue
		}
		var with jumpsOf
		for i, j := range s.jumps {
			if j.size*size > 0 && math.Abs(j.size) >= .4*math.Abs(size) {
				with.tracks, with.jumps = append(with.tracks, s.tracks[i]), append(with.jumps, j)
			}
		}
		if 10*len(with.jumps) >= 7*len(s.jumps) {
			best, day, lamps, jumps = z, d, with.tracks, with.jumps
		}
	}
	return day, lamps, jumps
}

// shared is the median step of several lamps and its error.
func shared(of []jump) (size, sd float64) {
	sizes, sds := make([]float64, len(of)), make([]float64, len(of))
	for i, j := range of {
		sizes[i], sds[i] = j.size, j.sd
	}
	size, sd = robust.Sort(sizes), robust.Sort(sds)
	return size, math.Hypot(1.2533*sd/math.Sqrt(float64(len(of))), sharedNoise)
}
