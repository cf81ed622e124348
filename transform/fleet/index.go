package fleet

import (
	"slices"
	"sync"
)

// index knows which rows of the register concern whom, so that a question about
// one fixture costs what concerns the fixture, not the fleet. It holds places in
// the tables, in their order, and no copies. Each part is made by the first
// question that needs it.
type index struct {
	fixtures []Fixture // the tables it was made from
	sensors  []SensorPeriod
	logbook  []Entry

	named  func() map[string]int32 // the first fixture of a name
	series func() *series
	book   func() *book
}

// index gives the index of the tables as they are now. Tables that have grown or
// been replaced since get a new one.
func (r *Register) index() *index {
	old := r.made.Load()
	if old != nil && same(old.fixtures, r.Fixtures) && same(old.sensors, r.Sensors) && same(old.logbook, r.Logbook) {
		return old
	}
	x := &index{fixtures: r.Fixtures, sensors: r.Sensors, logbook: r.Logbook}
	x.named = sync.OnceValue(x.readNames)
	x.series = sync.OnceValue(x.readSeries)
	x.book = sync.OnceValue(x.readBook)
	if !r.made.CompareAndSwap(old, x) {
		return r.made.Load() // another goroutine was first; share its work
	}
	return x
}

// same says whether two slices are the same rows in the same memory.
func same[T any](a, b []T) bool {
	return len(a) == len(b) && (len(a) == 0 || &a[0] == &b[0])
}

func (x *index) readNames() map[string]int32 {
	out := make(map[string]int32, len(x.fixtures))
	for i := range x.fixtures {
		if _, twice := out[x.fixtures[i].ID]; !twice {
			out[x.fixtures[i].ID] = int32(i)
		}
	}
	return out
}

// series is the rows of the sensors by what they watch.
type series struct {
	known    map[[2]string]bool // sensor, channel
	watching map[watched][]int32
	near     map[string][]int32 // of all quantities
}

type watched struct {
	quantity Quantity
	name     string // of a fixture, bay, circuit or room
}

func (x *index) readSeries() *series {
	s := &series{known: map[[2]string]bool{}, watching: map[watched][]int32{}, near: map[string][]int32{}}
	for i := range x.sensors {
		p := &x.sensors[i]
		s.known[[2]string{p.Sensor, p.Channel}] = true
		if p.Watches != "" {
			w := watched{p.Quantity, p.Watches}
			s.watching[w] = append(s.watching[w], int32(i))
			s.near[p.Watches] = append(s.near[p.Watches], int32(i))
		}
	}
	return s
}

// rows gives, in order, the rows that can ever tell of the fixture, wherever it
// has hung.
func (x *index) rows(f *Fixture) []int32 {
	names := []string{f.ID}
	for _, p := range x.book().places(f) {
		for _, name := range [...]string{p.Bay, p.Circuit, p.Room} {
			if !slices.Contains(names, name) {
				names = append(names, name)
			}
		}
	}
	var out []int32
	for _, name := range names {
		out = append(out, x.series().near[name]...)
	}
	slices.Sort(out)
	return out
}
