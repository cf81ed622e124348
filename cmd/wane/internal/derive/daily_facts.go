package derive

import (
	"crypto/sha256"
	"encoding/binary"
	"math"
	"slices"
	"time"

	"wane/transform/fleet"
)

// fact is one thing that the register says, and the moment from which on the
// roll-up can depend on it.
type fact struct {
	at   time.Time
	text []byte
}

// registerFacts is all of the register that the roll-up depends on, in order of
// time. What has no bearing on it (notes, cohorts, the end of a row that still
// holds) is left out, so that it may change without any day being rolled up
// again.
func registerFacts(r *fleet.Register) []fact {
	out := make([]fact, 0, len(r.Fixtures)+len(r.Sensors))
	inBay := map[string][]*fleet.Fixture{}
	for i := range r.Fixtures {
		f := &r.Fixtures[i]
		inBay[f.Bay] = append(inBay[f.Bay], f)
		out = append(out, fact{f.Installed, words(nil, "fixture", f.ID, f.Room, f.Bay, f.Circuit, string(f.LampType))})
	}
	out = append(out, sensorFacts(r.Sensors)...)
	for i := range r.Logbook {
		e := &r.Logbook[i]
		switch e.What {
		case fleet.Move, fleet.Dim, fleet.Install, fleet.Retire:
		default:
			continue
		}
		text := number(words(nil, "entry", string(e.What), string(e.Scope), e.ID, e.Value), e.Number)
		text = moment(text, e.At)
		if e.What == fleet.Move { // the others of the bay tell which room and circuit it leads to
			for _, f := range inBay[e.Value] {
				text = words(text, f.ID, f.Room, f.Circuit)
			}
		}
		out = append(out, fact{e.At, text})
	}
	slices.SortStableFunc(out, func(a, b fact) int { return a.at.Compare(b.at) })
	return out
}

// sensorFacts: that a row begins to hold, and that it ends. Of rows that say
// the same thing the first in the file counts, so a row's place among the
// earlier ones is part of the fact.
func sensorFacts(rows []fleet.SensorPeriod) []fact {
	order := make([]int, len(rows))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return rows[a].From.Compare(rows[b].From) })
	begun := map[fleet.Quantity]map[string][]int{} // by what is watched
	first := make([]int, len(rows)) // the memory of most groups, which have one row
	out := make([]fact, 0, len(rows))
	all := make([]byte, 0, 64*len(rows)) // the texts, one after the other
	for k, i := range order {
		p, lo := &rows[i], len(all)
		all = words(all, "sensor", p.Sensor, p.Channel, string(p.Quantity), p.Watches)
		all = moment(number(all, p.Factor), p.From)
		of := begun[p.Quantity]
		if of == nil {
			of = make(map[string][]int, len(rows)/len(fleet.Quantities))
			begun[p.Quantity] = of
		}
		group, place := of[p.Watches], 0
		if group == nil {
			first[k] = i
			group = first[k : k+1 : k+1]
		} else {
			place, _ = slices.BinarySearch(group, i)
			group = slices.Insert(group, place, i)
		}
		of[p.Watches] = group
		all = binary.AppendUvarint(all, uint64(place))
		text := slices.Clip(all[lo:])
		out = append(out, fact{p.From, text})
		if !p.To.IsZero() {
			out = append(out, fact{p.To, moment(text, p.To)})
		}
	}
	return out
}

func words(to []byte, s ...string) []byte {
	for _, w := range s {
		to = append(binary.AppendUvarint(to, uint64(len(w))), w...)
	}
	return to
}

func number(to []byte, v float64) []byte {
	return binary.BigEndian.AppendUint64(to, math.Float64bits(v))
}

func moment(to []byte, t time.Time) []byte {
	return binary.BigEndian.AppendUint64(to, uint64(t.UnixMicro()))
}

// factChain hashes the facts of one moment after those of the other, so that the
// hash of all facts before any moment is at hand.
type factChain struct {
	at  []int64             // microseconds UTC
	sum [][sha256.Size]byte // sum[i] is of the facts of the first i moments
}

// chainOf makes the chain of facts, which are in order of time.
func chainOf(facts []fact) factChain {
	c := factChain{sum: make([][sha256.Size]byte, 1)}
	var b []byte
	for lo, hi := 0, 0; lo < len(facts); lo = hi {
		at := facts[lo].at.UnixMicro()
		b = append(b[:0], c.sum[len(c.sum)-1][:]...)
		for hi = lo; hi < len(facts) && facts[hi].at.UnixMicro() == at; hi++ {
			b = append(binary.AppendUvarint(b, uint64(len(facts[hi].text))), facts[hi].text...)
		}
		c.at, c.sum = append(c.at, at), append(c.sum, sha256.Sum256(b))
	}
	return c
}

// before gives the hash of what was said before t.
func (c *factChain) before(t time.Time) [sha256.Size]byte {
	i, _ := slices.BinarySearch(c.at, t.UnixMicro())
	return c.sum[i]
}
