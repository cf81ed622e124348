package plan

import (
	"fmt"
	"math"
)

// DayEdges is one lamp's day on its current or light series.
type DayEdges struct {
	On, Off   int     // times it came on and went out
	Scheduled int     // times the programme switched it on; 0 counts as 1
	HoursOn   float64 // burned
	HoursDue  float64 // that the programme asked for
}

// Restrike is how long a lamp type needs to come back after it went out hot.
type Restrike struct{ RunUpMin, HotMin float64 }

// RestrikeOf gives run-up and hot re-strike times, minutes, at the long end of
// the published ranges: metal halide 2-3 and 10-20, high-pressure sodium 3-5
// and about 1 (van Bommel 2015, section 10.2). Ceramic metal halide is taken
// as metal halide. ok is false for lamps that do not cycle so.
func RestrikeOf(lampType string) (r Restrike, ok bool) {
	switch lampType {
	case "hps-de", "hps-se":
		return Restrike{5, 1}, true
	case "cmh", "mh":
		return Restrike{3, 20}, true
	}
	return Restrike{}, false
}

// CyclingVerdict is what the on and off edges of some days say.
type CyclingVerdict struct {
	Cycling bool
	Days    int // days on which the lamp came on more often than it was switched
	Of      int // days looked at
	Extra   int // restarts beyond the programme's
	Why     string
}

// cyclingDays is the number of days, among the last cyclingOf, that make a verdict: one day
// may be a dip of the supply. A judgement of this program, without a source.
const (
	cyclingDays = 3
	cyclingOf   = 14
)

// Cycling judges the days given, oldest first; the last fourteen count. A
// discharge lamp at the end of its life draws more voltage than its ballast can
// give, goes out, cools, re-strikes and runs up, over and over: it comes on
// more often than it is switched, and each time loses at least its hot
// re-strike and run-up time. Restarts that cost less time than that are put
// down to the meter. supplyDips are days, by index, on which other lamps of the
// circuit restarted too; they do not count.
func Cycling(lampType string, days []DayEdges, supplyDips map[int]bool) CyclingVerdict {
	r, ok := RestrikeOf(lampType)
	if !ok {
		return CyclingVerdict{Why: "lamps of type " + lampType + " do not cycle at the end of life"}
	}
	from := max(0, len(days)-cyclingOf)
	v := CyclingVerdict{Of: len(days) - from}
	for i := from; i < len(days); i++ {
		d := days[i]
		extra := d.On - max(1, d.Scheduled)
		if extra <= 0 || supplyDips[i] {
			continue
		}
		// A quarter of the least time is left for coarse sampling.
		if need := 0.75 * float64(extra) * r.HotMin / 60; d.HoursDue > 0 && d.HoursDue-d.HoursOn < need {
			continue
		}
		v.Days++
		v.Extra += extra
	}
	v.Cycling = v.Days >= cyclingDays
	switch {
	case v.Of < cyclingDays:
		v.Why = fmt.Sprintf("%d days are too few: at least %d are needed", v.Of, cyclingDays)
	case v.Cycling:
		v.Why = fmt.Sprintf("came on %d times more than it was switched, on %d of %d days; each re-strike takes it %.0f "+
			"minutes and more", v.Extra, v.Days, v.Of, math.Ceil(r.HotMin))
	default:
		v.Why = fmt.Sprintf("restarts beyond the programme on %d of %d days; %d would make a verdict",
			v.Days, v.Of, cyclingDays)
	}
	return v
}
