package fleet

import (
	"testing"
	"time"

	"pgregory.net/rapid"
)

func date(s string) time.Time {
	t, err := time.Parse("2006-01-02", s)
	if err != nil {
		panic(err)
	}
	return t
}

func entry(at string, what What, scope Scope, id, value string) Entry {
	return Entry{At: date(at), What: what, Scope: scope, ID: id, Value: value}
}

func twoBays() *Register {
	return &Register{
		Fixtures: []Fixture{
			{ID: "f1", Room: "veg", Bay: "veg-a", Circuit: "c1", LampType: HPSDE, Cohort: "lot-1", Installed: date("2023-01-10"),
				HoursAtInstall: 50},
			{ID: "f2", Room: "bloom", Bay: "bloom-a", Circuit: "c2", LampType: HPSDE},
		},
		Sensors: []SensorPeriod{
			{Sensor: "room", Channel: "v", Quantity: SupplyV, Watches: "veg", Factor: 1},
			{Sensor: "bay", Channel: "v", Quantity: SupplyV, Watches: "veg-a", Factor: 1, To: date("2023-07-01")},
			{Sensor: "own", Channel: "1", Quantity: PPFD, Watches: "f1", Factor: 1},
			{Sensor: "other", Channel: "1", Quantity: SupplyV, Watches: "bloom-a", Factor: 1},
		},
	}
}

func TestLivesAreCutByRelampFailAndRetire(t *testing.T) {
	r := twoBays()
	r.Logbook = []Entry{
		entry("2024-02-01", Relamp, OfRoom, "veg", "lot-2"),
		entry("2025-03-01", Fail, OfFixture, "f1", "dark"),
		entry("2025-03-09", Relamp, OfFixture, "f1", "lot-3"),
		entry("2026-01-01", Retire, OfBay, "veg-a", ""),
	}
	got := r.Lives(&r.Fixtures[0])
	want := []struct {
		cohort, from, to string
		end              What
		start            float64
	}{
		{"lot-1", "2023-01-10", "2024-02-01", Relamp, 50},
		{"lot-2", "2024-02-01", "2025-03-01", Fail, 0},
		{"lot-3", "2025-03-09", "2026-01-01", Retire, 0},
	}
	if len(got) != len(want) {
		t.Fatalf("%d lives: %+v", len(got), got)
	}
	for i, w := range want {
		l := got[i]
		if l.N != i+1 || l.Cohort != w.cohort || !l.From.Equal(date(w.from)) || !l.To.Equal(date(w.to)) || l.End != w.end ||
			l.StartHours != w.start {
			t.Errorf("life %d: %+v", i+1, l)
		}
	}
	if !r.Retired(&r.Fixtures[0]) || r.Retired(&r.Fixtures[1]) {
		t.Error("f1 came down, f2 did not")
	}
	if n := len(r.Lives(&r.Fixtures[1])); n != 1 {
		t.Errorf("f2 has %d lives; none of the entries speaks of it", n)
	}
}

func TestAsOfForgetsWhatIsDatedLater(t *testing.T) {
	r := twoBays()
	r.Fixtures[1].Installed = date("2025-01-01")
	r.Logbook = []Entry{
		entry("2024-02-01", Relamp, OfFixture, "f1", "lot-2"),
		{At: date("2024-05-30"), What: Outage, Scope: OfSite, Until: date("2024-06-20")},
		entry("2024-07-01", Relamp, OfFixture, "f1", "lot-3"),
	}
	past := r.AsOf(date("2024-06-01"))
	if len(past.Fixtures) != 1 || len(past.Logbook) != 2 || !past.Logbook[1].Until.Equal(date("2024-06-01")) {
		t.Fatalf("%+v", past)
	}
	if r.Logbook[1].Until != date("2024-06-20") {
		t.Fatal("the register itself was changed")
	}
}

func TestAMoveTakesRoomAndCircuitOfTheBay(t *testing.T) {
	r := twoBays()
	r.Logbook = []Entry{entry("2024-02-01", Move, OfFixture, "f1", "bloom-a"),
		entry("2024-03-01", Clean, OfRoom, "bloom", "all"), entry("2024-03-01", Clean, OfRoom, "veg", "all")}
	f := &r.Fixtures[0]
	if p := r.PlaceAt(f, date("2024-01-31")); p != (Place{"veg", "veg-a", "c1"}) {
		t.Errorf("before: %+v", p)
	}
	if p := r.PlaceAt(f, date("2024-02-01")); p != (Place{"bloom", "bloom-a", "c2"}) {
		t.Errorf("after: %+v", p)
	}
	if got := r.Events(f); len(got) != 2 || got[1].ID != "bloom" {
		t.Errorf("a moved fixture is cleaned with its new room: %+v", got)
	}
}

func TestWatchPrefersTheNearest(t *testing.T) {
	r := twoBays()
	f := &r.Fixtures[0]
	for _, c := range []struct {
		q    Quantity
		at   string
		want string
	}{
		{PPFD, "2023-05-01", "own"}, {SupplyV, "2023-05-01", "bay"}, {SupplyV, "2023-07-01", "room"},
		{AmbientC, "2023-05-01", ""},
	} {
		got := ""
		if s := r.Watch(f, c.q, date(c.at)); s != nil {
			got = s.Sensor
		}
		if got != c.want {
			t.Errorf("%s on %s is watched by %q, want %q", c.q, c.at, got, c.want)
		}
	}
}

// Lives of a fixture follow one another without overlap, are numbered in order,
// and cover what is known: at most the last is open.
func TestLivesNeverOverlap(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := twoBays()
		day := date("2023-01-01")
		for range rapid.IntRange(0, 12).Draw(t, "n") {
			day = day.AddDate(0, 0, rapid.IntRange(0, 200).Draw(t, "days"))
			what := rapid.SampledFrom([]What{Relamp, Fail, Retire, Clean, Install}).Draw(t, "what")
			r.Logbook = append(r.Logbook, Entry{At: day, What: what, Scope: OfFixture, ID: "f1", Value: "lot"})
		}
		lives := r.Lives(&r.Fixtures[0])
		for i, l := range lives {
			if l.N <= 0 || (!l.To.IsZero() && l.To.Before(l.From)) || (l.To.IsZero() && i != len(lives)-1) {
				t.Fatalf("%+v", lives)
			}
			if i > 0 && (l.N != lives[i-1].N+1 || l.From.Before(lives[i-1].To)) {
				t.Fatalf("%+v", lives)
			}
		}
	})
}

func TestChainTellsWhichEpochsHold(t *testing.T) {
	r := twoBays()
	r.Sensors = append(r.Sensors, SensorPeriod{Sensor: "new", Channel: "1", Quantity: PPFD, Watches: "f1",
		From: date("2025-01-01"), Line: 9})
	r.Sensors[2].To = date("2025-01-01")
	r.Logbook = []Entry{
		entry("2023-06-01", Clean, OfRoom, "veg", "all"),
		entry("2024-01-01", Recalibrate, OfSensor, "own", ""),
		entry("2024-02-01", Relamp, OfFixture, "f1", "lot-2"),
		entry("2024-03-01", Regear, OfFixture, "f1", ""),
		entry("2025-06-01", Recalibrate, OfSensor, "own", ""), // no longer watches f1
		entry("2025-06-02", Clean, OfSensor, "new", "sensor"),
	}
	chain := r.Chain(&r.Fixtures[0])
	for at, want := range map[string]string{
		"2023-02-01": "lamp 1, gear 1, optic 1, placement 1, sensor 1, channel 1",
		"2024-02-01": "lamp 2, gear 1, optic 3, placement 1, sensor 2, channel 1",
		"2025-12-01": "lamp 2, gear 2, optic 3, placement 1, sensor 3, channel 2",
	} {
		if got := ChainAt(chain, date(at)); got != want {
			t.Errorf("%s: %s, want %s", at, got, want)
		}
	}
	for i := 1; i < len(chain); i++ {
		if chain[i].From.Before(chain[i-1].From) || chain[i].Why == "" {
			t.Errorf("%+v", chain[i])
		}
	}
}
