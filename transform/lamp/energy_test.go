package lamp

import (
	"fmt"
	"testing"
	"time"

	"pgregory.net/rapid"

	"wane/transform/calendar"
	"wane/transform/fleet"
)

// The power on a meter is that of all fixtures it watches on the day, found
// among those it ever watches as among all.
func TestMeteredPower(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		begun := time.Date(2024, 1, 1, 0, 0, 0, 0, time.UTC)
		day := func(name string) time.Time { return begun.AddDate(0, 0, rapid.IntRange(0, 60).Draw(t, name)) }
		reg := &fleet.Register{}
		places := []string{"a", "b", "c"}
		place := func() string { return rapid.SampledFrom(places).Draw(t, "place") }
		for i := range rapid.IntRange(1, 8).Draw(t, "fixtures") {
			reg.Fixtures = append(reg.Fixtures, fleet.Fixture{ID: fmt.Sprint("f", i), Room: "room", Bay: "bay-" + place(),
				Circuit: "circuit-" + place(),
				RatedW:  rapid.SampledFrom([]float64{0, 400, 600, 1000}).Draw(t, "watts"), Installed: begun})
		}
		watched := []string{"f0", "bay-a", "bay-b", "circuit-a", "circuit-c", "room"}
		for i := range rapid.IntRange(0, 6).Draw(t, "meters") {
			p := fleet.SensorPeriod{Sensor: fmt.Sprint("m", i), Channel: "kwh", Quantity: fleet.Energy,
				Watches: rapid.SampledFrom(watched).Draw(t, "watched"), Factor: 1}
			if rapid.Bool().Draw(t, "dated") {
				p.From = day("from")
				p.To = p.From.AddDate(0, 0, 20)
			}
			reg.Sensors = append(reg.Sensors, p)
		}
		for range rapid.IntRange(0, 3).Draw(t, "moves") {
			reg.Logbook = append(reg.Logbook, fleet.Entry{At: day("at"), What: fleet.Move, Scope: fleet.OfFixture,
				ID: reg.Fixtures[rapid.IntRange(0, len(reg.Fixtures)-1).Draw(t, "moved")].ID, Value: "bay-" + place()})
		}
		reg.Sort()
		shared := meteredBy(reg)
		for i := range reg.Fixtures {
			f := &reg.Fixtures[i]
			for d := 0; d < 65; d += 3 {
				on := calendar.DayOf(begun, time.UTC) + int32(d)
				if got, want := shared.power(reg, f, on), plainPower(reg, f, on); got != want {
					t.Fatalf("%s on day %d: %g W, want %g", f.ID, d, got, want)
				}
			}
		}
	})
}

// plainPower asks all fixtures.
func plainPower(reg *fleet.Register, f *fleet.Fixture, day int32) float64 {
	at := calendar.Date(day).Add(36 * time.Hour)
	m := reg.Watch(f, fleet.Energy, at)
	if m == nil {
		return 0
	}
	total := 0.0
	for i := range reg.Fixtures {
		g := &reg.Fixtures[i]
		if reg.Watch(g, fleet.Energy, at) != m {
			continue
		}
		if g.RatedW <= 0 {
			return 0
		}
		total += g.RatedW
	}
	return total
}
