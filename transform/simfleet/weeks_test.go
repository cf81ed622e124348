package simfleet

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestWeeks(t *testing.T) {
	var days []Daily
	for d := 0; d < 28; d++ {
		days = append(days, Daily{Day: d, Hours: float64(90 + 12*d), Value: 600 - .1*float64(d), Supply: .01,
			HasSupply: true})
	}
	days[9].Value = 1                          // a spike
	days[15].Value = days[14].Value            // stuck
	days[22].Flagged, days[23].Value = true, 0 // bad, missing
	b := Weeks(days)
	if len(b) != 4 {
		t.Fatalf("%d bins", len(b))
	}
	if b[0].N != 6 || b[1].N != 7 || b[2].N != 5 || b[3].N != 5 {
		t.Errorf("days in bins: %d %d %d %d", b[0].N, b[1].N, b[2].N, b[3].N)
	}
	if math.Abs(math.Exp(b[1].LnOut)-599) > .2 {
		t.Errorf("a spike moved the median to %v", math.Exp(b[1].LnOut))
	}
	if b[1].Day != 10 || !b[1].HasSupply || b[1].Dim != 1 {
		t.Errorf("%+v", b[1])
	}
}

// Streaming: bins of a longer history begin with those of the shorter, up to
// the week before its end.
func TestWeeksOfAPrefix(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(10, 120).Draw(t, "days")
		cut := rapid.IntRange(5, n).Draw(t, "cut")
		var days []Daily
		for d := 0; d < n; d++ {
			if rapid.IntRange(0, 9).Draw(t, "gap") > 0 {
				days = append(days, Daily{Day: 18000 + d, Hours: 200 + 10*float64(d),
					Value: float64(rapid.IntRange(598, 602).Draw(t, "value"))})
			}
		}
		var head []Daily
		for _, d := range days {
			if d.Day < 18000+cut {
				head = append(head, d)
			}
		}
		whole, part := Weeks(days), Weeks(head)
		for k, b := range part {
			if b.Day+3 >= 18000+cut-1 {
				break
			}
			if whole[k] != b {
				t.Fatalf("bin %d: %+v, from the prefix %+v", k, whole[k], b)
			}
		}
	})
}
