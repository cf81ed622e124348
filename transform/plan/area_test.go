package plan

import "testing"

// A fixture's own area comes before the one that the settings state.
func TestAreaOfSettingsStandsInForTheFixtures(t *testing.T) {
	f := func(x float64) *float64 { return &x }
	s := Settings{Site: Terms{AreaM2: f(2)}, Rooms: map[string]Terms{"R2": {AreaM2: f(3)}}}
	lamps := []Lamp{
		{Fixture: "a", Room: "R1", LampType: "led", BurnPerDay: 10, Threshold: 0.9, PPFD: 500},
		{Fixture: "b", Room: "R2", LampType: "led", BurnPerDay: 10, Threshold: 0.9, PPFD: 500},
		{Fixture: "c", Room: "R2", LampType: "led", BurnPerDay: 10, Threshold: 0.9, PPFD: 500, Area: 1.5},
	}
	for i, k := range cases(Input{Settings: s}, lamps) {
		want := []float64{2, 3, 1.5}[i]
		if k.Area != want || k.v.molHour != 500*want*3600/1e6 {
			t.Errorf("%s: area %g, want %g; %g mol an hour", k.Fixture, k.Area, want, k.v.molHour)
		}
	}
}
