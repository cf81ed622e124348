package forecast

import (
	"math"
	"slices"
)

// Posteriors gives one Posterior for each lamp life in service that has
// bins, in order of Input.Lamps.
func (f *Fit) Posteriors() []Posterior { return f.besideClean(false) }

// PosteriorsOfAll gives those of lamp lives that have ended too, in the same order;
// their Ended is set.
func (f *Fit) PosteriorsOfAll() []Posterior { return f.besideClean(true) }

// besideClean puts beside the posteriors of lamps in service what they are without dirt,
// in rooms that nobody cleaned.
func (f *Fit) besideClean(ended bool) []Posterior {
	out := f.posteriors(ended)
	if f.clean == nil {
		return out
	}
	rooms := f.m.neverCleaned()
	none := f.clean.posteriors(ended)
	for k := range out { // both are of the same lamps
		if !out[k].Ended && slices.Contains(rooms, f.m.in.Lamps[out[k].Lamp].Room) {
			out[k].NoDirt = &none[k]
		}
	}
	return out
}

// posteriors with those of ended lives, where wanted.
func (f *Fit) posteriors(ended bool) []Posterior {
	m := f.m
	if len(m.lamps) == 0 {
		return nil // nothing was solved
	}
	pos := make(map[int]int, len(m.lamps))
	for k, l := range m.lamps {
		pos[l.in] = k
	}
	all := make([]Posterior, len(m.lamps))
	most, read := make([]float64, len(m.classes)), make([]bool, len(m.classes))
	for _, l := range m.lamps {
		most[l.class] = max(most[l.class], l.last)
		read[l.class] = read[l.class] || !m.swings(l, &l.bins[len(l.bins)-1])
	}
	for k, name := range m.classes {
		if p := m.opt.pool; p != nil {
			at := p.types[name]
			most[k], read[k] = max(most[k], p.most[at]), read[k] || p.read[at]
		}
	}
	withFactor, references := 0, 0
	for _, g := range m.groups {
		h := m.history(g)
		withFactor, references = withFactor+h.WithFactor, references+h.References
	}
	site, borrowed := m.siteShift(), f.Borrowed()
	m.each(func(g *groupState, s *scratch) {
		own := make([]shifted, len(g.sensors))
		for k, u := range g.sensors {
			own[k] = m.ownShift(g, u)
		}
		with := map[int]shifted{} // what goes with the dirt and the trend of its rooms
		for _, u := range g.sensors {
			for _, c := range [2]int{m.tRoom + u.room, m.tTrend + u.room} {
				if _, ok := with[c]; !ok {
					with[c] = m.goesWith(g, c)
				}
			}
		}
		h := m.history(g)
		h.SiteWithFactor, h.SiteReferences = withFactor, references
		live := 0
		for _, l := range g.lamps {
			if !m.ended(l) {
				live++
			}
		}
		for _, l := range g.lamps {
			if !ended && m.ended(l) {
				continue
			}
			p := &all[pos[l.in]]
			m.posterior(g, l, p)
			p.Ended = m.ended(l)
			p.MostHours, p.Sees, p.GroupSize = most[l.class], h, live
			p.TypeRead = read[l.class]
			if borrowed != nil {
				p.Elsewhere = max(borrowed[l.in].Lot, borrowed[l.in].Make)
			}
			m.open(g, l, p)
			room, trend := m.tRoom+l.bay.room, m.tTrend+l.bay.room
			p.StaysClean = slices.Contains(m.in.Clean, m.rooms[l.bay.room])
			p.RoomDirt = [2]float64{m.t[room], math.Sqrt(m.ct[room*m.nt+room])}
			p.DirtPull, p.PastPull = m.shiftOf(g, l, p, with[room])
			p.Trend = [2]float64{m.t[trend], math.Sqrt(m.ct[trend*m.nt+trend])}
			p.TrendPull, p.PastTrend = m.shiftOf(g, l, p, with[trend])
			p.OwnShift, p.PastShift[0] = m.shiftOf(g, l, p, own[g.lastSensor(l)])
			p.SiteShift, p.PastShift[1] = m.shiftOf(g, l, p, site[g.in])
		}
	})
	out := make([]Posterior, 0, len(all))
	for k := range all {
		if all[k].Bins > 0 {
			out = append(out, all[k])
		}
	}
	return out
}

// open adds what is asked about a lamp and its sensors.
func (m *model) open(g *groupState, l *lampState, p *Posterior) {
	for _, s := range m.found.Steps {
		if contains(s.Lamps, l.in) {
			s.Lamps, s.Days, s.Groups = nil, nil, nil
			p.Steps = append(p.Steps, s)
		}
	}
	for _, x := range m.found.Doubts {
		if u := g.sensor(x.Group); u >= 0 && g.watched(l, u) {
			p.Doubts = append(p.Doubts, x)
		}
	}
	in := &m.in.Lamps[l.in]
	for _, x := range m.found.Dusty {
		if in.groupOn(x.From) == x.Group && x.To > in.StartDay {
			p.Dusty = append(p.Dusty, x)
		}
	}
}

func (m *model) ended(l *lampState) bool {
	in := &m.in.Lamps[l.in]
	return in.Ended && in.EndDay <= m.asOf
}

func (m *model) history(g *groupState) SensorHistory {
	var h SensorHistory
	for _, u := range g.sensors {
		grp := &m.in.Groups[u.in]
		for _, r := range grp.Recals {
			if r.Day > m.asOf || r.Day <= grp.Start || r.SensorClean {
				continue
			}
			h.Recalibrations++
			if r.AsFound > 0 && !m.doubted[recalKey{u.in, r.Day}] || m.bridged(u, r.Day) {
				h.WithFactor++
			}
		}
		for _, r := range grp.References {
			if r.Day <= m.asOf {
				h.References++
			}
		}
	}
	return h
}
