// Package measuresim makes sites of invented fleets whose truth is known, and makes on
// them the measurements that package measure asks for: to hold what was promised
// against what happened. All of it is invented, prices too.
package measuresim

import (
	"fmt"
	"math"
	"math/rand/v2"
	"time"

	"wane/transform/forecast"
	"wane/transform/measure"
	"wane/transform/plan"
	"wane/transform/simfleet"
)

// Settings are an invented grower's costs.
func Settings() plan.Settings {
	p := func(x float64) *float64 { return &x }
	return plan.Settings{
		Currency: "EUR",
		Site: plan.Terms{WagePerHour: p(34), LiftPerVisit: p(60), DisposalPerLamp: p(2), LabourSpotMin: p(25),
			CropValueM2Year: p(120),
			LampShare:       p(.8), AreaM2: p(2)},
		LampTypes: map[string]plan.Terms{forecast.HPSDE: {LampPrice: p(95)}, forecast.HPSSE: {LampPrice: p(38)},
			forecast.CMH: {LampPrice: p(62)},
			forecast.LED: {LampPrice: p(420)}},
		Measure: map[string]plan.MeasureTerms{plan.Recalibrate: {Price: p(40)}},
	}
}

// Site fits what was known and gives what measure asks of it.
func Site(known *forecast.Input, s plan.Settings) (*measure.Input, error) {
	fit, err := forecast.Run(known, forecast.Options{})
	if err != nil {
		return nil, fmt.Errorf("fit: %w", err)
	}
	in := &measure.Input{AsOf: time.Unix(int64(known.AsOf)*86400, 0).UTC(), Fit: fit, Posteriors: fit.Posteriors(),
		Settings: s}
	for g := range known.Groups {
		in.Sensors = append(in.Sensors, measure.Sensor{Name: known.Groups[g].ID, Groups: []int{g}})
	}
	d := fit.Defaults()
	for i := range in.Posteriors {
		p := &in.Posteriors[i]
		l := &known.Lamps[p.Lamp]
		in.Answers = append(in.Answers, p.Answer(d, in.Asking))
		x := measure.Lamp{Fixture: l.Fixture, Room: l.Room, Bay: known.Groups[l.Group].ID, Circuit: l.Room,
			LampType: l.Class, Sensor: l.Group, Group: l.Group,
			BurnPerDay: l.Burn.PerDay}
		x.Worth = s.Worth(plan.Lamp{Room: l.Room, LampType: l.Class, BurnPerDay: l.Burn.PerDay})
		in.Lamps = append(in.Lamps, x)
		u := &in.Sensors[l.Group]
		if len(u.Rooms) == 0 {
			u.Rooms, u.Fixture = []string{l.Room}, l.Fixture
		}
	}
	lamps(in)
	return in, nil
}

// downIn is when each room's oldest lamp comes down, days; surveySD is the noise of
// canopy surveys of every fourth fixture, which were surveyed when their lamps were new.
const (
	downIn   = 14
	surveySD = .015
)

// lamps plans one of each room to come down, and says which can be surveyed.
func lamps(in *measure.Input) {
	oldest := map[string]int{}
	for i := range in.Lamps {
		l, p := &in.Lamps[i], &in.Posteriors[i]
		if i%4 == 0 && p.FirstHours < 1000 {
			l.Survey = surveySD
		}
		if k, ok := oldest[l.Room]; !p.Dark && (!ok || p.HoursNow > in.Posteriors[k].HoursNow) {
			oldest[l.Room] = i
		}
	}
	for _, i := range oldest {
		in.Lamps[i].Down = in.AsOf.AddDate(0, 0, downIn)
	}
}

// Make makes a measurement as it would have come out, and writes it into what is
// known. Cleanings and voltage loggers are for simfleet.Options.Cleaned and Logged, which
// play what follows.
func Make(f *simfleet.Fleet, known *forecast.Input, c *measure.Candidate, rng *rand.Rand) {
	day0 := f.Input.AsOf - len(f.Gain[0]) + 1
	gain := func(g int) float64 { return f.Gain[g][known.AsOf-day0] }
	for _, g := range c.Recalibrated() {
		x := math.Exp(gain(g) + forecast.DefaultTable().Sensor.AsFound*rng.NormFloat64())
		known.Groups[g].Recals = append(known.Groups[g].Recals, forecast.Recal{Day: known.AsOf, AsFound: x})
	}
	for _, i := range c.Levels() {
		l, t := &known.Lamps[i], &f.Truth[i]
		sd := measure.LabSD
		if c.Kind == plan.Survey {
			sd = surveySD
		}
		dirt := t.Dirt[known.AsOf-l.Hung] - t.Dirt[l.Bins[0].Day-l.Hung]
		ref := forecast.Reference{Day: known.AsOf, Lamp: i, SD: sd,
			Ln: math.Log(t.At(l.HoursNow)) - dirt + sd*rng.NormFloat64()}
		known.Groups[l.Group].References = append(known.Groups[l.Group].References, ref)
		if c.Kind == plan.Lab {
			l.Ended, l.EndDay = true, known.AsOf
		}
	}
	if c.Kind == plan.Reference {
		for _, g := range c.Checked() {
			known.Groups[g].References = append(known.Groups[g].References,
				forecast.Reference{Day: known.AsOf, Lamp: -1, Ln: gain(g) + measure.MeterSD*rng.NormFloat64()})
		}
	}
}
