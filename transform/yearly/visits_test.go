package yearly

import (
	"fmt"
	"strings"
	"testing"

	"wane/transform/fleet"
)

// Lamps found dark at a visit, their light last read 1,000 h before: the curve
// is Turnbull's and says so, the rest takes the middle; what is known to 1 % of
// the age changes nothing.
func TestFailuresFoundAtVisits(t *testing.T) {
	fleetOf := func(unlit float64) []Life {
		var out []Life
		for i := range 40 {
			ended := fleet.What("")
			if i%2 == 0 {
				ended = fleet.Fail
			}
			l := lamp(fmt.Sprintf("f%02d", i), 1, 0, 4000+100*float64(i), ended)
			l.Unlit = unlit // of a lamp that works it tells nothing
			out = append(out, l)
		}
		return out
	}
	exact := group(t, made(t, input(fleetOf(0)...)), "lamp type", "hps-de")
	day := group(t, made(t, input(fleetOf(12)...)), "lamp type", "hps-de")
	visits := group(t, made(t, input(fleetOf(1000)...)), "lamp type", "hps-de")
	if exact.AtVisits != 0 || day.AtVisits != 0 || day.B10.Centre != exact.B10.Centre || day.Say != exact.Say {
		t.Errorf("a day changes the curve: %+v, %+v", day.B10, exact.B10)
	}
	if visits.AtVisits != 20 || visits.Failures != 20 || visits.Curve.Kind() != "Turnbull" {
		t.Errorf("%d of %d at visits, by %s", visits.AtVisits, visits.Failures, visits.Curve.Kind())
	}
	b := visits.B10
	if d := exact.B10.Centre - b.Centre; d < 100 || d > 1000 || b.Lo > exact.B10.Lo-900 || b.Hi < exact.B10.Hi {
		t.Errorf("B10 %+v, taken at the day found %+v", b, exact.B10)
	}
	if s := strings.Join(b.Warnings, "; "); !strings.Contains(s,
		"20 of the failures are known only to lie between two looks, up to 1000 h") {
		t.Errorf("warnings: %s", s)
	}
	if !strings.Contains(visits.Say, "found dark long after they were last seen lit: 20") {
		t.Errorf("says %q", visits.Say)
	}
	near(t, "burned hours", exact.UnitHours-visits.UnitHours, 20*500, 1e-6)
}

// Two lamps watched from new and forty from 5,000 h on: one of the two fails
// early. The curve begins where ten are under watch and isn't halved by it.
func TestCurveBeginsWhereTenAreUnderWatch(t *testing.T) {
	lives := []Life{lamp("n0", 1, 0, 800, fleet.Fail), lamp("n1", 1, 0, 6000, "")}
	for i := range 40 {
		ended := fleet.What("")
		if i%8 == 0 {
			ended = fleet.Fail
		}
		lives = append(lives, lamp(fmt.Sprintf("f%02d", i), 1, 5000, 6000+50*float64(i), ended))
	}
	g := group(t, made(t, input(lives...)), "lamp type", "hps-de")
	if g.Curve.From != 5000 || g.End != 7500 { // ten lamps reached 7,500 h
		t.Errorf("from %g to %g", g.Curve.From, g.End)
	}
	if s := g.Curve.At(5500).Centre; s != 1 {
		t.Errorf("%g work at 5,500 h of those that reached 5,000 h", s)
	}
	if s := strings.Join(g.B10.Warnings, "; "); !strings.Contains(s,
		"of lamps that reached 5000 h: fewer than 10 were under watch before") {
		t.Errorf("warnings: %s", s)
	}
	g = group(t, made(t, input(lives[:9]...)), "lamp type", "hps-de")
	if g.Curve.From != 0 || g.End != 0 || g.Units != 9 {
		t.Errorf("nine lamps: from %g to %g", g.Curve.From, g.End)
	}
}
