package circuits

import (
	"context"
	"slices"
	"strings"
	"testing"
	"time"

	"wane/cmd/wane/internal/sitefolder"
	"wane/ingest/site"
	"wane/queries"
	"wane/transform/calendar"
	"wane/transform/fleet"
)

var day0 = time.Date(2025, 3, 1, 0, 0, 0, 0, time.UTC)

// register has a circuit with a series, a room whose series serves a fixture
// without a circuit, a circuit that nothing reads, and a series that begins later.
func register() *fleet.Register {
	return &fleet.Register{
		Fixtures: []fleet.Fixture{
			{ID: "a1", Room: "A", Circuit: "C1", RatedV: 240}, {ID: "a2", Room: "A", Circuit: "C1", RatedV: 208},
			{ID: "a3", Room: "A", Circuit: "C1", RatedV: 240},
			{ID: "b1", Room: "B"}, {ID: "c1", Room: "C", Circuit: "C9"},
		},
		Sensors: []fleet.SensorPeriod{
			{Sensor: "vt", Channel: "1", Quantity: fleet.SupplyV, Watches: "C1", Factor: 1},
			{Sensor: "vt", Channel: "2", Quantity: fleet.SupplyV, Watches: "B", Factor: 1},
			{Sensor: "vt", Channel: "3", Quantity: fleet.SupplyV, Watches: "C7", Factor: 1, From: day0.AddDate(0, 0, 5)},
			{Sensor: "log", Channel: "1", Quantity: fleet.PPFD, Watches: "a1", Factor: 1},
		},
	}
}

func TestCircuitsAreWhatVoltagesWatchAndWhatNobodyReads(t *testing.T) {
	reg := register()
	if got := Names(reg, day0.AddDate(0, 0, 2)); !slices.Equal(got, []string{"B", "C1", "C9"}) {
		t.Errorf("%q", got)
	}
	if got := Names(reg, day0.AddDate(0, 0, 6)); !slices.Contains(got, "C7") {
		t.Errorf("a series from the fifth day on: %q", got)
	}
	for _, c := range list(reg, day0.AddDate(0, 0, 2)) {
		switch {
		case c.Name == "C1" && (c.Registered != 240 || len(c.Others) != 1 || len(c.Fixtures) != 3 || len(c.Series) != 1),
			c.Name == "B" && (len(c.Fixtures) != 1 || c.Fixtures[0].ID != "b1"),
			c.Name == "C9" && (len(c.Series) != 0 || len(c.Fixtures) != 1):
			t.Errorf("%+v", c)
		}
	}
}

// A retired fixture hangs on no circuit.
func TestRetiredFixturesAreLeftOut(t *testing.T) {
	reg := register()
	reg.Logbook = []fleet.Entry{{At: day0, What: fleet.Retire, Scope: fleet.OfFixture, ID: "c1"}}
	if got := Names(reg, day0.AddDate(0, 0, 2)); slices.Contains(got, "C9") {
		t.Errorf("%q", got)
	}
}

// Where nothing was read, each circuit says why nothing is known of it.
func TestSilenceIsSaid(t *testing.T) {
	ctx := context.Background()
	db, err := queries.Open(ctx, queries.Tables{}, queries.Limits{Threads: 1})
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	cfg := site.Defaults()
	cfg.Location = time.UTC
	q := Asking{Site: sitefolder.Site{Config: cfg, Register: register()}, AsOf: calendar.DayOf(day0, time.UTC)}
	s, err := Gather(ctx, db, q)
	if err != nil {
		t.Fatal(err)
	}
	why := map[string]string{}
	for _, c := range s.Circuits {
		why[c.Name] = c.Why
	}
	if !strings.Contains(why["C1"], "no reading of vt/1 was taken in yet") ||
		!strings.Contains(why["C9"], "no voltage series watches it") {
		t.Errorf("%q", why)
	}
	if len(s.Phases) != 0 || !strings.Contains(s.NoPhases, "supply: phases") {
		t.Errorf("phases %+v, %q", s.Phases, s.NoPhases)
	}
	q.Only = map[string]bool{"C9": true}
	q.Site.Config.Supply.Phases = map[string][]string{"main": {"C1", "B", "C9"}}
	if s, err = Gather(ctx, db, q); err != nil || len(s.Circuits) != 1 {
		t.Fatalf("%+v, %v", s, err)
	}
	if len(s.Phases) != 1 || s.Phases[0].Why != "no voltage series watches C9" {
		t.Errorf("%+v", s.Phases)
	}
}
