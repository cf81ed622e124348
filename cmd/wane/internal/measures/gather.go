// Package measures gathers from a site what package measure weighs: the fit with its
// answers, who hangs where under which sensor, and the plan's money and visits.
package measures

import (
	"slices"

	"wane/cmd/wane/internal/plans"
	"wane/transform/calendar"
	"wane/transform/due"
	"wane/transform/forecast"
	"wane/transform/measure"
	"wane/transform/plan"
)

// Gather needs a result that holds its fit. m may be nil: then nothing is planned, and
// nothing of a lamp is priced.
func Gather(res *due.Result, m *plans.Made, settings plan.Settings) *measure.Input {
	in := &measure.Input{AsOf: calendar.Date(res.AsOf), Fit: res.Fit, Settings: settings,
		Asking: forecast.Asking{Interval: res.Interval, Widen: res.Calibration.Widen}}
	planned, worth := map[string]*plan.LampPlan{}, map[string]*plan.Lamp{}
	if m != nil {
		for i := range m.Result.Lamps {
			planned[m.Result.Lamps[i].Fixture] = &m.Result.Lamps[i]
		}
		for i := range m.Input.Lamps {
			worth[m.Input.Lamps[i].Fixture] = &m.Input.Lamps[i]
		}
		for _, v := range m.Result.Visits {
			in.Visits = append(in.Visits, measure.Visit{Room: v.Room, Day: v.Date})
		}
	}
	sensor := sensorsOf(in, res)
	for i := range res.Due {
		d := &res.Due[i]
		if d.Posterior == nil || d.Posterior.Surveyed {
			continue
		}
		at := &res.Fleet.Input.Lamps[d.Posterior.Lamp]
		l := measure.Lamp{Fixture: d.Life.Fixture.ID, Room: d.Life.Place.Room, Bay: d.Life.Place.Bay, Circuit: d.Life.Place.Circuit,
			LampType: string(d.Life.LampType), Group: at.GroupOn(int(res.AsOf)), BurnPerDay: at.Burn.PerDay, Sensor: -1}
		l.Sensor = sensor[l.Group]
		if w := worth[l.Fixture]; w != nil {
			l.BurnPerDay, l.Worth = w.BurnPerDay, settings.Worth(*w)
		}
		if p := planned[l.Fixture]; p != nil && comesDown(p.Decision) {
			l.Down = p.Date
		}
		in.Posteriors, in.Answers, in.Lamps = append(in.Posteriors, *d.Posterior), append(in.Answers, d.Answer), append(in.Lamps, l)
	}
	placeSensors(in)
	return in
}

func comesDown(d plan.Decision) bool { return d == plan.SpotRelamp || d == plan.GroupRelamp }

// sensorsOf numbers the sensors; what each watches in a bay is a group of the fit.
func sensorsOf(in *measure.Input, res *due.Result) []int {
	index, out := map[string]int{}, make([]int, len(res.Fleet.Sensors))
	for g, name := range res.Fleet.Sensors {
		if name == "" {
			out[g] = -1
			continue
		}
		s, ok := index[name]
		if !ok {
			s = len(in.Sensors)
			index[name] = s
			in.Sensors = append(in.Sensors, measure.Sensor{Name: name})
		}
		in.Sensors[s].Groups, out[g] = append(in.Sensors[s].Groups, g), s
	}
	return out
}

// placeSensors says of each sensor in which rooms it watches, and one fixture there.
func placeSensors(in *measure.Input) {
	for i := range in.Lamps {
		l := &in.Lamps[i]
		if l.Sensor < 0 {
			continue
		}
		s := &in.Sensors[l.Sensor]
		if s.Fixture == "" || l.Fixture < s.Fixture {
			s.Fixture = l.Fixture
		}
		if !slices.Contains(s.Rooms, l.Room) {
			s.Rooms = append(s.Rooms, l.Room)
			slices.Sort(s.Rooms)
		}
	}
}
