package suspect

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// hourly gives the days of a lamp of 600 umol/m2/s read every hour from 05:15 to 18:15, under
// a roof through which the sun brings most at noon of a clear midsummer's day.
func hourly(seed uint64, days int, most, noise, daily float64) []LightDay {
	rng := rand.New(rand.NewPCG(seed, 7))
	var out []LightDay
	for d := range days {
		tilt := 23.44 * math.Pi / 180 * math.Sin(2*math.Pi*float64(d-80)/365)
		cloud, level := .15+.85*rng.Float64(), math.Log(600)+daily*rng.NormFloat64()-.1*float64(d)/600
		var v []float64
		for h := 5.25; h < 19; h++ {
			const lat = 52 * math.Pi / 180
			up := math.Sin(lat)*math.Sin(tilt) + math.Cos(lat)*math.Cos(tilt)*math.Cos((h-12)*math.Pi/12)
			v = append(v, math.Exp(level+noise*rng.NormFloat64())+most*cloud*math.Max(0, up))
		}
		slices.Sort(v)
		mid := v[len(v)/2]
		var off []float64
		for _, x := range v {
			off = append(off, math.Abs(x-mid))
		}
		slices.Sort(off)
		out = append(out, LightDay{int32(d), math.Log(mid), 1.4826 * off[len(off)/2] / mid})
	}
	return out
}

func TestSunlight(t *testing.T) {
	found, together, wrong, wrongly := 0, 0, 0, 0
	for room := range uint64(10) {
		for _, noise := range []float64{.003, .006, .008} {
			var lit, plain Sunlight
			for lamp := range uint64(5) {
				seed := 100*room + lamp
				for _, daily := range []float64{.002, .01, .03} {
					s := SunlightOf(hourly(seed, 400, 0, noise, daily))
					if s.There() {
						wrong++
					}
					plain = plain.With(s)
				}
				s := SunlightOf(hourly(seed, 150, 60, noise, .004))
				if s.There() {
					found++
				}
				lit = lit.With(s)
			}
			if lit.There() {
				together++
			}
			if plain.There() {
				wrongly++
			}
		}
	}
	if wrong > 0 || wrongly > 0 {
		t.Errorf("%d of 450 lamps and %d of 30 rooms without daylight are taken for lit by the sun", wrong, wrongly)
	}
	if found < 120 || together < 30 {
		t.Errorf("a tenth of the light from the sun is found at %d of 150 lamps and in %d of 30 rooms by the end of May",
			found, together)
	}
}

func TestSunlightNeedsDays(t *testing.T) {
	days := hourly(1, 400, 200, .005, .004)
	if SunlightOf(days[:sunPairs]).There() {
		t.Errorf("%d days are taken for proof", sunPairs)
	}
	if !SunlightOf(days[:sunPairs+20]).There() {
		t.Error("a third of the lamp's light from the sun is not found within two months of winter")
	}
	if !SunlightOf(hourly(1, 150, 500, .005, .004)).There() {
		t.Error("a glasshouse's sun is not found")
	}
}
