package report

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"wane/ingest/site"
	"wane/transform/calendar"
	"wane/transform/due"
	"wane/transform/fleet"
	"wane/transform/forecast"
	"wane/transform/hours"
	"wane/transform/lamp"
	"wane/transform/level"
	"wane/transform/robust"
	"wane/transform/simfleet"
)

// invented is a small site whose days are invented, taken through the same
// steps as read ones: hours.Add, due.FleetOf, forecast.Run.
type invented struct {
	cfg  site.Config
	reg  *fleet.Register
	rng  *rand.Rand
	day0 int32
	asOf int32
	all  []*lamp.Life
}

// hung describes one fixture of the invented site.
type hung struct {
	id, room, bay, sensor, cohort, model string
	lamp                                 fleet.LampType
	loss                                 float64 // ln per 10,000 h
	from                                 int     // day after day0
	silent                               int     // days before the end at which its logger stops
	unread                               bool
}

func at(day int32) time.Time { return calendar.Date(day) }

func newInvented(seed uint64, fixtures []hung, log []fleet.Entry) *invented {
	day := func(s string) int32 {
		t, _ := time.Parse("2006-01-02", s)
		return calendar.DayOf(t, time.UTC)
	}
	s := &invented{cfg: site.Defaults(), reg: &fleet.Register{}, rng: rand.New(rand.NewPCG(seed, 1)),
		day0: day("2023-03-01"), asOf: day("2026-02-28")}
	s.cfg.Name, s.cfg.Location = "Invented test site", time.UTC
	seen := map[string]bool{}
	for _, h := range fixtures {
		gear := fleet.Electronic
		if h.lamp == fleet.LED {
			gear = fleet.Driver
		}
		s.reg.Fixtures = append(s.reg.Fixtures, fleet.Fixture{ID: h.id, Room: h.room, Bay: h.bay, Circuit: "C-" + h.room,
			LampType: h.lamp, Cohort: h.cohort, Model: h.model, RatedW: 1000, RatedV: 230, Gear: gear,
			Installed: at(s.day0 + int32(h.from))})
		if h.unread || seen[h.sensor+h.id] {
			continue
		}
		seen[h.sensor+h.id] = true
		s.reg.Sensors = append(s.reg.Sensors, fleet.SensorPeriod{Sensor: h.sensor, Channel: "ch " + h.id,
			Quantity: fleet.PPFD, Unit: "umol/m2/s", Watches: h.id, Factor: 1})
	}
	s.reg.Logbook = log
	s.reg.Sort()
	for _, h := range fixtures {
		f := s.reg.Fixture(h.id)
		for _, fl := range s.reg.Lives(f) {
			s.all = append(s.all, s.life(h, f, fl))
		}
		s.all[len(s.all)-1].Latest = true
	}
	return s
}

// life invents the days of one lamp life: it burns 12 h a day, dirt falls
// until somebody cleans, the sensor drifts by 0.8 % a year.
func (s *invented) life(h hung, f *fleet.Fixture, fl fleet.Life) *lamp.Life {
	l := &lamp.Life{Life: fl, Fixture: f, LastDay: s.asOf,
		Place: fleet.Place{Room: f.Room, Bay: f.Bay, Circuit: f.Circuit}}
	l.FirstDay = calendar.DayOf(fl.From, time.UTC)
	l.HungDay = calendar.DayOf(f.Installed, time.UTC)
	if !fl.To.IsZero() {
		l.LastDay = calendar.DayOf(fl.To, time.UTC) - 1
	}
	if !h.unread {
		l.Light = []string{h.sensor}
	}
	var hd []hours.Day
	wiped := l.HungDay
	for d := l.FirstDay; d <= l.LastDay; d++ {
		for i := range s.reg.Logbook {
			if e := &s.reg.Logbook[i]; e.What == fleet.Clean && s.reg.Covers(e, f) && calendar.DayOf(e.At, time.UTC) == d {
				wiped = d
			}
		}
		if h.unread || d > s.asOf-int32(h.silent) {
			hd = append(hd, hours.Day{Day: d, Length: 24, GapH: 24})
			continue
		}
		hd = append(hd, hours.Day{Day: d, Length: 24, LitH: 11.9, EdgeH: 0.2})
		run := float64(d-l.FirstDay+1) * 12
		age := -h.loss*run/1e4 + 0.01*(1-math.Exp(-run/300))
		dirt := -0.05 * (1 - math.Exp(-float64(d-wiped)/250))
		drift := 0.008 * float64(d-s.day0) / 365
		v := 230 + 4*s.rng.NormFloat64()
		l.Days = append(l.Days, level.Day{Day: d, RunHours: run,
			PPFD:   900 * math.Exp(age+dirt+drift+0.05*math.Log(v/230)+0.006*s.rng.NormFloat64()),
			Usable: 40, DimPct: 100, SupplyV: v, AmbientC: 26 + s.rng.NormFloat64(), Sensor: h.sensor})
		l.LastRead, l.SensorLast = d, h.sensor
	}
	l.Totals, l.Warnings = hours.Add(hd, hours.Start{Hours: fl.StartHours, Day: l.FirstDay, First: fl.N == 1}, l.LastDay,
		12)
	var cals []level.Calibration
	for _, c := range s.reg.Calibrations(h.sensor) {
		cals = append(cals, level.Calibration{Day: calendar.DayOf(c.At, time.UTC), AsFound: c.AsFound})
	}
	l.Base.ReferenceV = f.RatedV
	var first []float64
	for i := range l.Days {
		d := &l.Days[i]
		x := level.Level{Day: d.Day, RunHours: d.RunHours, Raw: d.Raw(), Level: math.NaN(), LevelRaw: math.NaN()}
		for _, g := range level.Drift(s.day0, cals) {
			if d.Day >= g.First {
				x.Gain = -g.PerDay * float64(d.Day-g.First)
			}
		}
		x.Supply = -s.cfg.Corrections.Supply[l.Gear] * math.Log(d.SupplyV/f.RatedV)
		x.Output = x.Raw * math.Exp(x.Gain+x.Supply)
		if x.RunHours >= 100 && len(first) < s.cfg.Baseline.Days {
			first = append(first, x.Output)
		}
		l.Levels = append(l.Levels, x)
	}
	if l.Base.Baseline = s.cfg.Baseline.None(100); len(first) > 0 {
		base := robust.Median(first)
		l.Base.Baseline = s.cfg.Baseline.Of(base, robust.SD(first, base)/robust.Normal, 100, len(first), 108)
		for i := range l.Levels {
			if x := &l.Levels[i]; x.RunHours >= 100 {
				x.Level, x.LevelRaw = x.Output/base, x.Raw/base
			}
		}
	}
	l.Weeks = simfleet.Weeks(dailies(l))
	if len(l.Days) > 0 {
		l.RecordFrom = l.Days[0].Day
	}
	return l
}

// dailies gives the life's days as the weeks are made of them.
func dailies(l *lamp.Life) (out []simfleet.Daily) {
	for i := range l.Days {
		d := &l.Days[i]
		out = append(out, simfleet.Daily{Day: int(d.Day), Hours: d.RunHours, Value: d.Raw(), Dim: d.DimPct / 100,
			Supply: math.Log(d.SupplyV / l.Base.ReferenceV), HasSupply: true, Ambient: d.AmbientC, HasAmbient: true})
	}
	return out
}

// result asks as due.Ask does.
func (s *invented) result(t testing.TB) *due.Result {
	t.Helper()
	f := due.FleetOf(s.all, s.reg, s.cfg.Rules(), s.asOf, 0.8)
	fit, err := forecast.Run(&f.Input, forecast.Options{})
	if err != nil {
		t.Fatal(err)
	}
	posterior, answers := map[int]*forecast.Posterior{}, map[int]forecast.Answer{}
	ps := fit.Posteriors()
	for i := range ps {
		posterior[ps[i].Lamp] = &ps[i]
	}
	for _, a := range fit.Answers(forecast.Asking{Interval: 0.8}) {
		answers[a.Lamp] = a
	}
	out := &due.Result{AsOf: s.asOf, Interval: 0.8, Lives: s.all, Register: s.reg, Fit: fit, Fleet: &f,
		Alone: map[*lamp.Life]*forecast.Posterior{}, Notes: []string{"logbook line 7: no lamp with readings stands under this reference on that day: not used"}}
	for i, l := range f.Lives {
		if posterior[i] != nil {
			out.Alone[l] = posterior[i]
		}
		if a, ok := answers[i]; ok && (l.InService() || l.Dark()) && !s.reg.Retired(l.Fixture) {
			out.Due = append(out.Due, due.Lamp{Life: l, AsOf: s.asOf, Threshold: f.Input.Lamps[i].Threshold, Answer: a,
				Posterior: posterior[i], Interval: 0.8})
		}
	}
	return out
}

// site of three rooms with something of everything.
func threeRooms() *invented {
	var list []hung
	var log []fleet.Entry
	day0 := int32(19417) // 2023-03-01
	add := func(day int, what fleet.What, scope fleet.Scope, id, value string, n float64, note string) {
		log = append(log, fleet.Entry{At: at(day0 + int32(day)), What: what, Scope: scope, ID: id, Value: value, Number: n,
			Note: note})
	}
	for i := range 8 {
		h := hung{id: fmt.Sprintf("A%02d", i+1), room: "flower 1", bay: fmt.Sprintf("A-%d", i/4+1),
			sensor: fmt.Sprintf("S-A%d", i/4+1), cohort: "K2-DE-a", model: "make K2", lamp: fleet.HPSDE,
			loss: 0.075 + 0.006*float64(i%4), from: 20}
		if i >= 4 {
			h.cohort, h.model, h.loss = "P7-DE-a", "make P7", 0.10+0.012*float64(i%4)
		}
		list = append(list, h)
		b := hung{id: fmt.Sprintf("B%02d", i+1), room: "flower 2", bay: "B-1", sensor: "S-B", cohort: "K2-SE-a",
			model: "make K2", lamp: fleet.HPSSE, loss: 0.085 + 0.004*float64(i), from: 300}
		if i >= 5 {
			b.cohort, b.model, b.sensor, b.from = "P7-SE-a", "make P7", "S-B2", 900
		}
		list = append(list, b)
		list = append(list, hung{id: fmt.Sprintf("L%02d", i+1), room: "nursery", bay: "L-1", sensor: "S-L", cohort: "T4-LE-a",
			model: "make T4", lamp: fleet.LED, loss: 0.03 + 0.004*float64(i), from: 10})
	}
	for _, d := range []int{200, 400, 620, 850, 1020} {
		add(d, fleet.Clean, fleet.OfRoom, "flower 1", "all", 0, "yearly round")
	}
	add(500, fleet.Clean, fleet.OfRoom, "nursery", "all", 0, "")
	add(365, fleet.Recalibrate, fleet.OfSensor, "S-A1", "1.008", 1.008, "by the maker")
	add(730, fleet.Recalibrate, fleet.OfSensor, "S-A1", "1.009", 1.009, "")
	add(730, fleet.Recalibrate, fleet.OfSensor, "S-A2", "1.016", 1.016, "")
	add(720, fleet.Recalibrate, fleet.OfSensor, "S-L", "1.015", 1.015, "")
	add(610, fleet.Relamp, fleet.OfFixture, "A05", "P7-DE-b", 0, "spot")
	add(830, fleet.Relamp, fleet.OfFixture, "A05", "K2-DE-b", 0, "")
	add(700, fleet.Relamp, fleet.OfFixture, "A06", "P7-DE-b", 0, "faded")
	add(1060, fleet.Fail, fleet.OfFixture, "B02", "no ignition", 0, "")
	add(1000, fleet.Retire, fleet.OfFixture, "L08", "", 0, "rack taken out")
	for i := range list {
		if list[i].sensor == "S-B2" {
			list[i].silent = 12
		}
	}
	list = append(list, hung{id: "N01", room: "nursery", bay: "L-2", sensor: "S-N", cohort: "T4-LE-a", model: "make T4",
		lamp: fleet.LED, loss: 0.03, from: 10, unread: true})
	return newInvented(1, list, log)
}

func threeRoomsInput(t testing.TB) Input {
	s := threeRooms()
	return Input{Config: s.cfg, Result: s.result(t), Invented: "Invented data: this site does not exist.",
		Needs: []Need{{Where: "bay 3.csv", What: "14 rows in quarantine: the time goes backwards",
			Do: "see archive/quarantine, correct the logger's clock"},
			{Where: "logger Q7, channel 2", What: "an unknown series: 96 readings a day that the register does not know",
				Do: "add a row to register/sensors.csv"}},
		Evidence: map[string]Evidence{"A01": {Read: 52560, Used: 40110, Files: []File{{"bay A 2025-11.csv", "9f2c…", 2880}},
			LeftOut: []LeftOut{{"running up", 1200}, {"edge", 90}}}},
		Surveys: inventedSurveys(s.cfg), Supply: inventedSupply(t),
	}
}
