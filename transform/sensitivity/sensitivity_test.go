package sensitivity

import (
	"math"
	"math/rand/v2"
	"testing"
)

// bays invents lamps on a few circuits for n days: shared daily voltage and
// temperature, a shared wander of the bay, noise of lamp, voltmeter and
// thermometer, wild days, gaps.
func bays(r *rand.Rand, lamps, n int, supply, ambient float64) [][]Day {
	var out [][]Day
	for range lamps / 6 {
		volts, temps, shared := make([]float64, n), make([]float64, n), make([]float64, n)
		v, t, w := 0.0, 0.0, 0.0
		for d := range n {
			v, t, w = 0.6*v+0.010*r.NormFloat64(), 0.8*t+1.2*r.NormFloat64(), 0.95*w+0.0015*r.NormFloat64()
			volts[d] = v + 0.012*math.Sin(2*math.Pi*float64(d)/7)
			temps[d], shared[d] = 25+t, w
		}
		for range 6 {
			var days []Day
			noise := 0.002 + 0.004*r.Float64()
			for d := range n {
				if r.Float64() < 0.05 {
					continue
				}
				y := supply*volts[d] + ambient*(temps[d]-25) - 0.03*float64(d)/365 + shared[d] + noise*r.NormFloat64()
				if r.Float64() < 0.01 {
					y += 0.1 * r.NormFloat64()
				}
				days = append(days, Day{Day: int32(d), Out: y, Supply: volts[d] + 0.0015*r.NormFloat64(),
					Ambient: temps[d] + 0.1*r.NormFloat64()})
			}
			out = append(out, days)
		}
	}
	return out
}

// Estimated coefficients cover the true ones at their stated level: 90 %
// intervals in 85 to 95 % of fleets.
func TestIntervalsHold(t *testing.T) {
	const fleets = 200
	r := rand.New(rand.NewPCG(41, 1))
	supplyHeld, ambientHeld := 0, 0
	for range fleets {
		supply, ambient := 1+r.Float64(), -0.004*r.Float64()
		c := Estimate(bays(r, 24, 540, supply, ambient), 0.9)
		if c.Supply.Lo <= supply && supply <= c.Supply.Hi {
			supplyHeld++
		}
		if c.Ambient.Lo <= ambient && ambient <= c.Ambient.Hi {
			ambientHeld++
		}
	}
	t.Logf("90 %% intervals held: supply %.1f %%, ambient %.1f %%", 100*float64(supplyHeld)/fleets,
		100*float64(ambientHeld)/fleets)
	for name, held := range map[string]int{"supply": supplyHeld, "ambient": ambientHeld} {
		if held < fleets*84/100 || held > fleets*96/100 {
			t.Errorf("%s: %d of %d", name, held, fleets)
		}
	}
}

func TestWithoutConditionsNothingIsSaid(t *testing.T) {
	nan := math.NaN()
	var days []Day
	for d := range int32(300) {
		days = append(days, Day{Day: d, Out: 0.001 * float64(d%3), Supply: nan, Ambient: nan})
	}
	c := Estimate([][]Day{days}, 0.9)
	if c.Supply.Known() || c.Ambient.Known() || len(c.Supply.Warnings) != 1 {
		t.Fatalf("%+v", c)
	}
	for i := range days {
		days[i].Supply = 5.4 + 0.01*math.Sin(float64(i))
	}
	c = Estimate([][]Day{days}, 0.9)
	if !c.Supply.Known() || c.Ambient.Known() {
		t.Fatalf("supply alone: %+v", c)
	}
	if c = Estimate([][]Day{days[:60]}, 0.9); c.Supply.Known() {
		t.Fatalf("two months are too few fortnights: %+v", c.Supply)
	}
}

func TestAWeakInstrumentIsSaid(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 5))
	var days []Day
	for d := range int32(400) {
		v := 0.0005 * r.NormFloat64() // nothing but noise from day to day
		days = append(days, Day{Day: d, Out: 0.002 * r.NormFloat64(), Supply: v, Ambient: math.NaN()})
	}
	if c := Estimate([][]Day{days}, 0.9); len(c.Supply.Warnings) != 1 {
		t.Fatalf("%+v", c.Supply)
	}
}
