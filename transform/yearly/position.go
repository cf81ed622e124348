package yearly

import (
	"fmt"
	"sort"

	"wane/transform/survival"
)

// Repair is the mean cumulative number of failures per position: where a lamp
// is replaced each time and the position goes on. The axis is the position's
// burning hours.
type Repair struct {
	LampType  string       `json:"lamp_type"`
	Positions int          `json:"positions"`
	Failures  int          `json:"failures"`
	Longest   float64      `json:"longest_hours"` // burning hours of the oldest position
	At        []RepairAt   `json:"at"`
	Curve     survival.MCF `json:"-"`
}

// RepairAt is the mean cumulative function at burning hours of a position.
type RepairAt struct {
	Hours float64 `json:"hours"`
	Mean  Value   `json:"failures_per_position"`
}

// repairs gives the mean cumulative function by lamp type.
func (in *Input) repairs(ws []watched) ([]Repair, error) {
	by := map[string]map[string]*survival.Position{}
	offset := map[string]float64{}
	for i := range ws { // in order of fixture and life
		w := &ws[i]
		t := string(w.LampType)
		if by[t] == nil {
			by[t] = map[string]*survival.Position{}
		}
		p := by[t][w.Fixture]
		if p == nil {
			p = &survival.Position{ID: w.Fixture}
			by[t][w.Fixture] = p
		}
		from, to := offset[w.Fixture]+w.Entry, offset[w.Fixture]+w.Exit
		offset[w.Fixture] = to
		if !(to > from) {
			if w.failed() && len(p.Windows) > 0 { // dead on arrival: at the moment it was put in
				p.Failures = append(p.Failures, to)
			}
			continue
		}
		if n := len(p.Windows); n > 0 && p.Windows[n-1].To == from {
			p.Windows[n-1].To = to
		} else {
			p.Windows = append(p.Windows, survival.Window{From: from, To: to})
		}
		if w.failed() {
			p.Failures = append(p.Failures, to)
		}
	}
	var out []Repair
	for _, t := range types(by) {
		ids := make([]string, 0, len(by[t]))
		for id, p := range by[t] {
			if len(p.Windows) > 0 {
				ids = append(ids, id)
			}
		}
		if len(ids) == 0 {
			continue
		}
		sort.Strings(ids)
		list := make([]survival.Position, len(ids))
		longest := 0.0
		for i, id := range ids {
			list[i] = *by[t][id]
			longest = max(longest, list[i].Windows[len(list[i].Windows)-1].To)
		}
		m, err := survival.MeanCumulative(list, in.Level)
		if err != nil {
			return nil, fmt.Errorf("failures per position of %s: %w", t, err)
		}
		r := Repair{LampType: t, Positions: m.Positions, Failures: m.Failures, Longest: longest, Curve: m}
		for _, h := range endAges {
			if h <= longest {
				r.At = append(r.At, RepairAt{h, Value{m.At(h)}})
			}
		}
		out = append(out, r)
	}
	return out, nil
}
