package forecast

import (
	"fmt"
	"slices"
)

// PoolState is what a pool has learnt, as plain data: with it NewPool, from the same
// table and censuses, becomes the same pool on another machine.
type PoolState struct {
	Scale, Tail, Power, Rate, Inflate []float64 // by lamp type
	Lamp, Lot                         [][3]float64
	Lots                              []float64 // slopes of shared lots
	T, Cov                            []float64 // the group's columns; nil before the first Solve
	Most                              []float64
	Read                              []bool
}

// State gives it.
func (p *Pool) State() PoolState {
	h := p.m.h
	s := PoolState{Scale: slices.Clone(h.scale), Tail: slices.Clone(h.tail), Power: slices.Clone(h.power),
		Rate: slices.Clone(h.rate), Inflate: slices.Clone(h.inflate), Lamp: slices.Clone(h.lamp), Lot: slices.Clone(h.lot),
		T: slices.Clone(p.m.t), Cov: slices.Clone(p.m.ct), Most: slices.Clone(p.most), Read: slices.Clone(p.read)}
	for _, l := range p.m.lots {
		s.Lots = append(s.Lots, l.slope)
	}
	return s
}

// Restore takes it.
func (p *Pool) Restore(s PoolState) error {
	n := p.m.nt
	if len(s.Scale) != len(p.m.law) || len(s.Lots) != len(p.m.lots) || len(s.T) != 0 && len(s.T) != n ||
		len(s.Cov) != len(s.T)*len(s.T) {
		return fmt.Errorf("the state is of another pool: %d lamp types and %d lots, not %d and %d", len(s.Scale), len(s.Lots),
			len(p.m.law), len(p.m.lots))
	}
	h := &p.m.h
	h.scale, h.tail, h.power, h.rate, h.inflate = s.Scale, s.Tail, s.Power, s.Rate, s.Inflate
	h.lamp, h.lot = s.Lamp, s.Lot
	p.m.t, p.m.ct, p.most, p.read = s.T, s.Cov, s.Most, s.Read
	if len(s.T) == 0 {
		p.m.t, p.m.ct = nil, nil
	}
	for i := range p.m.lots {
		p.m.lots[i].slope = s.Lots[i]
	}
	return nil
}
