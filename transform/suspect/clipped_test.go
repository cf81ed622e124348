package suspect

import (
	"math"
	"strings"
	"testing"
)

// Light at a head's upper limit is said; light just under it, and that of a coarse sensor,
// is not. (TestFalseAlarms has two hundred sound sensors.)
func TestAHeadAtItsLimitIsSaid(t *testing.T) {
	found, n := 0, 0
	for seed := range uint64(40) {
		v := draw(seed)
		s := v.sensor("a", nil)
		track := s.Channels[0].Track
		usual := 0.0
		for _, x := range track.Value {
			if x < 2000 {
				usual = max(usual, x)
			}
		}
		limit, step := math.Round(10*usual*(1-4*v.noise))/10, 0.1
		if seed%4 == 3 { // coarse and not limited
			limit, step = 1e9, 20
		}
		for i, x := range track.Value {
			track.Value[i] = math.Min(math.Round(x/step)*step, limit)
		}
		said := false
		for _, f := range Find(v.input(s), Defaults()) {
			if f.Kind == Clipped {
				said = said || f.Channel == "CH1"
				if f.Channel != "CH1" || step > 1 || !strings.Contains(f.What, short(limit)) {
					t.Errorf("seed %d: false alarm: %s", seed, f.What)
				}
			}
		}
		if step < 1 {
			n++
			if said {
				found++
			}
		}
	}
	if 10*found < 8*n {
		t.Errorf("%d of %d heads at their limit are said", found, n)
	}
}
