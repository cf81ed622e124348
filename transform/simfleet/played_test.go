package simfleet

import (
	"reflect"
	"testing"
)

// TestPlayedAgain plays a fleet again with a fixture cleaned and a room's supply logged:
// until then, and of all others, the readings are the same; afterwards the one gives more
// light, and the other's weeks have a supply.
func TestPlayedAgain(t *testing.T) {
	plain := Options{Seed: 3, Fixtures: 24, Days: 3 * 365, NoSupply: true}
	a := New(plain)
	again := plain
	l := &a.Input.Lamps[0]
	day := a.Input.AsOf - 300
	again.Cleaned, again.Logged = map[string]int{l.Fixture: day}, map[string]int{l.Room: day}
	b := New(again)
	brighter, logged := 0, 0
	for i := range a.Input.Lamps {
		x, y := &a.Input.Lamps[i], &b.Input.Lamps[i]
		if x.Room != l.Room && !reflect.DeepEqual(x, y) {
			t.Errorf("%s is of another room, and plays otherwise", x.Fixture)
		}
		for k := range x.Bins {
			p, q := x.Bins[k], y.Bins[k]
			if q.HasSupply && (q.Day < day-7 || x.Room != l.Room) || p.HasSupply {
				t.Fatalf("%s has a supply on day %d, logged from %d on", x.Fixture, q.Day, day)
			}
			if q.HasSupply {
				logged++
			}
			if x.Fixture == l.Fixture && q.Day > day && q.LnOut > p.LnOut+1e-4 {
				brighter++
			} else if q.LnOut != p.LnOut && (x.Fixture != l.Fixture || q.Day < day-7) {
				t.Fatalf("%s reads otherwise in the week of day %d", x.Fixture, q.Day)
			}
		}
	}
	if brighter < 10 || logged < 10 {
		t.Errorf("%d weeks brighter after the cleaning, %d with a supply", brighter, logged)
	}
}
