package unexplained

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"wane/transform/calendar"
	"wane/transform/fleet"
	"wane/transform/lamp"
	"wane/transform/level"
)

const first, stepped = 19000, 19120

func at(day int32) time.Time { return calendar.Start(day, time.UTC) }

// site is eight fixtures in two bays of a room, read from 19000 on by a sensor a bay; those
// named step by so much on a day.
func site(sensors []string, step float64, who ...string) (*fleet.Register, []*lamp.Life) {
	reg := &fleet.Register{}
	for k := range 8 {
		f := fleet.Fixture{ID: fmt.Sprintf("F%d", k+1), Room: "veg", Bay: fmt.Sprintf("bay-%d", k/4+1), LampType: fleet.HPSDE}
		reg.Fixtures = append(reg.Fixtures, f)
		reg.Sensors = append(reg.Sensors, fleet.SensorPeriod{Sensor: sensors[k/4], Channel: f.ID, Quantity: fleet.PPFD,
			Watches: f.ID, Factor: 1})
	}
	rng := rand.New(rand.NewPCG(3, 4))
	var lives []*lamp.Life
	for k := range reg.Fixtures {
		f := &reg.Fixtures[k]
		l := &lamp.Life{Fixture: f, Place: fleet.Place{Room: f.Room, Bay: f.Bay}, Latest: true,
			SensorLast: sensors[k/4], Light: []string{sensors[k/4]},
			FirstDay: first, LastDay: first + 239}
		for d := int32(first); d <= l.LastDay; d++ {
			ln := -1e-4*float64(d-first) + .003*rng.NormFloat64()
			if d >= stepped && strings.Contains(" "+strings.Join(who, " ")+" ", " "+f.ID+" ") {
				ln += step
			}
			l.Levels = append(l.Levels, level.Level{Day: d, Output: 600 * math.Exp(ln)})
		}
		lives = append(lives, l)
	}
	return reg, lives
}

var all = []string{"F1", "F2", "F3", "F4", "F5", "F6", "F7", "F8"}

// What stepped together is asked once, and the answer names the smallest scope that
// holds it all.
func TestAskedOnceWithItsScope(t *testing.T) {
	for name, c := range map[string]struct {
		sensors []string
		step    float64
		who     []string
		likely  string
		answer  string
	}{
		"one bay":              {[]string{"A", "B"}, .05, all[:4], "a cleaning, or the sensor", "clean bay bay-1 "},
		"both bays, a sensor":  {[]string{"A", "A"}, .05, all, "a cleaning, or the sensor", "clean room veg "},
		"both bays, two":       {[]string{"A", "B"}, .05, all, "a cleaning round", "clean room veg "},
		"both bays, down, two": {[]string{"A", "B"}, -.05, all, "supply, dimming, daylight or an outage", "dim room veg "},
		"one alone":            {[]string{"A", "B"}, .08, all[:1], "a new lamp", "relamp fixture F1 "},
	} {
		reg, lives := site(c.sensors, c.step, c.who...)
		got := Steps(lives, reg, time.UTC)
		if len(got) != 1 {
			t.Errorf("%s: asked %d times: %v", name, len(got), got)
			continue
		}
		q := got[0]
		if len(q.Fixtures) != len(c.who) || !strings.Contains(q.Likely, c.likely) || !strings.Contains(q.Answer, c.answer) {
			t.Errorf("%s: %s", name, q)
		}
	}
}

// A cleaning of the whole site that was logged is not asked about again; a note of the
// site explains nothing.
func TestALoggedSiteExplains(t *testing.T) {
	for what, want := range map[fleet.What]int{fleet.Clean: 0, fleet.Note: 1} {
		reg, lives := site([]string{"A", "B"}, .05, all...)
		reg.Logbook = []fleet.Entry{{At: at(stepped), What: what, Scope: fleet.OfSite, Value: "all"}}
		if got := Steps(lives, reg, time.UTC); len(got) != want {
			t.Errorf("%s of the site logged: %d questions, not %d", what, len(got), want)
		}
	}
}

// A question from before a swap names the sensor that stood there then.
func TestTheSensorOfTheTime(t *testing.T) {
	reg, lives := site([]string{"A", "B"}, -.05, all[:4]...)
	for k := range 4 {
		old := &reg.Sensors[k]
		old.To = at(stepped + 60)
		reg.Sensors = append(reg.Sensors, fleet.SensorPeriod{Sensor: "NEW", Channel: old.Channel, Quantity: fleet.PPFD,
			Watches: old.Watches, Factor: 1, From: old.To})
		lives[k].SensorLast, lives[k].Light = "NEW", []string{"A", "NEW"}
	}
	got := Steps(lives, reg, time.UTC)
	if len(got) != 1 || got[0].Sensor != "A" || !strings.Contains(got[0].Answer, "recalibrate sensor A") {
		t.Errorf("%v", got)
	}
}
