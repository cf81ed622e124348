package plan

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"
)

// Dirt that explains the loss is cleaned off before a lamp is bought.
func TestCleanFirstWhereDirtExplainsTheLoss(t *testing.T) {
	in := site()
	in.Settings.Threshold = "limit"
	in.Rooms[0].LastCleaned = asOf.AddDate(-2, 0, 0)
	for i := range in.Lamps {
		if in.Lamps[i].Room == "A" {
			in.Lamps[i].Level, in.Lamps[i].DirtShare = exact(0.87), exact(0.8)
		}
	}
	r := Make(in)
	l := lampOf(t, r, "A00")
	if l.Decision != Clean || l.Date.IsZero() || !has(l.Reasons, "dirt explains 80 % of the loss") {
		t.Errorf("%s on %s: %v", l.Decision, l.Date, l.Reasons)
	}
	if c := r.Rooms[0].Clean; !c.Do || c.Cost != 60+8*2 || !has(c.Reasons, "cleaning comes before relamping") {
		t.Errorf("%+v", c)
	}
	// The same loss by age is no matter of cleaning.
	for i := range in.Lamps {
		in.Lamps[i].DirtShare = exact(0.05)
	}
	if l := lampOf(t, Make(in), "A00"); l.Decision == Clean {
		t.Errorf("cleaned a lamp that aged: %v", l.Reasons)
	}
}

func TestDirtThatCostsMoreThanACleaningIsCleaned(t *testing.T) {
	in := site()
	in.Settings.Site.CropValueM2Year = num(900)
	r := Make(in).Rooms[0].Clean
	if !r.Do || r.Date.IsZero() || r.IntervalDays <= 0 || r.GainYear <= 0 {
		t.Errorf("%+v", r)
	}
	in.Settings.Site.CropValueM2Year = num(5)
	if r := Make(in).Rooms[0].Clean; r.Do || !has(r.Reasons, "cleaning does not pay") {
		t.Errorf("%+v", r)
	}
	in.Settings.Site.CleanPerRoom, in.Settings.Site.CleanPerFixture = nil, nil
	if r := Make(in).Rooms[0].Clean; r.Do || !has(r.Reasons, "no cleaning cost given") {
		t.Errorf("%+v", r)
	}
}

func TestGearAndDarkLamps(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*Lamp)
		want   Decision
		why    string
	}{
		"gear fault":     {func(l *Lamp) { l.GearFault = "ignites three times a night" }, ReplaceGear, "three times"},
		"repeated fails": {func(l *Lamp) { l.RecentFail = 2 }, ReplaceGear, "2 lamps failed here"},
		"power explains": {func(l *Lamp) { l.PowerW, l.Level = 840, exact(0.8) }, ReplaceGear,
			"check supply and set point first"},
		"power is full":   {func(l *Lamp) { l.Level = exact(0.8) }, GroupRelamp, ""},
		"dark":            {func(l *Lamp) { l.Status, l.Level = "dark", unknown() }, SpotRelamp, "gives no light"},
		"cycling":         {func(l *Lamp) { l.Cycling = true }, SpotRelamp, "end of a discharge lamp's life"},
		"dark after many": {func(l *Lamp) { l.Status, l.RecentFail, l.Level = "dark", 3, unknown() }, ReplaceGear, "3 lamps"},
	} {
		in := site()
		c.change(&in.Lamps[10])
		r := Make(in)
		sound(t, r)
		l := lampOf(t, r, in.Lamps[10].Fixture)
		if name == "power is full" {
			if l.Decision == ReplaceGear {
				t.Errorf("%s: %s", name, l.Decision)
			}
			continue
		}
		if l.Decision != c.want || !has(l.Reasons, c.why) {
			t.Errorf("%s: %s, %v", name, l.Decision, l.Reasons)
		}
		if c.want == SpotRelamp && (l.Date.IsZero() || l.Date.After(r.AsOf.AddDate(0, 0, 5))) {
			t.Errorf("%s: a lamp lies in the store, yet the day is %s", name, l.Date)
		}
		if c.want == ReplaceGear && !l.Date.IsZero() && l.Date.Before(r.AsOf.AddDate(0, 0, 35)) {
			t.Errorf("%s: gear takes 35 days, yet the day is %s", name, l.Date)
		}
	}
}

func TestUniformityAsked(t *testing.T) {
	in := site()
	in.Settings.Site.MinUniformity = num(0.9)
	in.Lamps[2].Level = exact(0.7)
	r := Make(in)
	if l := lampOf(t, r, "A02"); l.Decision != SpotRelamp || !has(l.Reasons, "lowest level under 90 % of its mean") {
		t.Errorf("%s: %v", l.Decision, l.Reasons)
	}
	if u := r.Rooms[0]; u.Uniformity >= 0.9 || u.UniformLoss <= 0 {
		t.Errorf("%+v", u.Uniformity)
	}
}

// Order day = visit day - lead time; both follow the due quantile and the windows.
func TestOrdersLeadTheirVisits(t *testing.T) {
	in := site()
	in.Settings.Threshold = "limit"
	in.Settings.Site.Work = []Window{{From: "2027-07-05", To: "2027-07-16"}, {From: "2028-01-10", To: "2028-01-21"},
		{From: "2028-07-03", To: "2028-07-14"}}
	r := Make(in)
	byDate := map[time.Time]int{}
	for _, v := range r.Visits {
		if m := v.Date.Month(); m != time.July && m != time.January {
			t.Errorf("visit on %s", v.Date)
		}
		byDate[v.Date] += v.Disposal
	}
	for _, o := range r.Orders {
		if o.Planned == 0 {
			continue
		}
		if lead := o.NeededBy.Sub(o.OrderBy).Hours() / 24; lead != 21 && !o.OrderBy.Equal(r.AsOf) {
			t.Errorf("order on %s for %s: %g days", o.OrderBy, o.NeededBy, lead)
		}
		if byDate[o.NeededBy] != o.Planned {
			t.Errorf("%s: %d ordered or taken, %d lamps changed", o.NeededBy, o.Planned, byDate[o.NeededBy])
		}
	}
	for _, l := range r.Lamps {
		// Room B crosses through 2028: the last window before, never the next after.
		if l.Room == "B" && l.Date.After(l.DueAtRisk) && !has(l.Reasons, "later than wanted") {
			t.Errorf("%s on %s, due %s: %v", l.Fixture, l.Date, l.DueAtRisk, l.Reasons)
		}
	}
}

func TestLateOrdersSaySo(t *testing.T) {
	in := site()
	in.Settings.Stock = nil
	in.Settings.Site.LeadLampDays = num(200)
	r := Make(in)
	late := false
	for _, o := range r.Orders {
		if o.Planned > 0 && o.Late {
			late = true
			if !o.OrderBy.Equal(r.AsOf) || !has(o.Notes, "order today") {
				t.Errorf("%+v", o)
			}
		}
	}
	if !late {
		t.Error("room C is past its optimum: its order is late")
	}
}

func TestSparesLine(t *testing.T) {
	in := site()
	r := Make(in)
	if len(r.Spares) != 1 {
		t.Fatal(r.Spares)
	}
	s := r.Spares[0]
	if s.Days != 21+reviewDays || s.Lamps != 24 || s.Achieved < 0.95 || s.Failures.Centre <= 0 || s.OnHand != 2 {
		t.Errorf("%+v", s)
	}
	each(&in, func(l *Lamp) { l.Hazard.Eta = unknown() })
	if s := Make(in).Spares[0]; s.Stock != 0 || !has(s.Notes, "Log failures") {
		t.Errorf("%+v", s)
	}
}

func TestCycling(t *testing.T) {
	good := DayEdges{On: 1, Off: 1, Scheduled: 1, HoursOn: 12, HoursDue: 12}
	bad := DayEdges{On: 6, Off: 6, Scheduled: 1, HoursOn: 10, HoursDue: 12}
	meter := DayEdges{On: 6, Off: 6, Scheduled: 1, HoursOn: 12, HoursDue: 12} // restarts that cost no time
	days := func(n int, d DayEdges, m int, e DayEdges) []DayEdges {
		var out []DayEdges
		for i := 0; i < n; i++ {
			out = append(out, d)
		}
		for i := 0; i < m; i++ {
			out = append(out, e)
		}
		return out
	}
	for name, c := range map[string]struct {
		lamp string
		days []DayEdges
		dips map[int]bool
		want bool
		why  string
	}{
		"healthy":       {"hps-de", days(10, good, 0, bad), nil, false, "0 of 10 days"},
		"cycles":        {"mh", days(10, good, 4, bad), nil, true, "20 times more"},
		"one bad night": {"cmh", days(10, good, 1, bad), nil, false, "1 of 11"},
		"supply dips":   {"hps-se", days(2, good, 3, bad), map[int]bool{2: true, 3: true, 4: true}, false, "0 of 5"},
		"meter chatter": {"mh", days(10, good, 4, meter), nil, false, "0 of 14"},
		"long ago":      {"mh", days(4, bad, 14, good), nil, false, "0 of 14"},
		"led":           {"led", days(4, bad, 0, good), nil, false, "do not cycle"},
		"too few":       {"mh", days(2, bad, 0, good), nil, false, "at least 3"},
		"two switches": {"mh", days(5, DayEdges{On: 2, Off: 2, Scheduled: 2, HoursOn: 12, HoursDue: 12}, 0, good), nil,
			false, "0 of 5"},
	} {
		if v := Cycling(c.lamp, c.days, c.dips); v.Cycling != c.want || !strings.Contains(v.Why, c.why) {
			t.Errorf("%s: %+v", name, v)
		}
	}
}

// holding gives the input with another threshold, held as a limit; crossing hours
// move along the straight line from 100 %.
func holding(in Input, threshold float64) Input {
	in.Lamps = append([]Lamp(nil), in.Lamps...)
	in.Settings.Threshold = "limit"
	for i := range in.Lamps {
		l := &in.Lamps[i]
		k := (1 - threshold) / (1 - l.Threshold)
		l.Threshold = threshold
		l.Due.Hours, l.Due.LoHours, l.Due.HiHours = k*l.Due.Hours, k*l.Due.LoHours, k*l.Due.HiHours
		l.Due.Quantiles = slices.Clone(l.Due.Quantiles)
		for j := range l.Due.Quantiles {
			l.Due.Quantiles[j].Hours *= k
		}
		switch {
		case l.Status == "under" && l.Due.Hours > l.HoursNow:
			l.Status = "forecast"
		case l.Status == "forecast" && l.Due.Hours > 0 && l.Due.Hours <= l.HoursNow:
			l.Status = "under"
		}
	}
	return in
}

func withLampPrice(in Input, price float64) Input {
	in.Settings.Site.LampPrice = &price
	return in
}

func withBudget(in Input, cap float64, period string) Input {
	in.Settings.Budget = &Budget{Cap: cap, Period: period}
	return in
}

func TestWhatIf(t *testing.T) {
	in := site()
	alts := []Alternative{
		{"hold 90 %", holding(in, 0.9)},
		{"hold 80 %", holding(in, 0.8)},
		{"lamps at 150", withLampPrice(in, 150)},
		{"EUR 500 a quarter", withBudget(in, 500, "quarter")},
	}
	c := WhatIf(in, alts, 60)
	if len(c.Rows) != 7 || c.Rows[0].Name != "today's plan" || c.Rows[5].Name != "replace all at fixed hours" ||
		c.Rows[6].Name != "replace on failure" {
		t.Fatalf("rows %+v", c.Rows)
	}
	row := map[string]Row{}
	for _, r := range c.Rows {
		row[r.Name] = r
		if !(r.Cost.Lo <= r.Cost.Centre && r.Cost.Centre <= r.Cost.Hi) ||
			math.Abs(r.Cost.Centre-r.Work.Centre-r.Light.Centre+r.Left.Centre) > 1e-6 || r.Cost.N != 60 {
			t.Errorf("%+v", r)
		}
	}
	today := row["today's plan"]
	for _, h := range []string{"replace all at fixed hours", "replace on failure"} {
		if row[h].Cost.Centre <= today.Cost.Centre {
			t.Errorf("%s costs %g, the plan %g", h, row[h].Cost.Centre, today.Cost.Centre)
		}
	}
	if a, b := row["replace on failure"].LostMol.Centre, today.LostMol.Centre; a <= b {
		t.Errorf("light lost on failure %g, plan %g", a, b)
	}
	if a, b := row["lamps at 150"].Work.Centre, today.Work.Centre; a <= b {
		t.Errorf("dearer lamps %g, today %g", a, b)
	}
	if a, b := row["hold 90 %"].Lamps.Centre, row["hold 80 %"].Lamps.Centre; a <= b {
		t.Errorf("lamps to hold 90 %%: %g, 80 %%: %g", a, b)
	}
	again := WhatIf(in, alts, 60)
	for i := range c.Rows {
		if c.Rows[i].Cost.Centre != again.Rows[i].Cost.Centre {
			t.Errorf("%s: not the same with the same seed", c.Rows[i].Name)
		}
	}
	if in.Lamps[0].Threshold != 0.9 || in.Settings.Budget != nil || *in.Settings.Site.LampPrice != 75 {
		t.Error("an alternative changed the base input")
	}
	if c := WhatIf(Input{AsOf: asOf}, nil, 5); len(c.Rows) != 0 || !has(c.Notes, "nothing to compare") {
		t.Errorf("%+v", c)
	}
}

// The simulation's light lost without failures or changes is the integral of
// the straight line, to the Monte Carlo error of one lamp with a point forecast: none.
func TestSimulatedLightIsTheIntegral(t *testing.T) {
	in := site()
	in.Lamps = in.Lamps[:1]
	l := &in.Lamps[0]
	l.Hazard, l.Due = Weibull{Eta: unknown()}, Due{Hours: 12000, LoHours: 12000, HiHours: 12000}
	in.Settings.HorizonDays = 100
	c := WhatIf(in, nil, 3)
	want := 0.1 / 12000 * (4000*4000 - 3000*3000) / 2 * 200 * 8.5 * 3600 / 1e6
	if got := c.Rows[0].LostMol.Centre; math.Abs(got/want-1) > 1e-9 {
		t.Errorf("light lost %g mol, want %g", got, want)
	}
}
