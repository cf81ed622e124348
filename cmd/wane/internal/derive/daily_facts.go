package derive

import (
	"cmp"
	"crypto/sha256"
	"encoding/binary"
	"math"
	"slices"
	"sort"
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
	type group struct {
		quantity fleet.Quantity
		watches  string
	}
	begun := map[group][]int{}
	out := make([]fact, 0, len(rows))
	for _, i := range order {
		p := &rows[i]
		text := words(nil, "sensor", p.Sensor, p.Channel, string(p.Quantity), p.Watches)
		text = moment(number(text, p.Factor), p.From)
		g := group{p.Quantity, p.Watches}
		place, _ := slices.BinarySearch(begun[g], i)
		begun[g] = slices.Insert(begun[g], place, i)
		text = binary.AppendUvarint(text, uint64(place))
		out = append(out, fact{p.From, text})
		if !p.To.IsZero() {
			out = append(out, fact{p.To, moment(slices.Clip(text), p.To)})
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

// factChain hashes facts one after the other, so that the hash of all facts
// before any moment is at hand.
type factChain struct {
	at  []time.Time
	sum [][sha256.Size]byte // sum[i] is of the first i
}

func chainOf(facts []fact) factChain {
	c := factChain{sum: make([][sha256.Size]byte, 1, len(facts)+1)}
	var b []byte
	for _, f := range facts {
		b = append(append(b[:0], c.sum[len(c.sum)-1][:]...), f.text...)
		c.at, c.sum = append(c.at, f.at), append(c.sum, sha256.Sum256(b))
	}
	return c
}

// before gives the hash of what was said before t.
func (c *factChain) before(t time.Time) [sha256.Size]byte {
	return c.sum[sort.Search(len(c.at), func(i int) bool { return cmp.Compare(c.at[i].UnixMicro(), t.UnixMicro()) >= 0 })]
}
