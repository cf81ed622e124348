package plan

import (
	"strings"
	"testing"
	"time"

	"wane/transform/estimate"
)

// A dark lamp with a spare in the store that waits for its room's window says
// so, and what an exception would save and cost; without prices it says that
// this cannot be said; with an open window it does not wait.
func TestADarkLampSaysWhatItWaitsFor(t *testing.T) {
	price := func(x float64) *float64 { return &x }
	today := time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)
	lamp := Lamp{Fixture: "D1", Room: "R", Bay: "b", LampType: "hps-de", Life: 1, Status: "dark", HoursNow: 9000,
		BurnPerDay: 12, Threshold: 0.9, PPFD: 900, Area: 2, Level: estimate.None("", ""), DeclineKh: estimate.None("", ""),
		DirtShare: estimate.None("", "")}
	terms := Terms{LampPrice: price(75), LabourSpotMin: price(15), WagePerHour: price(32), LiftPerVisit: price(10),
		CropValueM2Year: price(300), LampShare: price(1), AreaM2: price(2)}
	closed := terms
	closed.Work = []Window{{From: "2026-06-01", To: "2026-06-30"}}
	dear := closed
	dear.LiftPerVisit = price(100000)
	for name, c := range map[string]struct {
		terms Terms
		want  string
		not   string
	}{
		"open":     {terms, "dark", "later than wanted"},
		"closed":   {closed, "the work window of the room opens on 2026-06-01, 91 days after; an exception would save light worth", "lead time"},
		"worth it": {closed, ": worth asking for", "not worth it"},
		"too dear": {dear, "not worth it", "worth asking for"},
		"unpriced": {Terms{Work: closed.Work}, "cannot be said without the value of the light", "save"},
	} {
		r := Make(Input{AsOf: today, Lamps: []Lamp{lamp},
			Settings: Settings{Currency: "EUR", Site: c.terms, Stock: map[string]Stock{"hps-de": {Lamps: 3}}}})
		if len(r.Lamps) != 1 {
			t.Fatalf("%s: %d lamps, %v", name, len(r.Lamps), r.Problems)
		}
		got := strings.Join(r.Lamps[0].Reasons, "; ")
		if !strings.Contains(got, c.want) || strings.Contains(got, c.not) {
			t.Errorf("%s: %q, want %q and not %q", name, got, c.want, c.not)
		}
	}
}
