package unexplained

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"wane/transform/calendar"
	"wane/transform/fleet"
	"wane/transform/forecast"
	"wane/transform/lamp"
)

const stepped = 19120

// site is eight fixtures in two bays of a room, read by a sensor a bay.
func site() (*fleet.Register, Fleet) {
	reg, of := &fleet.Register{}, Fleet{Sensors: []string{"A", "B"}}
	for k := range 8 {
		reg.Fixtures = append(reg.Fixtures, fleet.Fixture{ID: fmt.Sprintf("F%d", k+1), Room: "veg",
			Bay: fmt.Sprintf("bay-%d", k/4+1), LampType: fleet.HPSDE})
	}
	for k := range reg.Fixtures {
		f := &reg.Fixtures[k]
		of.Lives = append(of.Lives, &lamp.Life{Fixture: f, Place: fleet.Place{Room: f.Room, Bay: f.Bay}, Latest: true,
			Light: []string{of.Sensors[k/4]}})
	}
	return reg, of
}

// step is one of lamps from to to, under some of the two sensors.
func step(size float64, from, to int, sensors ...int) forecast.Step {
	s := forecast.Step{Before: stepped - 3, After: stepped + 3, Size: size, SD: .003, Groups: sensors, Under: to - from,
		Sensors: len(sensors)}
	for i := from; i < to; i++ {
		s.Lamps, s.Days = append(s.Lamps, i), append(s.Days, stepped)
	}
	return s
}

func ask(reg *fleet.Register, of Fleet, s ...forecast.Step) []Question {
	return Questions(&forecast.Found{Steps: s}, of, reg, time.UTC)
}

// What stepped together is asked once, and the answer names the smallest scope that
// holds it all.
func TestAskedOnceWithItsScope(t *testing.T) {
	relamp := step(.1, 0, 1, 0)
	relamp.Relamp = true
	for name, c := range map[string]struct {
		step           forecast.Step
		likely, answer string
	}{
		"one bay":          {step(.05, 0, 4, 0), "a cleaning of the bay, or the sensor", "clean bay bay-1 "},
		"both bays":        {step(.05, 0, 8, 0, 1), "a cleaning round", "clean room veg "},
		"both bays, down":  {step(-.05, 0, 8, 0, 1), "supply, dimming, daylight or an outage", "dim room veg "},
		"one alone":        {step(.08, 0, 1, 0), "a new lamp", "relamp fixture F1 "},
		"one alone, a bit": {step(.03, 0, 1, 0), "a cleaning", "clean fixture F1 "},
		"one alone, down":  {step(-.08, 4, 5, 1), "dimmed, moved", "note fixture F5 "},
		"logged late":      {relamp, "the relamp that is logged later", "date its line"},
	} {
		reg, of := site()
		got := ask(reg, of, c.step)
		if len(got) != 1 {
			t.Errorf("%s: asked %d times: %v", name, len(got), got)
			continue
		}
		if q := got[0]; len(q.Fixtures) != len(c.step.Lamps) || !strings.Contains(q.Likely, c.likely) ||
			!strings.Contains(q.Answer, c.answer) || !strings.Contains(q.Answer, "2022-05-08") {
			t.Errorf("%s: %s", name, q)
		}
	}
}

// A line about a fixture that the fit has not weighed, such as a note, explains; a note
// of the whole site does not, nor what the fit has weighed and found too small.
func TestALineExplains(t *testing.T) {
	for _, c := range []struct {
		e    fleet.Entry
		want int // fixtures asked about
	}{
		{fleet.Entry{What: fleet.Note, Scope: fleet.OfBay, ID: "bay-1"}, 4},
		{fleet.Entry{What: fleet.Note, Scope: fleet.OfSensor, ID: "A"}, 0},
		{fleet.Entry{What: fleet.Outage, Scope: fleet.OfSite}, 0},
		{fleet.Entry{What: fleet.Note, Scope: fleet.OfSite}, 8},
		{fleet.Entry{What: fleet.Clean, Scope: fleet.OfSite, Value: "all"}, 8},
	} {
		reg, of := site()
		c.e.At = calendar.Start(stepped, time.UTC)
		reg.Logbook = []fleet.Entry{c.e}
		asked := 0
		for _, q := range ask(reg, of, step(.05, 0, 8, 0, 1)) {
			asked += len(q.Fixtures)
		}
		if asked != c.want {
			t.Errorf("%s of %s logged: asked about %d, not %d", c.e.What, c.e.Scope, asked, c.want)
		}
	}
}

// A gain that the readings contradict is asked about once, though its sensor is in two bays.
func TestAGainIsAskedAboutOnce(t *testing.T) {
	reg, of := site()
	of.Sensors = []string{"A", "A"}
	for _, l := range of.Lives {
		l.Light = []string{"A"}
	}
	d := forecast.Doubt{Day: stepped, AsFound: .96, Seen: 1.04, UpsideDown: true}
	other := d
	other.Group = 1
	got := Questions(&forecast.Found{Doubts: []forecast.Doubt{d, other}}, of, reg, time.UTC)
	if len(got) != 1 || len(got[0].Fixtures) != 8 || !strings.Contains(got[0].String(), "upside down, for 1.042") {
		t.Errorf("%v", got)
	}
}
