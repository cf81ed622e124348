package forecast_test

import (
	"math"
	"slices"
	"sort"
	"testing"

	"wane/transform/forecast"
	"wane/transform/simfleet"
)

// stepped lowers the readings of some lamps from a day on, each by its own size.
func stepped(in *forecast.Input, day int, size func(i int) float64) {
	for i := range in.Lamps {
		for k := range in.Lamps[i].Bins {
			if b := &in.Lamps[i].Bins[k]; b.Day > day {
				b.LnOut -= size(i)
			}
		}
	}
}

// A lamp whose readings were missing when all under its sensor stepped is not seen to
// step with them. It may have done so all the same, and is no weaker for it.
func TestOneLampLeftOutOfASharedStepDoesNotDecide(t *testing.T) {
	in := steady()
	group, day, one, n := in.Lamps[0].Group, in.AsOf-265, -1, 0
	for i := range in.Lamps {
		l := &in.Lamps[i]
		if l.Group == group {
			if n++; n > 5 {
				l.Bins = nil
			}
		}
		if l.Group == group && one < 0 && len(l.Bins) > 100 {
			one = i
			l.Bins = slices.DeleteFunc(slices.Clone(l.Bins), func(b forecast.Bin) bool { return b.Day > day-80 && b.Day < day+80 })
		}
	}
	in.Groups[group].Recals = append(slices.Clone(in.Groups[group].Recals), // it is not the sensor that stepped
		forecast.Recal{Day: in.AsOf - 130, AsFound: .99})
	stepped(in, in.AsOf-130, func(i int) float64 {
		if in.Lamps[i].Group == group {
			return -.01
		}
		return 0
	})
	was, _ := dues(t, in)
	stepped(in, day, func(i int) float64 {
		if in.Lamps[i].Group == group {
			return .06
		}
		return 0
	})
	is, fit := dues(t, in)
	seen := 0
	for _, s := range fit.Found().Steps {
		for _, i := range s.Lamps {
			if i == one {
				t.Errorf("lamp %d is seen to step: the test tests nothing", i)
			}
			seen++
		}
	}
	if seen < 4 {
		t.Fatalf("%d lamps are seen to step", seen)
	}
	if d := apart(was, is, func(i int) bool { return i == one }); !(d < .12) {
		t.Errorf("its own due hours changed by %.1f %%", 100*d)
	}
}

// magnetic is a small site of lamps in mid-life on magnetic gear whose supply is read.
func magnetic(t *testing.T, seed uint64) *forecast.Input {
	t.Helper()
	for ; ; seed++ {
		f := simfleet.New(simfleet.Options{Seed: seed, Fixtures: 24, Days: 1000, AllNew: true})
		n := 0
		for i := range f.Input.Lamps {
			l := &f.Input.Lamps[i]
			if l.Gear == forecast.Magnetic && len(l.Bins) > 0 && l.Bins[0].HasSupply && l.HoursNow > 6000 {
				n++
			} else {
				l.Bins = nil
			}
		}
		if n > 6 {
			return &f.Input
		}
	}
}

// A voltage logger that reads 5 % more from a day on, while no lamp gets brighter, was
// replaced or set otherwise: that is asked, and the lamps are no weaker for it.
func TestAVoltageThatStepsAloneIsNoAgeing(t *testing.T) {
	in := magnetic(t, 31)
	was, _ := dues(t, in)
	day := in.AsOf - 300
	on := func(i int) bool {
		l := &in.Lamps[i]
		return l.Gear == forecast.Magnetic && len(l.Bins) > 0 && l.Bins[0].HasSupply
	}
	for i := range in.Lamps {
		for k := range in.Lamps[i].Bins {
			if b := &in.Lamps[i].Bins[k]; b.Day > day && b.HasSupply {
				b.Supply += .05
			}
		}
	}
	is, fit := dues(t, in)
	if d := apart(was, is, on); !(d < .10) {
		t.Errorf("the due hours changed by %.1f %%", 100*d)
	}
	asked := false
	for _, s := range fit.Found().Steps {
		asked = asked || s.Before <= day+10 && s.After >= day-10 && s.Size < 0 && math.Abs(s.Size) > .01
	}
	if !asked {
		t.Errorf("not asked about: %+v", fit.Found().Steps)
	}
}

// A step of the whole site that nobody logged is no ageing of the lamps under those
// sensors at which something logged hides it either.
func TestAStepOfTheWholeSiteIsNoAgeing(t *testing.T) {
	for _, size := range []float64{-.05, .05} {
		var moved []float64
		for _, seed := range []uint64{31, 32, 34, 36} {
			fleet := func(size float64) *forecast.Input {
				in := simfleet.New(simfleet.Options{Seed: seed, Fixtures: 40, Days: 800, AllNew: true}).Input
				for i := range in.Lamps {
					for k := range in.Lamps[i].Bins {
						if b := &in.Lamps[i].Bins[k]; b.Day >= in.AsOf-300 {
							b.LnOut += size
						}
					}
				}
				return &in
			}
			was, _ := dues(t, fleet(0))
			is, _ := dues(t, fleet(size))
			for i, x := range was {
				if x < 25000 && is[i] > 0 {
					moved = append(moved, math.Log(is[i]/x))
				}
			}
		}
		sort.Float64s(moved)
		n := len(moved)
		if lo, hi := moved[n/8], moved[n-1-n/8]; n < 100 || lo < -.20 || hi > .25 {
			t.Errorf("a step of %.2f: the due hours of three lamps in four of %d change by %.2f to %.2f", size, n, lo, hi)
		}
	}
}
