package forecast

import (
	"math"
	"sort"
)

// Daily is one day of one lamp life, as it goes into blocks.
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

// Seasoning is the run-hours before which a discharge lamp's output is not yet
// settled (IES LM-54), and no daily value is used.
const Seasoning = 100

// blockDays is the length of a block; all lamps share the grid.
const blockDays = 7

// minBlock is the fewest daily values that make a block. A median of one is no
// guard against a spike, but it weighs little, and at a site read once a month it
// is all there is; the fit weighs down what lies apart.
const minBlock = 1

// BlocksOf makes the weekly blocks of one lamp life from its daily values, in
// order of day. Dropped are: days before Seasoning, flagged, missing or
// non-positive values, and every run of two or more days with the same value
// to the last digit (a stuck logger). A block is the median of ln(value) with
// the means of the rest; weeks with fewer than two values make none.
//
// A block depends only on the days of its own week and on the value of the
// day before and after it, so a night's update remakes the last two weeks.
func BlocksOf(days []Daily) []Block {
	if len(days) == 0 {
		return nil
	}
	out := make([]Block, 0, floorDiv(days[len(days)-1].Day, blockDays)-floorDiv(days[0].Day, blockDays)+1)
	var ln []float64
	for i := 0; i < len(days); {
		week := floorDiv(days[i].Day, blockDays)
		b := Block{Day: week*blockDays + blockDays/2, HasSupply: true, HasAmbient: true}
		ln = ln[:0]
		var nv, nt int
		for ; i < len(days) && floorDiv(days[i].Day, blockDays) == week; i++ {
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
		if len(ln) < minBlock {
			continue
		}
		n := float64(len(ln))
		b.N, b.LnOut = len(ln), median(ln)
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
	if d.Flagged || d.Hours < Seasoning || !(d.Value > 0) || math.IsInf(d.Value, 0) {
		return false
	}
	stuck := func(j int) bool {
		return j >= 0 && j < len(days) && days[j].Value == d.Value && abs(days[j].Day-d.Day) == 1
	}
	return !stuck(i-1) && !stuck(i+1)
}

// median sorts x and gives its median.
func median(x []float64) float64 {
	sort.Float64s(x)
	n := len(x)
	if n%2 == 1 {
		return x[n/2]
	}
	return (x[n/2-1] + x[n/2]) / 2
}

func floorDiv(a, b int) int {
	q := a / b
	if a%b != 0 && (a < 0) != (b < 0) {
		q--
	}
	return q
}

func abs(x int) int {
	if x < 0 {
		return -x
	}
	return x
}

// WeekOf is the first day of the block that a day falls in.
func WeekOf(day int32) int32 { return int32(floorDiv(int(day), blockDays) * blockDays) }
