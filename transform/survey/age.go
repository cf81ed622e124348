package survey

import (
	"fmt"
	"math"
	"sort"
	"wane/transform/estimate"
)

// Aged is one fixture's average at a known age, brought to the rig as it stood
// on the first occasion.
type Aged struct {
	RunHours float64
	Average  float64 // umol/m2/s
	OwnPct   float64 // standard deviation, per cent
	N        int
	// Referenced says that the reference fixture ties this point to the first
	// occasion (or that it was read then).
	Referenced bool
}

// History is one fixture's surveys over its lamp's life.
type History struct {
	Fixture string
	Points  []Aged
}

// AgedOf makes a point of a history from a survey and the run-hours at it. The
// reference fixture takes the rig's drift since the first occasion out; without
// it, OccasionPct stays in the uncertainty and ok is false.
func AgedOf(s Survey, runHours float64, first, day Occasion, u Uncertainty) (p Aged, ok bool, err error) {
	if !estimate.Finite(runHours) || runHours < 0 {
		return Aged{}, false, fmt.Errorf("%s: run-hours %v: give the hours burned by that day", s.name(), runHours)
	}
	if m := s.Missing(); len(m) > 0 {
		return Aged{}, false, fmt.Errorf("%s: spots %s are missing; an average to interpolate needs the whole grid", s.name(),
			numberList(m))
	}
	e, err := EntryOf(s, u)
	if err != nil {
		return Aged{}, false, err
	}
	p = Aged{RunHours: runHours, Average: e.Average, OwnPct: e.OwnPct, N: e.N}
	if first.From.Equal(day.From) && first.To.Equal(day.To) {
		p.Referenced = true
		return p, true, nil
	}
	rig := RigBetween(first, day, u)
	if !rig.Drift.Known() {
		p.OwnPct = hypot(p.OwnPct, u.OccasionPct*math.Sqrt2)
		return p, false, nil
	}
	p.Average /= rig.Drift.Centre
	p.OwnPct, p.Referenced = hypot(p.OwnPct, 100*rig.sd), true
	return p, true, nil
}

// At gives a fixture's average at an age between its first and last survey, on
// the straight line between the two surveys around it. Beyond them it is an
// error: a survey is no forecast.
func (h History) At(runHours float64) (Entry, error) {
	ps := append([]Aged(nil), h.Points...)
	sort.SliceStable(ps, func(i, j int) bool { return ps[i].RunHours < ps[j].RunHours })
	if len(ps) == 0 {
		return Entry{}, fmt.Errorf("fixture %s has no survey", h.Fixture)
	}
	last := ps[len(ps)-1]
	if math.IsNaN(runHours) || runHours < ps[0].RunHours || runHours > last.RunHours {
		return Entry{}, fmt.Errorf("fixture %s was surveyed from %.0f to %.0f run-hours; %.0f h lies outside, and a survey is no forecast", h.Fixture, ps[0].RunHours, last.RunHours, runHours)
	}
	for i, p := range ps {
		if p.RunHours == runHours {
			return Entry{h.Fixture, p.Average, p.OwnPct, p.N}, nil
		}
		if p.RunHours > runHours {
			a := ps[i-1]
			w := (runHours - a.RunHours) / (p.RunHours - a.RunHours)
			v := (1-w)*a.Average + w*p.Average
			sd := hypot((1-w)*a.Average*a.OwnPct, w*p.Average*p.OwnPct) / v
			// Parts common to both ends (the reference on the first occasion) do
			// not average out; the larger end bounds them.
			sd = math.Max(sd, math.Min(a.OwnPct, p.OwnPct))
			return Entry{h.Fixture, v, sd, min(a.N, p.N)}, nil
		}
	}
	return Entry{}, fmt.Errorf("fixture %s: no survey at or beyond %.0f run-hours", h.Fixture, runHours)
}

// AgeStep is the side-by-side comparison at one age.
type AgeStep struct {
	RunHours float64
	Ranking  Ranking
	Left     []string // fixtures not surveyed around this age, with the reason
}

// ByAge compares fixtures at steps of age (1,000 h is usual), at every multiple
// of step that at least two of them were surveyed around.
func ByAge(hs []History, step, level float64) ([]AgeStep, error) {
	if !estimate.Finite(step) || step <= 0 {
		return nil, fmt.Errorf("step %v h: give run-hours above 0, such as 1000", step)
	}
	top := 0.0
	for _, h := range hs {
		for _, p := range h.Points {
			if !estimate.Finite(p.RunHours) || p.RunHours < 0 {
				return nil, fmt.Errorf("fixture %s: run-hours %v at a survey; correct them", h.Fixture, p.RunHours)
			}
			top = math.Max(top, p.RunHours)
		}
	}
	if top/step > 10000 {
		return nil, fmt.Errorf("step %v h gives more than 10,000 rows up to %.0f h; take a larger one", step, top)
	}
	var out []AgeStep
	for k := 0; float64(k)*step <= top; k++ {
		t := AgeStep{RunHours: float64(k) * step}
		var es []Entry
		for _, h := range hs {
			e, err := h.At(t.RunHours)
			if err != nil {
				t.Left = append(t.Left, err.Error())
				continue
			}
			es = append(es, e)
		}
		if len(es) < 2 {
			continue
		}
		r, err := Rank(es, level)
		if err != nil {
			return nil, err
		}
		r.Rig = rigWords(hs)
		t.Ranking = r
		out = append(out, t)
	}
	return out, nil
}

// rigWords says which histories the reference fixture does not tie together.
func rigWords(hs []History) string {
	var loose []string
	for _, h := range hs {
		for _, p := range h.Points {
			if !p.Referenced {
				loose = append(loose, h.Fixture)
				break
			}
		}
	}
	if len(loose) == 0 {
		return "the reference fixture was surveyed each time: the rig's drift is taken out"
	}
	return fmt.Sprintf("nobody can say whether the rig held for every survey of %v, where the reference fixture was not surveyed; the drift of the rig is still in their figures", loose)
}
