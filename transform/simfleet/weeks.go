package simfleet

import (
	"math"

	"wane/transform/forecast"
	"wane/transform/robust"
)

// Daily is one day of one lamp life, as it goes into bins.
type Daily struct {
	Day        int
	Hours      float64 // run-hours of the lamp life at that day
	Value      float64 // reading with the registered factor, divided by the set point
	Supply     float64 // ln(voltage/reference)
	Ambient    float64 // degrees Celsius
	Dim        float64 // set point, 0 < Dim <= 1; 0 is taken as 1
	HasSupply  bool
	HasAmbient bool
	Flagged    bool // already known to be bad
}

// Weeks makes the weekly bins of one invented lamp life from its daily values, in
// order of day, as queries/weeks.sql does of a real one's. Dropped are: days before Seasoning, flagged, missing or
// non-positive values, and every run of two or more days with the same value
// to the last digit (a stuck logger). A bin is the median of ln(value) with
// the means of the rest; weeks with fewer than two values make none.
//
// A bin depends only on the days of its own week and on the value of the
// day before and after it, so a night's update remakes the last two weeks.
func Weeks(days []Daily) []forecast.Bin {
	if len(days) == 0 {
		return nil
	}
	var out []forecast.Bin
	var ln []float64
	for i := 0; i < len(days); {
		week := forecast.WeekOf(int32(days[i].Day))
		b := forecast.Bin{Day: int(week) + 3, HasSupply: true, HasAmbient: true}
		ln = ln[:0]
		var nv, nt int
		for ; i < len(days) && forecast.WeekOf(int32(days[i].Day)) == week; i++ {
			if !usable(days, i) {
				continue
			}
			d := &days[i]
			ln = append(ln, math.Log(d.Value))
			b.Hours += d.Hours
			dim := d.Dim
			if dim == 0 {
				dim = 1
			}
			b.Dim += dim
			if d.HasSupply {
				b.Supply += d.Supply
				nv++
			}
			if d.HasAmbient {
				b.Ambient += d.Ambient
				nt++
			}
		}
		if len(ln) < forecast.LeastDays {
			continue
		}
		n := float64(len(ln))
		b.N, b.LnOut = len(ln), robust.Sort(ln)
		b.Hours, b.Dim = b.Hours/n, b.Dim/n
		if nv > 0 {
			b.Supply /= float64(nv)
		}
		if nt > 0 {
			b.Ambient /= float64(nt)
		}
		b.HasSupply, b.HasAmbient = nv > 0, nt > 0
		out = append(out, b)
	}
	return out
}

func usable(days []Daily, i int) bool {
	d := &days[i]
	if d.Flagged || d.Hours < forecast.Seasoning || !(d.Value > 0) || math.IsInf(d.Value, 0) {
		return false
	}
	stuck := func(j int) bool {
		return j >= 0 && j < len(days) && days[j].Value == d.Value && (days[j].Day == d.Day+1 || days[j].Day == d.Day-1)
	}
	return !stuck(i-1) && !stuck(i+1)
}
