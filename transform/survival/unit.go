package survival

import (
	"fmt"
	"sort"
	"wane/transform/estimate"
)

// Unit is one lamp (or gear, or fixture) under watch from age Entry to age
// Exit, in run-hours or any other unit of use that is the same for all.
type Unit struct {
	Entry  float64 // age at which the watch began; 0 for a new unit
	Exit   float64 // age at which the watch ended
	Failed bool    // true: it failed at Exit; false: it was last seen working
	// Gap is for how long before Exit nobody saw it, where it was found failed at Exit: it failed in them. 0 = at
	// Exit. Turnbull uses it; the others take Exit, see Midpoint.
	Gap float64
}

// check lists the first bad row, counted from 1.
func check(units []Unit) error {
	for i, u := range units {
		if err := checkAges(i, u.Entry, u.Exit, u.Failed); err != nil {
			return err
		}
		if !(u.Gap >= 0) || u.Gap > u.Exit-u.Entry+1e-6 || u.Gap > 0 && !u.Failed {
			return fmt.Errorf("unit %d: gap %v before exit %v, entry %v: a failure lies after its entry, and only a "+
				"failure has a gap",
				i+1, u.Gap, u.Exit, u.Entry)
		}
	}
	return nil
}

func checkAges(i int, entry, exit float64, ended bool) error {
	switch {
	case !estimate.Finite(entry) || !estimate.Finite(exit):
		return fmt.Errorf("unit %d: entry %v, exit %v: ages must be finite numbers", i+1, entry, exit)
	case entry < 0 || exit < 0:
		return fmt.Errorf("unit %d: entry %v, exit %v: an age cannot be negative; check the hours at install",
			i+1, entry, exit)
	case exit < entry:
		return fmt.Errorf("unit %d: exit %v before entry %v: check the run-hours counter and the dates", i+1, exit, entry)
	case exit == entry && entry > 0 && ended:
		return fmt.Errorf("unit %d: ended at %v, the age at which the watch began: it was not under watch; leave it out "+
			"or date its entry earlier", i+1, exit)
	}
	return nil
}

func checkLevel(level float64) error {
	if !(level > 0 && level < 1) {
		return fmt.Errorf("level %v: must lie between 0 and 1, such as 0.95", level)
	}
	return nil
}

// clock counts who is at risk. A unit is at risk at age t if Entry < t <= Exit;
// a new unit (Entry 0) is at risk at 0 too, so that a lamp dead on arrival
// counts.
type clock struct {
	entries []float64 // sorted, of units with Entry > 0
	exits   []float64 // sorted, of all
	n       int
}

func newClock(n int, ages func(i int) (entry, exit float64)) clock {
	c := clock{n: n}
	for i := 0; i < n; i++ {
		e, x := ages(i)
		c.exits = append(c.exits, x)
		if e > 0 {
			c.entries = append(c.entries, e)
		}
	}
	sort.Float64s(c.entries)
	sort.Float64s(c.exits)
	return c
}

// atRisk gives the number at risk at age t.
func (c clock) atRisk(t float64) int {
	gone := sort.SearchFloat64s(c.exits, t)                    // exit < t
	late := len(c.entries) - sort.SearchFloat64s(c.entries, t) // entry >= t
	return c.n - gone - late
}
