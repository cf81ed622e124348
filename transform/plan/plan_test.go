package plan

import (
	"encoding/csv"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"
)

// Marcelis et al. 2006, Acta Horticulturae 711:97-104 (published).
func TestCropGroupsArePublished(t *testing.T) {
	f, err := os.Open("testdata/marcelis2006_yield_per_1pct_light.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(rows)-1 != len(cropGroups) {
		t.Errorf("%d published rows, %d groups", len(rows)-1, len(cropGroups))
	}
	for _, r := range rows[1:] {
		lo, _ := strconv.ParseFloat(r[1], 64)
		hi, _ := strconv.ParseFloat(r[2], 64)
		if got := cropGroups[r[0]]; got != (Range{lo, hi}) {
			t.Errorf("%s: %v, published %g to %g", r[0], got, lo, hi)
		}
	}
}

// A lamp with a point forecast that never fails: Make gives sqrt(2C/(v a)).
func TestIntervalAgainstClosedForm(t *testing.T) {
	in := site()
	in.Lamps = in.Lamps[:1]
	l := &in.Lamps[0]
	l.Hazard, l.Due = Weibull{Eta: unknown()}, Due{Hours: 12000, LoHours: 12000, HiHours: 12000}
	in.Settings.Site.LiftPerVisit = nil
	got := lampOf(t, Make(in), "A00").Interval
	c := 75 + 15.0*32/60 + 1.5
	v := 200 * 8.5 * 0.4 * 0.85 / (10 * 365.25)
	va := v * 0.1 / 12000
	want, rate := math.Sqrt(2*c/va), math.Sqrt(2*c*va)
	if !got.Known || math.Abs(got.Hours/want-1) > 1e-6 || math.Abs(got.RateYear/(rate*3652.5)-1) > 1e-6 {
		t.Errorf("%+v, want %g h at %g a year", got, want, rate*3652.5)
	}
	// 2 % above the least lies at 1.02 -+ sqrt(1.02^2-1) of the optimum.
	if d := math.Sqrt(1.02*1.02 - 1); math.Abs(got.Lo/want-1.02+d) > 1e-4 || math.Abs(got.Hi/want-1.02-d) > 1e-4 {
		t.Errorf("band %g to %g of %g", got.Lo, got.Hi, want)
	}
}

// The expectation runs over the due distribution: with a log-normal crossing
// hour the mean slope is that of the median times exp(s^2/2), so the interval
// is shorter than the median's by exp(-s^2/4).
func TestUncertaintyShortensTheInterval(t *testing.T) {
	in := site()
	in.Lamps = in.Lamps[:1]
	l := &in.Lamps[0]
	l.Hazard, l.HoursNow = Weibull{Eta: unknown()}, 10
	in.Settings.Site.LiftPerVisit = nil
	at := func(s float64) float64 {
		l.Due = Due{Hours: 12000, LoHours: 12000 * math.Exp(-1.2815515655446004*s),
			HiHours: 12000 * math.Exp(1.2815515655446004*s), Interval: 0.8}
		return lampOf(t, Make(in), "A00").Interval.Hours
	}
	if got, want := at(0.4)/at(0), math.Exp(-0.4*0.4/4); math.Abs(got-want) > 0.004 {
		t.Errorf("interval shrinks to %.4f of the median's, want %.4f", got, want)
	}
}

func TestWholeSite(t *testing.T) {
	in := site()
	r := Make(in)
	sound(t, r)
	if len(r.Problems) != 0 || len(r.Lamps) != 24 || len(r.Rooms) != 3 || len(r.Visits) == 0 || len(r.Orders) == 0 ||
		len(r.Cautions) < 6 {
		t.Fatalf("problems %v, %d lamps, %d rooms, %d visits, %d orders", r.Problems, len(r.Lamps), len(r.Rooms),
			len(r.Visits), len(r.Orders))
	}
	var cost float64
	for _, v := range r.Visits {
		if v.Date.Before(r.AsOf) || v.Date.Weekday() == 0 || v.Date.Weekday() == 6 {
			t.Errorf("visit on %s", v.Date)
		}
		for i := 1; i < len(v.Work); i++ {
			a, b := v.Work[i-1], v.Work[i]
			if a.Bay > b.Bay || (a.Bay == b.Bay && a.Fixture > b.Fixture) {
				t.Errorf("work list out of order: %v before %v", a, b)
			}
		}
		if v.Date.Year() == 2027 {
			cost += v.Cost
		}
	}
	for _, room := range r.Rooms {
		if !room.CostsKnown || room.SpotYear <= 0 || room.GroupYear <= 0 || len(room.Group.Curve) < 10 ||
			len(room.Reasons) == 0 {
			t.Errorf("room %+v", room)
		}
		if !(room.Group.ResponseLo < room.Group.Hours && room.Group.Hours < room.Group.ResponseHi) {
			t.Errorf("response range %g..%g around %g", room.Group.ResponseLo, room.Group.ResponseHi, room.Group.Hours)
		}
	}
	// Two lamps come from the store and are paid for; the rest of the year's visits is the year's spending.
	if s := r.Spending[0]; math.Abs(s.Planned-cost) > 2*75+1e-6 || s.Planned > cost {
		t.Errorf("spending %g, visits %g", s.Planned, cost)
	}
	// 200 umol/m2/s x 8.5 m2 x level / 1040 W.
	l := lampOf(t, r, "A00")
	level := 1 - 0.1*3000/12000 - 0.01
	if want := 200 * 8.5 * level / 1040; math.Abs(l.Efficacy-want) > 1e-9 || math.Abs(l.EnergyPerMol-1/(3.6*want)) > 1e-9 {
		t.Errorf("efficacy %g, energy %g", l.Efficacy, l.EnergyPerMol)
	}
	if want := 200 * 8.5 * 3600 / 1e6 * (1 - level) * 3652.5; math.Abs(l.LightLostMolYear-want) > 1e-6 {
		t.Errorf("light lost %g, want %g", l.LightLostMolYear, want)
	}
	if e := l.LossPerYear; math.Abs(e.Lo/e.Centre-0.7/0.85) > 1e-9 || math.Abs(e.Hi/e.Centre-1/0.85) > 1e-9 {
		t.Errorf("loss %+v does not carry the response's range", e)
	}
}

func TestOrderOfLampsDoesNotMatter(t *testing.T) {
	in := site()
	want := Make(in)
	rng := rand.New(rand.NewPCG(1, 2))
	rng.Shuffle(len(in.Lamps), func(i, j int) { in.Lamps[i], in.Lamps[j] = in.Lamps[j], in.Lamps[i] })
	if d := cmp.Diff(want, Make(in), cmpopts.EquateNaNs(), cmpopts.EquateApprox(1e-9, 0)); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff(Make(in), Make(in), cmpopts.EquateNaNs()); d != "" {
		t.Error("not deterministic: " + d)
	}
}

// Group against spot: dear visits and cheap group labour make a group, free
// visits, equal labour and uneven lamps do not.
func TestGroupAgainstSpot(t *testing.T) {
	in := site()
	in.Settings.Site.LiftPerVisit, in.Settings.Site.LabourGroupMin = num(600), num(4)
	if r := Make(in).Rooms[0]; r.GroupYear >= r.SpotYear || !has(r.Reasons, "group relamping costs") {
		t.Errorf("dear visits: group %g, spot %g, %v", r.GroupYear, r.SpotYear, r.Reasons)
	}
	in.Settings.Site.LiftPerVisit, in.Settings.Site.LabourGroupMin = num(0), num(15)
	for i := range in.Lamps {
		in.Lamps[i].Hazard.Eta = exact(14000)
		in.Lamps[i].Hazard.Beta = 1.2
	}
	if r := Make(in).Rooms[0]; r.GroupYear <= r.SpotYear || !has(r.Reasons, "spot relamping costs") {
		t.Errorf("free visits: group %g, spot %g, %v", r.GroupYear, r.SpotYear, r.Reasons)
	}
}

func TestThresholdAsLimit(t *testing.T) {
	in := site()
	in.Settings.Site.CropValueM2Year = num(20) // light worth little: cost alone would wait
	lax := Make(in)
	in.Settings.Threshold = "limit"
	strict := Make(in)
	for i, l := range strict.Lamps {
		if l.Room == "B" && (l.Decision == Keep || l.Date.After(l.DueAtRisk)) {
			t.Errorf("%s: %s on %s, due %s", l.Fixture, l.Decision, l.Date, l.DueAtRisk)
		}
		if l.Room == "B" && lax.Lamps[i].Decision != Keep && lax.Lamps[i].Date.Before(l.Date) {
			t.Errorf("%s: cost alone acts sooner, %s", l.Fixture, lax.Lamps[i].Date)
		}
	}
	if !has(strict.Rooms[1].Reasons, "costs EUR") || !has(strict.Rooms[1].Reasons, "a year more") ||
		!has(lax.Rooms[1].Reasons, "holding the threshold would cost") {
		t.Errorf("price of the threshold not said: %v / %v", strict.Rooms[1].Reasons, lax.Rooms[1].Reasons)
	}
}

// What is left out has its consequence said, and the rest is planned.
func TestMissingInputsAreSaid(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*Input)
		want   string
	}{
		"lamp price": {func(in *Input) { in.Settings.Site.LampPrice = nil }, "lamp_price is not given (all lamps)"},
		"zero price": {func(in *Input) { in.Settings.Site.LampPrice = num(0) }, "lamp_price is 0 (all lamps)"},
		"crop value": {func(in *Input) { in.Settings.Site.CropValueM2Year = nil }, "light is valued by the electricity"},
		"crop, energy": {func(in *Input) { in.Settings.Site.CropValueM2Year, in.Settings.Site.EnergyPrice = nil, nil },
			"light lost has no price"},
		"lamp share": {func(in *Input) { in.Settings.Site.LampShare = nil }, "without lamp_share"},
		"response":   {func(in *Input) { in.Settings.Site.CropGroup = "" }, "0.5 to 1.0 % yield per 1 % light"},
		"labour":     {func(in *Input) { in.Settings.Site.WagePerHour = nil }, "leave labour out"},
		"lift":       {func(in *Input) { in.Settings.Site.LiftPerVisit = nil }, "spot relamping looks better than it is"},
		"lead":       {func(in *Input) { in.Settings.Site.LeadLampDays = nil }, "orders fall on the day of the work"},
		"disposal":   {func(in *Input) { in.Settings.Site.DisposalPerLamp = nil }, "disposal_per_lamp is not given"},
		"windows":    {func(in *Input) { in.Settings.Site.Work = nil }, "any day is taken as possible"},
		"budget":     {func(in *Input) {}, "spending is not capped"},
		"failures": {func(in *Input) { each(in, func(l *Lamp) { l.Hazard = Weibull{Eta: unknown()} }) },
			"failures are not counted"},
		"power": {func(in *Input) { each(in, func(l *Lamp) { l.PowerW = 0 }) }, "power is not measured"},
		"area": {func(in *Input) { each(in, func(l *Lamp) { l.Area = 0 }) },
			"PPFD or area of the fixture is not known"},
		"forecast": {func(in *Input) { in.Lamps[0].Status = "too-early" }, "no forecast of their own (1 of 24 lamps)"},
		"all forecasts": {func(in *Input) { each(in, func(l *Lamp) { l.Status = "inseparable" }) },
			"no forecast, own or of their type (all lamps)"},
		"no window": {func(in *Input) {
			in.Settings.Rooms = map[string]Terms{"B": {Work: []Window{{From: "2020-01-01", To: "2020-02-01"}}}}
		}, "room B: no open day"},
		"long lead": {func(in *Input) { in.Settings.Site.LeadLampDays = num(4000) }, "longer than the horizon"},
		"no lamps":  {func(in *Input) { in.Lamps = nil }, "no lamp could be planned"},
	} {
		t.Run(name, func(t *testing.T) {
			in := site()
			n := len(in.Lamps)
			c.change(&in)
			r := Make(in)
			sound(t, r)
			if !has(r.Notes, c.want) {
				t.Errorf("notes lack %q:\n%s", c.want, strings.Join(r.Notes, "\n"))
			}
			if name != "no lamps" && (len(r.Lamps) != n || name != "all forecasts" && len(r.Visits) == 0) {
				t.Errorf("%d lamps, %d visits: the rest must be planned", len(r.Lamps), len(r.Visits))
			}
		})
	}
}

func each(in *Input, f func(*Lamp)) {
	for i := range in.Lamps {
		f(&in.Lamps[i])
	}
}

// A room whose window never opens keeps its work without a day; others go on.
func TestWindowThatNeverOpens(t *testing.T) {
	in := site()
	in.Settings.Rooms = map[string]Terms{"C": {Closed: []Window{{}}}}
	r := Make(in)
	dated := 0
	for _, l := range r.Lamps {
		if l.Room == "C" && (!l.Date.IsZero() || (l.Decision != Keep && !has(l.Reasons, "no open day"))) {
			t.Errorf("%s: %s on %s, %v", l.Fixture, l.Decision, l.Date, l.Reasons)
		}
		if l.Room == "B" && !l.Date.IsZero() {
			dated++
		}
	}
	if dated == 0 {
		t.Error("room B has no dated work")
	}
}

func TestNegativeStockIsNamedAndTakenAsNone(t *testing.T) {
	in := site()
	in.Settings.Stock = map[string]Stock{"hps-de": {Lamps: -3}}
	r := Make(in)
	if len(r.Problems) != 1 || r.Problems[0].Path != "stock[hps-de].lamps" || r.Problems[0].Remedy == "" {
		t.Fatalf("problems %+v", r.Problems)
	}
	for _, o := range r.Orders {
		if o.FromStock != 0 || o.Quantity < 0 {
			t.Errorf("order %+v", o)
		}
	}
}

func TestBudgetIsKept(t *testing.T) {
	in := site()
	in.Settings.Threshold = "limit"
	in.Settings.Budget = &Budget{Cap: 700, Period: "quarter"}
	r := Make(in)
	deferred := 0
	for _, p := range r.Spending {
		if p.Planned > p.Cap+1e-9 || p.Over {
			t.Errorf("%s: %g over %g", p.From, p.Planned, p.Cap)
		}
		deferred += p.Deferred
	}
	if deferred == 0 {
		t.Error("nothing was deferred: the test shows nothing")
	}
	in.Settings.Budget.Cap = 20
	r = Make(in)
	if !has(r.Notes, "the budget leaves") || len(r.Visits) != 0 {
		t.Errorf("a cap below one lamp: %d visits, %v", len(r.Visits), r.Notes)
	}
	sound(t, r)
}

// Any settings, however odd, give a plan without NaN, with work only on open days,
// orders ahead of their need, and spending within the cap.
func TestAnySettingsGiveASoundPlan(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := site()
		opt := func(name string, lo, hi float64) *float64 {
			if rapid.Bool().Draw(t, name+"?") {
				return nil
			}
			return num(rapid.Float64Range(lo, hi).Draw(t, name))
		}
		s := &in.Settings.Site
		s.LampPrice, s.WagePerHour, s.LiftPerVisit = opt("price", -5, 400), opt("wage", 0, 60), opt("lift", 0, 500)
		s.CropValueM2Year, s.CropValueMol, s.LampShare = opt("m2", 0, 900), opt("mol", 0, 3), opt("share", 0, 1.2)
		s.LeadLampDays, s.MinUniformity, s.EnergyPrice = opt("lead", 0, 1500), opt("uniformity", 0, 1), opt("energy", 0, 1)
		s.CleanPerRoom, s.DirtDays = opt("clean", 0, 500), opt("dirt", 0, 400)
		in.Settings.HorizonDays = rapid.IntRange(0, 2500).Draw(t, "horizon")
		in.Settings.Threshold = rapid.SampledFrom([]string{"", "limit", "advice", "maybe"}).Draw(t, "threshold")
		in.Settings.Stock["hps-de"] = Stock{Lamps: rapid.IntRange(-3, 40).Draw(t, "stock")}
		if rapid.Bool().Draw(t, "budget?") {
			in.Settings.Budget = &Budget{Cap: rapid.Float64Range(0, 5000).Draw(t, "cap"),
				Period: rapid.SampledFrom([]string{"month", "quarter", "year"}).Draw(t, "period")}
		}
		for i := range in.Lamps {
			l := &in.Lamps[i]
			l.Status = rapid.SampledFrom([]string{"forecast", "forecast", "under", "beyond", "too-early", "inseparable", "dark",
				"no-data"}).Draw(t, "status")
			l.HoursNow = rapid.Float64Range(0, 60000).Draw(t, "hours")
			l.Hazard.Beta = rapid.Float64Range(0, 6).Draw(t, "beta")
		}
		r := Make(in)
		sound(t, r)
		if len(r.Lamps) != len(in.Lamps) {
			t.Fatalf("%d of %d lamps planned", len(r.Lamps), len(in.Lamps))
		}
		for _, v := range r.Visits {
			if v.Date.Before(r.AsOf) || v.Date.Weekday() == 0 || v.Date.Weekday() == 6 {
				t.Fatalf("visit on %s", v.Date)
			}
		}
		for _, o := range r.Orders {
			if o.OrderBy.After(o.NeededBy) || o.OrderBy.Before(r.AsOf) || o.Quantity != o.Planned+o.Spares-o.FromStock {
				t.Fatalf("order %+v", o)
			}
		}
		for _, p := range r.Spending {
			if p.Over {
				t.Fatalf("spending %+v", p)
			}
		}
	})
}
