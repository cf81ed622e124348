package forecast_test

import (
	"strings"
	"testing"

	"wane/transform/forecast"
)

// A supply that falls slowly and that nobody reads looks like ageing: no lamp is under
// by it alone, the range reaches to what the lamps do by themselves, and a voltage logger
// is asked for. Where the voltage is read, it is taken out.
func TestASupplyThatFallsUnreadMakesNoLampUnder(t *testing.T) {
	in := magnetic(t, 41)
	was, plain := dues(t, in)
	status := map[int]forecast.Status{}
	for _, a := range plain.Answers(forecast.Asking{}) {
		status[a.Lamp] = a.Status
	}
	blind := map[int]bool{}
	for i := range in.Lamps {
		l := &in.Lamps[i]
		if l.Gear != forecast.Magnetic || len(l.Bins) == 0 || !l.Bins[0].HasSupply {
			continue
		}
		blind[i] = true
		for k := range l.Bins {
			b := &l.Bins[k]
			b.LnOut -= .06 * float64(b.Day-in.AsOf+1000) / 365
			b.HasSupply, b.Supply = false, 0
		}
	}
	hangs, held := 0, 0
	for _, a := range run(t, in).Answers(forecast.Asking{}) {
		if !blind[a.Lamp] {
			continue
		}
		if a.Status == forecast.StatusUnder && status[a.Lamp] != forecast.StatusUnder {
			t.Errorf("lamp %d is under by the supply alone, due %.0f h without: %s", a.Lamp, was[a.Lamp], a.Reason)
		}
		if !a.Unread {
			continue
		}
		hangs++
		if a.DueHours.Lo <= was[a.Lamp] && was[a.Lamp] <= a.DueHours.Hi {
			held++
		}
		if !strings.Contains(a.Reason, "log the supply voltage of its circuit") {
			t.Errorf("a voltage logger is not asked for: %s", a.Reason)
		}
	}
	if hangs < 5 || 10*held < 8*hangs {
		t.Errorf("of %d that hang on the supply %d ranges hold what the lamps do without", hangs, held)
	}
}
