package site

import (
	"strings"
	"testing"

	"wane/ingest/internal/strictyaml"
)

const planned = `name: Invented
zone: Europe/Amsterdam
plan:
  currency: EUR
  site:
    lamp_price: 0
    work:
      - {weekdays: [mon]}
      - {from: 13-01, to: 02-01}
  lamp_types:
    hps-de: {lamp_price: 45, yield_response: {min: 0.7, max: 1}}
    hsp-de: {lamp_price: 45}
  rooms:
    bloom 1: {lamp_share: 4}
  stock:
    hps-de: {lamps: -3}
`

// A cost that cannot be used is told with its place and stops nothing else.
func TestFaultsOfThePlanDoNotStopTheSite(t *testing.T) {
	c := Defaults()
	doc, found := strictyaml.Decode(ConfigFile, []byte(planned), &c)
	c.checkPlan(doc)
	if err := found.Err(); err != nil {
		t.Fatal(err)
	}
	got := c.PlanFaults.Error()
	for _, want := range []string{
		"site.yaml:6:5: plan.site.lamp_price: a price of 0; ",
		"site.yaml:9:9: plan.site.work[1]: ",
		"site.yaml:12:5: plan.lamp_types.hsp-de: \"hsp-de\" is not a lamp type",
		"site.yaml:14:15: plan.rooms.bloom 1.lamp_share: 4 is no share; ",
		"site.yaml:16:14: plan.stock.hps-de.lamps: stock of -3 is negative; ",
	} {
		if !strings.Contains(got, want) {
			t.Errorf("faults lack %q:\n%s", want, got)
		}
	}
	if len(c.PlanFaults) != 5 {
		t.Errorf("%d faults, want 5:\n%s", len(c.PlanFaults), got)
	}
	if p := c.Plan.LampTypes["hps-de"]; p.LampPrice == nil || *p.LampPrice != 45 || p.YieldResponse.Max != 1 ||
		c.Plan.Currency != "EUR" {
		t.Errorf("read as %+v", c.Plan)
	}
}

// A key that the plan does not know is a mistake of the file like any other.
func TestUnknownCostIsAMistake(t *testing.T) {
	c := Defaults()
	_, found := strictyaml.Decode(ConfigFile, []byte("plan:\n  site: {lamp_prise: 3}\n"), &c)
	if len(found) != 1 || !strings.Contains(found[0].String(), `did you mean "lamp_price"?`) {
		t.Errorf("found %v", found)
	}
}
