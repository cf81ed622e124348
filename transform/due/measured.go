package due

import (
	"slices"

	"wane/transform/calendar"
	"wane/transform/forecast"
	"wane/transform/measure"
	"wane/transform/plan"
)

// ToMeasure is what package measure weighs, of a result and the fit that it was made
// by: which lamp stands under which sensor, and how it was answered. Money and planned
// visits are for the caller to add.
func ToMeasure(r *Result, fit *forecast.Fit, f *Fleet, settings plan.Settings) *measure.Input {
	in := &measure.Input{AsOf: calendar.Date(r.AsOf), Fit: fit, Settings: settings,
		Asking: forecast.Asking{Interval: r.Interval}.Recorded(r.Calibration)}
	sensor := sensorsOf(in, f)
	for i := range r.Due {
		d := &r.Due[i]
		if d.Posterior == nil {
			continue
		}
		if d.Posterior.Surveyed {
			in.Surveyed++
			continue
		}
		at := &f.Input.Lamps[d.Posterior.Lamp]
		l := measure.Lamp{Fixture: d.Life.Fixture.ID, Room: d.Life.Place.Room, Bay: d.Life.Place.Bay,
			Circuit: d.Life.Place.Circuit, LampType: string(d.Life.LampType), Group: at.GroupOn(int(r.AsOf)),
			BurnPerDay: at.Burn.PerDay, Survey: f.Surveys[d.Posterior.Lamp]}
		l.Sensor = sensor[l.Group]
		in.Posteriors, in.Answers, in.Lamps = append(in.Posteriors, *d.Posterior), append(in.Answers,
			d.Answer), append(in.Lamps, l)
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
	return in
}

// sensorsOf numbers the sensors; what each watches in a bay is a group of the fit.
func sensorsOf(in *measure.Input, f *Fleet) []int {
	index, out := map[string]int{}, make([]int, len(f.Sensors))
	for g, name := range f.Sensors {
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

// settle gives each lamp that something would settle its one best step, as it is
// weighed by the fit.
func (r *Result) settle(fit *forecast.Fit, f *Fleet, settings plan.Settings) {
	in := ToMeasure(r, fit, f, settings)
	best := map[string]string{}
	for i, step := range measure.Steps(in) {
		if step != "" {
			best[in.Lamps[i].Fixture] = step
		}
	}
	for i := range r.Due {
		d := &r.Due[i]
		step, ok := best[d.Life.Fixture.ID]
		if !ok || d.Posterior == nil || d.Posterior.Surveyed {
			continue
		}
		d.Answer.Reason = d.Bare
		d.Answer.SettleBy(step)
		d.Bare = d.Answer.Reason
		d.Answer.Reason = joinReasons(d.Bare, d.Extra)
	}
}
