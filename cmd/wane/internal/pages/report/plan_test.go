package report

import (
	"context"
	"strings"
	"testing"

	"wane/cmd/wane/internal/plans"
	"wane/cmd/wane/internal/sitefolder"
	"wane/queries"
	"wane/transform/plan"
)

// planFor makes the plan of an invented site whose roll-up is empty: nothing is
// known of power or restarts.
func planFor(t testing.TB, in Input, s plan.Settings) *plans.Made {
	t.Helper()
	db, err := queries.Open(context.Background(), queries.Tables{}, queries.Limits{Threads: 1})
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	in.Config.Plan = s
	m, err := plans.Nightly(context.Background(), db, sitefolder.Site{Config: in.Config, Register: in.Result.Register},
		in.Result)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func money(x float64) *float64 { return &x }

func priced() plan.Settings {
	return plan.Settings{Currency: "EUR", Site: plan.Terms{
		LampPrice: money(75), LabourSpotMin: money(15), LabourGroupMin: money(7), WagePerHour: money(32),
		LiftPerVisit: money(90), DisposalPerLamp: money(1.5),
		CropValueM2Year: money(200), LampShare: money(1), AreaM2: money(2), CropGroup: "cut flowers", LeadLampDays: money(21),
	}}
}

// The page holds what a manager acts on, with costs known and unknown, and
// hostile words from site.yaml do not become markup.
func TestPlanPage(t *testing.T) {
	in := threeRoomsInput(t)
	hostile := priced()
	hostile.Currency = "<b>EUR</b>"
	for name, s := range map[string]plan.Settings{"priced": priced(), "without costs": {}, "hostile": hostile} {
		in.Plan = planFor(t, in, s)
		dir := t.TempDir()
		if err := plans.Write(dir, in.Config.Name, in.Plan); err != nil {
			t.Fatal(err)
		}
		if err := Write(dir, in); err != nil {
			t.Fatal(err)
		}
		files := read(t, dir)
		sound(t, files, "plan.html")
		page := files["plan.html"]
		for _, want := range []string{"Isolate and lock out", "re-strike", "mercury", "ultraviolet", "Work at height",
			"Local codes", `href="plan.ics"`, `aria-current="page">Relamp plan`, `id="orders"`, `id="visits"`} {
			if !strings.Contains(page, want) {
				t.Errorf("%s: the page lacks %q", name, want)
			}
		}
		for _, never := range []string{"NaN", "+Inf", "%!", "<b>EUR"} {
			if strings.Contains(page, never) {
				t.Errorf("%s: the page holds %q", name, never)
			}
		}
		switch name {
		case "priced":
			for _, want := range []string{"within 2 % of the least", "replace all at fixed hours", "least cost"} {
				if !strings.Contains(page, want) {
					t.Errorf("%s: the page lacks %q", name, want)
				}
			}
		case "without costs":
			if !strings.Contains(page, "lamp_price is not given") || strings.Contains(page, "within 2 % of the least") {
				t.Error("without costs the page shows a cost curve, or does not say what is missing")
			}
		}
	}
}

// The level that the plan weighs is the light that is there: the lamp's own
// output less the dirt on it, and the dirt's share of the loss adds up.
func TestPlanCountsTheDirt(t *testing.T) {
	in := threeRoomsInput(t)
	m := planFor(t, in, priced())
	seen := 0
	for _, l := range m.Input.Lamps {
		for i := range in.Result.Due {
			d := &in.Result.Due[i]
			dirt := d.Answer.Decline.Dirt
			if d.Life.Fixture.ID != l.Fixture || !d.Answer.Level.Known() || !dirt.Known() || !l.DirtShare.Known() ||
				dirt.Centre <= 0 {
				continue
			}
			seen++
			own, there := d.Answer.Level.Centre, l.Level.Centre
			if got := own * (1 - dirt.Centre); got-there > 1e-12 || there-got > 1e-12 {
				t.Errorf("%s: level %g, want %g", l.Fixture, there, got)
			}
			// Of a lamp that gives more than when it was new, all of the loss is dirt.
			want := min(own, 1)
			if back := 1 - (1-there)*(1-l.DirtShare.Centre); back-want > 1e-9 || want-back > 1e-9 {
				t.Errorf("%s: without its dirt the lamp gives %g, the due table says %g", l.Fixture, back, own)
			}
		}
	}
	if seen == 0 {
		t.Fatal("no lamp with dirt was compared")
	}
}
