package yearly

import (
	"math"
	"strings"
	"testing"
	"time"
)

func day(y int, m time.Month, d int) int32 {
	return int32(time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Unix() / 86400)
}

// Two rooms over a year: a lamp counts once a month by the median of its weeks, and
// what lies outside the year or is not finite counts nowhere.
func TestLightKeptByRoom(t *testing.T) {
	in := Input{Year: 2025, First: day(2025, 1, 1), Last: day(2025, 12, 31), AsOf: day(2025, 6, 30), Level: .95,
		Interval: .8}
	week := func(d int32, level float64) Week { return Week{Week: (d - 3) / 7, Level: level} }
	for k := range 7 {
		in.Lives = append(in.Lives, Life{Fixture: string(rune('A' + k)), Room: "F1", Weeks: []Week{
			week(day(2024, 12, 1), .2), week(day(2025, 1, 9), .9+.01*float64(k)), week(day(2025, 1, 20), .9+.01*float64(k)),
			week(day(2025, 6, 12), .8+.01*float64(k)), week(day(2025, 9, 1), .1)}})
	}
	in.Lives = append(in.Lives, Life{Fixture: "X", Room: "F2",
		Weeks: []Week{week(day(2025, 3, 12), .97), week(day(2025, 3, 19), math.NaN())}})
	got := in.roomLight()
	if len(got) != 2 || got[0].Room != "F1" || len(got[0].Months) != 2 || got[0].Months[0].First != day(2025, 1, 1) ||
		got[0].Months[0].Lamps != 7 {
		t.Fatalf("%+v", got)
	}
	if m := got[0].Months[1]; math.Abs(float64(m.Median)-.83) > 1e-12 || !(float64(m.Lo) < .83 && float64(m.Hi) > .83) {
		t.Errorf("June in F1: %+v", m)
	}
	if m := got[1].Months[0]; m.Lamps != 1 || float64(m.Median) != .97 || !math.IsNaN(float64(m.Lo)) {
		t.Errorf("one lamp has no interval: %+v", m)
	}
	s := Summary{Year: 2025, RoomLight: got}
	if w := s.Findings(); len(w) != 1 || !strings.Contains(w[0], "room F1 gave 83 % (") ||
		!strings.Contains(w[0], "room F2 97 %") {
		t.Errorf("%q", w)
	}
	if w := (&Summary{}).Findings(); len(w) != 0 {
		t.Errorf("nothing is known, and it is said %q", w)
	}
}
