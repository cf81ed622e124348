package plans

import (
	"encoding/json"
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"wane/queries"
	"wane/transform/calendar"
	"wane/transform/due"
	"wane/transform/estimate"
	"wane/transform/fleet"
	"wane/transform/lamp"
	"wane/transform/plan"
)

// metered makes a gatherer of three fixtures under the given power series.
func metered(sensors []fleet.SensorPeriod, watts float64, dark bool) *gatherer {
	asOf := int32(20000)
	reg := &fleet.Register{Sensors: sensors}
	for i, rated := range []float64{600, 600, 300} {
		reg.Fixtures = append(reg.Fixtures, fleet.Fixture{ID: string(rune('a' + i)), Room: "R", Bay: "B",
			LampType: fleet.HPSDE, RatedW: rated})
	}
	g := &gatherer{res: &due.Result{AsOf: asOf, Register: reg}, loc: time.UTC, late: map[string][]queries.BurningRow{}}
	g.end = calendar.Start(asOf+1, time.UTC).Add(-time.Microsecond)
	for i := range reg.Fixtures {
		f := &reg.Fixtures[i]
		l := &lamp.Life{Fixture: f, Place: fleet.Place{Room: "R", Bay: "B"}, Latest: true}
		if dark && i == 2 {
			l.End = fleet.Fail
		}
		g.res.Due = append(g.res.Due, due.Lamp{Life: l})
		for d := asOf - lateDays + 1; d <= asOf; d++ {
			g.late[f.ID] = append(g.late[f.ID], queries.BurningRow{Fixture: f.ID, Day: calendar.Date(d),
				PowerW: queries.Null{V: watts, Valid: true}, DimPct: queries.Null{V: 100, Valid: true}})
		}
	}
	return g
}

func TestPowerOfASharedMeterIsSharedOut(t *testing.T) {
	room := []fleet.SensorPeriod{{Sensor: "PM", Channel: "W", Quantity: fleet.PowerW, Watches: "R", Factor: 1}}
	p := metered(room, 1650, false).powers()
	if p["a"].watts != 660 || p["c"].watts != 330 || p["a"].shared != 3 || p["a"].rated != 0 {
		t.Errorf("1,650 W over 600, 600 and 300 W: %+v", p)
	}
	p = metered(room, 1320, true).powers()
	if p["a"].watts != 660 || p["b"].watts != 660 {
		t.Errorf("1,320 W over the two that burn: %+v", p)
	}
	if _, ok := p["c"]; ok {
		t.Error("a dark lamp was given power")
	}
	own := []fleet.SensorPeriod{{Sensor: "PM", Channel: "1", Quantity: fleet.PowerW, Watches: "b", Factor: 1}}
	p = metered(own, 580, false).powers()
	if len(p) != 1 || p["b"].watts != 580 || p["b"].rated != 600 || p["b"].shared != 1 {
		t.Errorf("a meter of its own: %+v", p)
	}
}

// What restarts with its circuit is put down to the supply.
func TestRestartsOfAWholeCircuitAreTheSupply(t *testing.T) {
	var hung []*lamp.Life
	days := map[string][]plan.DayEdges{}
	for _, id := range []string{"a", "b", "c"} {
		hung = append(hung, &lamp.Life{Fixture: &fleet.Fixture{ID: id}, Place: fleet.Place{Circuit: "C"}})
		days[id] = make([]plan.DayEdges, cycleDays)
		for k := range days[id] {
			days[id][k] = plan.DayEdges{On: 1, Scheduled: 1}
		}
	}
	days["a"][3].On, days["b"][3].On, days["c"][3].On = 3, 2, 1 // half of the others too
	days["a"][5].On = 4                                         // alone
	d := dips(hung[0], hung, days)
	if !d[3] || d[5] || len(d) != 1 {
		t.Errorf("dips of a: %v", d)
	}
	hung[1].Place.Circuit, hung[2].Place.Circuit = "", "D"
	if d := dips(hung[0], hung, days); len(d) != 0 {
		t.Errorf("a lamp alone on its circuit has no evidence: %v", d)
	}
}

func TestHoursAreSplitAtMidnight(t *testing.T) {
	loc, err := time.LoadLocation("Europe/Amsterdam")
	if err != nil {
		t.Fatal(err)
	}
	g := &gatherer{loc: loc}
	first := calendar.DayOf(time.Date(2026, 3, 28, 12, 0, 0, 0, loc), loc)
	d := make([]plan.DayEdges, 3)
	// over the night in which the clocks go forward: 6 h before midnight, 5 h on a day of 23
	g.burned(d, first, time.Date(2026, 3, 28, 18, 0, 0, 0, loc), time.Date(2026, 3, 29, 6, 0, 0, 0, loc))
	if d[0].HoursOn != 6 || d[1].HoursOn != 5 || d[2].HoursOn != 0 {
		t.Errorf("hours %v", d)
	}
}

func TestGearIsNamedInTheLogbook(t *testing.T) {
	for words, want := range map[string]bool{"does not strike": false, "Ballast hums": true, "driver dead": true,
		"arc tube broken": false, "igniter": true} {
		if namesGear(words) != want {
			t.Errorf("%q", words)
		}
	}
}

// Whatever a plan holds, its document is JSON without a number that is none.
func TestDocumentHoldsAnyPlan(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := func(name string) float64 {
			return rapid.OneOf(rapid.Float64(), rapid.SampledFrom([]float64{math.NaN(), math.Inf(1), math.Inf(-1), 0})).Draw(t,
				name)
		}
		m := &Made{Result: plan.Result{
			Currency: rapid.String().Draw(t, "currency"),
			Lamps: []plan.LampPlan{{Fixture: rapid.String().Draw(t, "fixture"), Cost: x("cost"),
				LossPerYear: estimate.Estimate{Centre: x("centre"), Lo: x("lo"), Hi: x("hi")}}},
			Orders: []plan.Order{{OrderBy: time.Unix(rapid.Int64Range(0, 4e9).Draw(t, "at"), 0).UTC()}},
		}}
		b, err := m.JSON()
		if err != nil {
			t.Fatal(err)
		}
		var back map[string]any
		if err := json.Unmarshal(b, &back); err != nil {
			t.Fatalf("%v\n%s", err, b)
		}
		if _, ok := back["as_of"]; !ok || back["as_of"] != nil {
			t.Fatalf("a plan of no day says %v", back["as_of"])
		}
	})
}

func TestKeysAreUnderscored(t *testing.T) {
	for name, want := range map[string]string{"AsOf": "as_of", "LossPerYear": "loss_per_year", "HiOpen": "hi_open",
		"LeadLampDays": "lead_lamp_days", "Lo": "lo", "N": "n", "EnergyPerMol": "energy_per_mol",
		"LightLostMolYear": "light_lost_mol_year"} {
		if got := underscored(name); got != want {
			t.Errorf("%s: %s, want %s", name, got, want)
		}
	}
}

func TestMoney(t *testing.T) {
	for x, want := range map[float64]string{0: "EUR 0", 999.4: "EUR 999", 1234.5: "EUR 1,234", 1234567: "EUR 1,234,567",
		-1234: "EUR -1,234", -0.2: "EUR 0"} {
		if got := Money("EUR", x); got != want {
			t.Errorf("%g: %q, want %q", x, got, want)
		}
	}
	if got := Money("", 1000); got != "1,000" {
		t.Errorf("without a currency: %q", got)
	}
}

// Alike work stands together, bay after bay.
func TestTogether(t *testing.T) {
	v := plan.Visit{Work: []plan.WorkItem{
		{Bay: "A", Fixture: "a1", Do: plan.GroupRelamp, Why: "w"},
		{Bay: "A", Fixture: "a2", Do: plan.SpotRelamp, Why: "dark"},
		{Bay: "A", Fixture: "a3", Do: plan.GroupRelamp, Why: "w"}, {Bay: "B", Fixture: "b1", Do: plan.GroupRelamp, Why: "w"},
	}}
	got := Together(v)
	if len(got) != 2 || len(got[0].Bays) != 2 || strings.Join(got[0].Bays[0].Fixtures, " ") != "a1 a3" ||
		got[0].Bays[1].Bay != "B" || got[1].Why != "dark" {
		t.Errorf("%+v", got)
	}
}

// Work that nobody gave a price for is not free.
func TestUnpricedWorkIsNotFree(t *testing.T) {
	priced, not := plan.WorkItem{Do: plan.SpotRelamp, Cost: 80}, plan.WorkItem{Do: plan.SpotRelamp}
	for _, c := range []struct {
		v    plan.Visit
		want string
	}{
		{plan.Visit{Work: []plan.WorkItem{not, not}}, "not priced"},
		{plan.Visit{Cost: 170, Work: []plan.WorkItem{priced}}, "EUR 170"},
		{plan.Visit{Cost: 170, Work: []plan.WorkItem{priced, not}}, "EUR 170, without 1 piece that is not priced"},
	} {
		if got := Priced(c.v, "EUR"); got != c.want {
			t.Errorf("got %q, want %q", got, c.want)
		}
	}
}
