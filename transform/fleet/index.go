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
	watching map[string][]int32 // by the name of a fixture, bay, circuit or room: of all quantities
}

func (x *index) readSeries() *series {
	known := make(map[[2]string]bool, len(x.sensors))
	for i := range x.sensors {
		known[[2]string{x.sensors[i].Sensor, x.sensors[i].Channel}] = true
	}
	return &series{known, x.watching()}
}

// watching gives the rows that watch each name, in their order.
func (x *index) watching() map[string][]int32 {
	number := make(map[string]int32, len(x.fixtures)) // of a name
	name := make([]int32, len(x.sensors))             // of each row, from 1; 0: none
	var count []int32                                 // of a name's rows
	for i := range x.sensors {
		w := x.sensors[i].Watches
		if w == "" {
			continue
		}
		n := number[w]
		if n == 0 {
			count = append(count, 0)
			n = int32(len(count))
			number[w] = n
		}
		name[i] = n
		count[n-1]++
	}
	all := make([]int32, len(x.sensors)) // the rows of one name after those of another
	rows := make([][]int32, len(count))
	for n, k := range count {
		rows[n], all = all[:0:k], all[k:]
	}
	for i, n := range name {
		if n > 0 {
			rows[n-1] = append(rows[n-1], int32(i))
		}
	}
	out := make(map[string][]int32, len(number))
	for w, n := range number {
		out[w] = rows[n-1]
	}
	return out
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
		out = append(out, x.series().watching[name]...)
	}
	slices.Sort(out)
	return out
}
