package forecast

import (
	"fmt"
	"math"
	"testing"
)

// published is a published set of degradation paths under held conditions.
type published struct {
	name  string
	noise float64   // of a reading, ln
	cuts  []float64 // hours at which the paths are cut
	units []string
	paths map[string][][2]float64 // hours, ln relative to 0 h
}

func publishedPaths(t *testing.T, name, column string, noise float64, cuts []float64,
	ln func(v float64) float64) published {
	p := published{name: name, noise: noise, cuts: cuts, paths: map[string][][2]float64{}}
	c := readColumns(t, name+".csv")
	for k, u := range c["unit"] {
		unit := fmt.Sprint(u)
		if c["hours"][k] == 0 {
			continue
		}
		if p.paths[unit] == nil {
			p.units, p.paths[unit] = append(p.units, unit), [][2]float64{{0, 0}} // what the others are relative to
		}
		p.paths[unit] = append(p.paths[unit], [2]float64{c["hours"][k], ln(c[column][k])})
	}
	return p
}

// Published degradation paths, cut and scored against what was read later, beside
// a line through each unit's own readings (ln against hours) and a mixed-effects
// fit, the better of lines in the hours and in their square root, by R's nlme
// (testdata/mixed_effects.R). The pooled fit, which is not told of the square root,
// is to be within a tenth of the best of the three.
//
//   - gaas_laser: operating current of 15 lasers to 4,000 h; Meeker & Escobar 1998,
//     Statistical Methods for Reliability Data, Table C.17.
//   - luminosity: light of 25 units at 25 C, read each 336 h to 9,744 h; data set
//     "luminosity" among those that go with the same book.
func TestPublishedPaths(t *testing.T) {
	sets := []published{
		publishedPaths(t, "gaas_laser", "increase_pct", .003, []float64{2000, 3000},
			func(v float64) float64 { return -v / 100 }),
		publishedPaths(t, "luminosity_25c", "luminosity", .02, []float64{2352, 4704}, math.Log),
	}
	mixed := readColumns(t, "mixed_effects.csv")
	for k, s := range sets {
		for _, cut := range s.cuts {
			in := laboratory(s.units, s.paths, cut, s.noise)
			fit, err := Run(&in, Options{})
			if err != nil {
				t.Fatal(err)
			}
			var pooled, own float64
			held, n := 0, 0
			for _, p := range fit.Posteriors() {
				var x, y []float64
				for _, r := range s.paths[p.Fixture] {
					if r[0] > 0 && r[0] <= cut {
						x, y = append(x, r[0]), append(y, r[1])
					}
				}
				line, err := FitLine(x, y)
				if err != nil {
					t.Fatal(err)
				}
				for _, r := range s.paths[p.Fixture] {
					if r[0] <= cut {
						continue
					}
					m, sd := p.Output(r[0] + Seasoning)
					pooled, own = pooled+math.Abs(m-r[1]), own+math.Abs(line.A+line.B*r[0]-r[1])
					if math.Abs(m-r[1]) <= 1.2816*math.Hypot(sd, s.noise) {
						held++
					}
					n++
				}
			}
			pooled, own = pooled/float64(n), own/float64(n)
			lme := math.Inf(1)
			for i, of := range mixed["set"] {
				if int(of) == k && mixed["cut"][i] == cut {
					lme = min(lme, mixed["mean_error"][i])
				}
			}
			t.Logf("%s cut at %.0f h: mean error of ln pooled %.4f, own lines %.4f, mixed effects %.4f; 80 %% intervals hold %d of %d",
				s.name, cut, pooled, own, lme, held, n)
			if pooled > 1.1*min(own, lme) {
				t.Errorf("%s cut at %v h: pooled %.4f, own lines %.4f, mixed effects %.4f", s.name, cut, pooled, own, lme)
			}
			if float64(held) < .76*float64(n) {
				t.Errorf("%s cut at %v h: intervals held %d of %d", s.name, cut, held, n)
			}
		}
	}
}

// laboratory makes an input of test paths read under held conditions, with no
// sensor, dirt or supply to account for: by unit pairs of hours and ln of a quantity
// relative to what was read of it at 0 h, which begins the path, read to noise (ln). Readings
// after cut are left out. Hours are set on by Seasoning, so that the reading at 0 h lies at
// the model's reference. The type's prior is wide: nothing is assumed of its slope but
// that it lies between nil and 60 % in 10,000 h, nor of its bend but that it lies
// between the square root and the square of the hours.
func laboratory(units []string, paths map[string][][2]float64, cut, noise float64) Input {
	d := QuietDefaults()
	d.Sensor.Noise = noise / 1.5 // inflated by two, see updateInflation
	basis := "laboratory paths: wide on purpose"
	d.Classes = map[string]ClassDefaults{"laboratory": {
		Slope: Prior{.25, .20, basis}, SlopeLot: .05, SlopeLamp: .35, Shape: Prior{0, .4, basis}, ShapeLot: .02,
		ShapeLamp: .05,
		Early:     Prior{0, .002, basis}, EarlyLot: .001, EarlyLamp: .002, Tau: 500, Wander: .25, WanderMem: 1500,
		Ambient: Prior{0, 1e-6, basis}, Basis: basis}}
	in := Input{Defaults: d, AsOf: int(cut) + 10}
	for _, u := range units {
		l := Lamp{Fixture: u, Life: 1, Class: "laboratory", Gear: UnknownGear, Lot: "one", Group: len(in.Groups),
			Threshold: math.Exp(-.1),
			Burn:      Burn{PerDay: 1, Days: 365}}
		for _, p := range paths[u] {
			if p[0] > cut {
				break
			}
			// One hour a day: a bin's week lies well before the next.
			l.Bins = append(l.Bins, Bin{Day: int(p[0]), N: 7, Hours: p[0] + Seasoning, LnOut: p[1], Dim: 1})
			l.HoursNow = p[0] + Seasoning
		}
		in.Lamps = append(in.Lamps, l)
		in.Groups = append(in.Groups, Group{ID: u})
	}
	return in
}
