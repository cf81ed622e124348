package main

import (
	"fmt"
	"math"
	"math/rand/v2"
	"regexp"
	"slices"

	"wane/transform/forecast"
	"wane/transform/simfleet"
)

// worth asks what knowing would be worth: the error at 5,000 h were dirt, gain or the
// rest known, each taken out of the readings or given without error, and what yearly
// readings of some precision come to of it.
func worth() error {
	gain := gainRead(28, .001)
	ways := []way{
		{"as they were", nil},
		{"gain known", []knowing{gain}},
		{"dirt known", []knowing{dirtKnown}},
		{"wander known", []knowing{wanderKnown}},
		{"supply, air, dimming known", []knowing{conditionsKnown}},
		{"gain and dirt known", []knowing{gain, dirtKnown}},
		{"gain and wander known", []knowing{gain, wanderKnown}},
		{"dirt and wander known", []knowing{dirtKnown, wanderKnown}},
		{"gain, dirt, wander known", []knowing{gain, dirtKnown, wanderKnown}},
		{"all but dirt known", []knowing{conditionsKnown, gain, wanderKnown}},
		{"all but gain known", []knowing{conditionsKnown, dirtKnown, wanderKnown}},
		{"all but wander known", []knowing{conditionsKnown, gain, dirtKnown}},
		{"all known", []knowing{conditionsKnown, gain, dirtKnown, wanderKnown}},
		{"read: each gain once a year, 1 %", []knowing{gainRead(365, .01)}},
		{"read: each gain once a year, 0.3 %", []knowing{gainRead(365, .003)}},
		{"read: each gain each quarter, 0.3 %", []knowing{gainRead(91, .003)}},
		{"read: every lamp's level, yearly, 1 %", []knowing{levelsRead(1, 365, .01)}},
		{"read: every lamp's level, yearly, 1 %, dirt known", []knowing{dirtKnown, levelsRead(1, 365, .01)}},
		{"read: one lamp's level of twelve, quarterly, 1 %", []knowing{levelsRead(12, 91, .01)}},
		{"read: one lamp's level of twelve, monthly, 1 %", []knowing{levelsRead(12, 28, .01)}},
		{"read: three lamps' levels of twelve, quarterly, 1 %", []knowing{levelsRead(4, 91, .01)}},
		{"read: three lamps' levels of twelve, monthly, 1 %", []knowing{levelsRead(4, 28, .01)}},
		{"read: every lamp's level, monthly, 1 %", []knowing{levelsRead(1, 28, .01)}},
	}
	chosen, err := regexp.Compile(*named)
	if err != nil {
		return err
	}
	ways = slices.DeleteFunc(ways, func(w way) bool { return w.of != nil && !chosen.MatchString(w.name) })
	tallies := make([]*tally, len(ways))
	for k := range ways {
		tallies[k] = &tally{name: ways[k].name}
	}
	for k := range *fleets {
		s := *seed + uint64(k)
		f := simfleet.New(simfleet.Options{Seed: s, Fixtures: *fixtures, NeverRecalibrated: *never})
		var base map[int]bool
		for n := range ways {
			in := f.Input.Truncate(f.Input.AsOf)
			for _, know := range ways[n].of {
				know(f, &in, rand.New(rand.NewPCG(s, 5)))
			}
			got, err := judge(f, &in, tallies[n], base)
			if err != nil {
				return err
			}
			if n == 0 {
				base = got
			}
		}
	}
	fmt.Printf("%d fleets of %d fixtures, seeds from %d, never recalibrated: %v; asked at %d h\n", *fleets, *fixtures,
		*seed, *never, age)
	for _, t := range tallies {
		t.print()
	}
	return nil
}

// way is one way of knowing more than was known.
type way struct {
	name string
	of   []knowing
}

type knowing func(f *simfleet.Fleet, in *forecast.Input, rng *rand.Rand)

// gainRead reads the gain of every sensor each so many days with so much noise.
func gainRead(every int, sd float64) knowing {
	return func(f *simfleet.Fleet, in *forecast.Input, rng *rand.Rand) {
		first := f.Input.AsOf - len(f.Gain[0]) + 1
		for g := range in.Groups {
			x := &in.Groups[g]
			for day := x.Start + every; day <= in.AsOf; day += every {
				x.References = append(x.References, forecast.Reference{Day: day, Lamp: -1,
					Ln: f.Gain[g][day-first] + sd*rng.NormFloat64(), SD: sd})
			}
		}
	}
}

// levelsRead reads the level of every so many lamps each so many days.
func levelsRead(of, every int, sd float64) knowing {
	return func(f *simfleet.Fleet, in *forecast.Input, rng *rand.Rand) {
		for i := range in.Lamps {
			l := &in.Lamps[i]
			if i%of != 0 || len(l.Bins) == 0 {
				continue
			}
			x := &in.Groups[l.Group]
			for _, b := range l.Bins {
				if (b.Day-l.StartDay)%every >= every-7 {
					level := math.Log(f.Truth[i].At(b.Hours)) - dirtOn(f, i, b.Day) + dirtOn(f, i, l.Bins[0].Day)
					if in.Clean != nil { // there is none
						level = math.Log(f.Truth[i].At(b.Hours))
					}
					x.References = append(x.References, forecast.Reference{Day: b.Day, Lamp: i, SD: sd,
						Ln: level + sd*rng.NormFloat64()})
				}
			}
		}
	}
}

// dirtKnown takes the dirt out of the readings and declares the rooms clean.
func dirtKnown(f *simfleet.Fleet, in *forecast.Input, _ *rand.Rand) {
	rooms := map[string]bool{}
	for i := range in.Lamps {
		l := &in.Lamps[i]
		bins := append([]forecast.Bin(nil), l.Bins...)
		for k := range bins {
			bins[k].LnOut += dirtOn(f, i, bins[k].Day)
		}
		l.Bins, l.Cleanings = bins, nil
		if !rooms[l.Room] {
			rooms[l.Room] = true
			in.Clean = append(in.Clean, l.Room)
		}
	}
}

func dirtOn(f *simfleet.Fleet, lamp, day int) float64 {
	d := f.Truth[lamp].Dirt
	return d[min(max(day-f.Input.Lamps[lamp].Hung, 0), len(d)-1)]
}

// wanderKnown takes the wander out of the readings.
func wanderKnown(f *simfleet.Fleet, in *forecast.Input, _ *rand.Rand) {
	first := f.Input.AsOf - len(f.Gain[0]) + 1
	for i := range in.Lamps {
		l := &in.Lamps[i]
		l.Bins = append([]forecast.Bin(nil), l.Bins...)
		for k := range l.Bins {
			l.Bins[k].LnOut -= f.Wander[f.Input.Lamps[i].Group][l.Bins[k].Day-first]
		}
	}
}

// conditionsKnown takes out supply, air and dimming: what the readings differ by from
// those of the fleet with all known, but for gain, dirt and wander. It goes before them.
func conditionsKnown(f *simfleet.Fleet, in *forecast.Input, _ *rand.Rand) {
	first := f.Input.AsOf - len(f.Gain[0]) + 1
	for i := range in.Lamps {
		l := &in.Lamps[i]
		clear := map[int]float64{}
		for _, b := range f.Known.Lamps[i].Bins {
			clear[b.Day] = b.LnOut
		}
		g := f.Input.Lamps[i].Group
		var bins []forecast.Bin
		for _, b := range l.Bins {
			y, ok := clear[b.Day]
			if !ok {
				continue
			}
			b.LnOut = y + f.Gain[g][b.Day-first] + f.Wander[g][b.Day-first] - dirtOn(f, i, b.Day)
			b.HasSupply, b.HasAmbient, b.Supply, b.Ambient, b.Dim = true, true, 0, 25, 1
			bins = append(bins, b)
		}
		l.Bins = bins
	}
}
