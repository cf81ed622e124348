package forecast

import (
	"math"
	"testing"
)

// Who writes one gain upside down writes all so: small ones, of which none alone
// contradicts the readings, do together. Gains that are right, and one that is wrong
// among right ones, are not taken for a habit.
func TestUpsideDownIsAHabit(t *testing.T) {
	of := func(off, turned float64) weighed { return weighed{off: off, turned: turned} }
	for name, c := range map[string]struct {
		of   []weighed
		want int
	}{
		"four small ones upside down": {[]weighed{of(2.1, .3), of(1.9, .5), of(2.3, .2), of(1.7, .6)}, 4},
		"four right ones":             {[]weighed{of(.3, 2.1), of(.5, 1.9), of(.2, 2.3), of(.6, 1.7)}, 0},
		"one small one":               {[]weighed{of(2.1, .3)}, 0},
		"one large one":               {[]weighed{of(2.8, .3)}, 1},
		"one wrong among right ones":  {[]weighed{of(2.8, .3), of(.3, 2.1), of(.4, 2.6), of(.2, 1.8)}, 1},
		"another's among right ones":  {[]weighed{of(4, 3.2), of(.3, 2.1), of(.4, 2.6)}, 1},
		"two that tell nothing":       {[]weighed{of(.4, .3), of(.2, .5)}, 0},
	} {
		got := doubt(c.of)
		if len(got) != c.want {
			t.Errorf("%s: %d doubted, not %d", name, len(got), c.want)
		}
	}
}

// The derivative by how much of a cleaning a step is, against its difference.
func TestSoilByWiped(t *testing.T) {
	d := DefaultTable().Dirt
	l := &Lamp{Cleanings: []Clean{{Day: 100}, {Day: 300}}}
	days := []int{200, 350}
	at := func(wiped float64, day int) soiling {
		s := newSoil(l, d, 1000).perhaps(days, wiped)
		return s.on(day)
	}
	const eps = 1e-5
	for _, day := range []int{150, 201, 260, 320, 360, 600} {
		if num, v := (at(.5+eps, day).level-at(.5-eps, day).level)/(2*eps), at(.5, day).byWiped; math.Abs(num-v) > 1e-7 {
			t.Errorf("day %d: derivative %v, numerically %v", day, v, num)
		}
		l2 := &Lamp{Cleanings: []Clean{{Day: 100}, {Day: 200}, {Day: 300}, {Day: 350}}}
		whole, none := newSoil(l2, d, 1000), newSoil(l, d, 1000)
		if a, b := at(1, day).level, whole.at(day); math.Abs(a-b) > 1e-12 {
			t.Errorf("day %d: wholly a cleaning leaves %v, a cleaning %v", day, a, b)
		}
		if a, b := at(0, day).level, none.at(day); math.Abs(a-b) > 1e-12 {
			t.Errorf("day %d: not a cleaning leaves %v, none %v", day, a, b)
		}
	}
}
