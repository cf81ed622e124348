package lamp

import (
	"fmt"
	"math"
	"sort"

	"wane/transform/fleet"
	"wane/transform/robust"
	"wane/transform/tm21"
)

// Standard is what ANSI/IES TM-21 says of an LED cohort, beside wane's own
// answer. Refused says why it says nothing.
type Standard struct {
	Cohort  string
	Units   int
	Life    tm21.Life
	Name    string // such as Q90(12k)
	Refused string
}

// standardStep is the time between the readings that the procedure is given:
// LM-80 asks for at most 1,000 h (from memory).
const standardStep = 1000.0

// standardNear is how far from that moment a day may be to count.
const standardNear = 100.0

// Standards asks TM-21 for every LED cohort, for the given share.
func Standards(lives []*Life, share float64) []Standard {
	cohorts := map[string][]tm21.Unit{}
	var names []string
	for _, l := range lives {
		if l.LampType != fleet.LED || l.Cohort == "" {
			continue
		}
		if _, seen := cohorts[l.Cohort]; !seen {
			names = append(names, l.Cohort)
			cohorts[l.Cohort] = nil
		}
		if u := l.standardUnit(); len(u.Hours) > 1 {
			cohorts[l.Cohort] = append(cohorts[l.Cohort], u)
		}
	}
	sort.Strings(names)
	out := make([]Standard, 0, len(names))
	for _, name := range names {
		out = append(out, standardOf(name, cohorts[name], share))
	}
	return out
}

func standardOf(name string, units []tm21.Unit, share float64) Standard {
	s := Standard{Cohort: name, Units: len(units)}
	points, err := tm21.Average(units)
	if err == nil && len(points) == 0 {
		err = fmt.Errorf("no unit has readings %.0f h apart", standardStep)
	}
	if err != nil {
		s.Refused = err.Error()
		return s
	}
	for len(points) > 0 && points[len(points)-1].Units < len(units) { // the test lasts while all units burn
		points = points[:len(points)-1]
	}
	p, err := tm21.Project(points)
	if err != nil {
		s.Refused = err.Error()
		return s
	}
	s.Life, s.Name = p.At(share), p.Name("Q", share)
	return s
}

// standardUnit gives the life's level every 1,000 h: the median of the days
// about then.
func (l *Life) standardUnit() tm21.Unit {
	var u tm21.Unit
	near := map[int][]float64{}
	last := 0
	l = l.WithSeries()
	for i := range l.Levels {
		v := &l.Levels[i]
		k := int(math.Round(v.RunHours / standardStep))
		if math.IsNaN(v.Level) || math.Abs(v.RunHours-float64(k)*standardStep) > standardNear {
			continue
		}
		near[k] = append(near[k], v.Level)
		last = max(last, k)
	}
	for k := 0; k <= last; k++ {
		if len(near[k]) == 0 {
			if k == 0 {
				continue
			}
			break // a hole ends the test
		}
		u.Hours = append(u.Hours, float64(k)*standardStep)
		u.Flux = append(u.Flux, robust.Median(near[k]))
	}
	return u
}
