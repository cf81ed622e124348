package fleet

import (
	"sort"
	"time"
	"wane/transform/calendar"
	"wane/transform/parallel"
)

// Stretch is some days, numbered as package calendar does, on which the same
// holds of a fixture.
type Stretch struct{ First, Last int32 }

// Touches says whether the stretch has a day from first to last.
func (x Stretch) Touches(first, last int32) bool { return x.First <= last && x.Last >= first }

// Period is a row of table sensor_periods: one series that read the fixture's
// light. By noon of its first day it did.
type Period struct {
	Fixture string
	Row     *SensorPeriod
	Stretch
}

// Placement is a row of table placements.
type Placement struct {
	Fixture string
	Place
	Stretch
}

// Chained is a row of table chains.
type Chained struct {
	Fixture, Chain string
	Stretch
}

// Stretches is what holds of fixtures from when to when, by fixture.
type Stretches struct {
	Periods []Period
	Places  []Placement
	Chains  []Chained
}

// StretchesOfAll gives what the register says of where the fixtures hung, what
// watched them, and the epochs of their optical chains.
func (reg *Register) StretchesOfAll(loc *time.Location) Stretches {
	fixtures := reg.ByName()
	made := make([]Stretches, len(fixtures))
	parallel.For(len(fixtures), func(i int) { made[i] = reg.StretchesOf(fixtures[i], loc) })
	var out Stretches
	for i := range made {
		out.Periods = append(out.Periods, made[i].Periods...)
		out.Places = append(out.Places, made[i].Places...)
		out.Chains = append(out.Chains, made[i].Chains...)
	}
	return out
}

func (reg *Register) StretchesOf(f *Fixture, loc *time.Location) (out Stretches) {
	for _, w := range reg.Watched(f, PPFD) {
		x := Stretch{calendar.NoonFrom(w.From, loc), calendar.Forever}
		if !w.To.IsZero() {
			x.Last = calendar.NoonFrom(w.To, loc) - 1
		}
		if x.Last >= x.First {
			out.Periods = append(out.Periods, Period{f.ID, w.Row, x})
		}
	}
	hung := calendar.NoonFrom(f.Installed, loc)
	out.Places = []Placement{{f.ID, reg.PlaceAt(f, f.Installed), Stretch{hung, calendar.Forever}}}
	for _, e := range reg.Events(f) {
		if e.What != Move {
			continue
		}
		at := calendar.NoonFrom(e.At, loc)
		old, now := &out.Places[len(out.Places)-1], reg.PlaceAt(f, e.At)
		switch {
		case now == old.Place:
		case at <= old.First: // moved before it hung for a day
			old.Place = now
		default:
			old.Last = at - 1
			out.Places = append(out.Places, Placement{f.ID, now, Stretch{at, calendar.Forever}})
		}
	}
	epochs := reg.Chain(f)
	for _, e := range epochs {
		at := calendar.NoonFrom(e.From, loc)
		if n := len(out.Chains); n > 0 {
			if out.Chains[n-1].First == at {
				continue
			}
			out.Chains[n-1].Last = at - 1
		}
		out.Chains = append(out.Chains, Chained{f.ID, ChainAt(epochs, calendar.Start(at, loc).Add(12*time.Hour)),
			Stretch{at, calendar.Forever}})
	}
	return out
}

// ByName gives the register's fixtures in order of their names, in which every
// table holds them.
func (r *Register) ByName() []*Fixture {
	out := make([]*Fixture, len(r.Fixtures))
	for i := range out {
		out[i] = &r.Fixtures[i]
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].ID < out[j].ID })
	return out
}
