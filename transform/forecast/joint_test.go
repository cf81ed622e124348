package forecast

import (
	"math"
	"testing"
)

// solved fits once with the declared spreads, so that two inputs differ by their
// readings alone.
func solved(t *testing.T, in *Input) *Fit {
	t.Helper()
	m := newModel(in, Options{})
	if err := m.solve(false, true); err != nil {
		t.Fatal(err)
	}
	return &Fit{m: m, d: m.d}
}

// TestKnownIsAsFittedAgain takes visits as made, and fits with them made: what is
// left of every number of a posterior that hangs on the covariance is the same.
func TestKnownIsAsFittedAgain(t *testing.T) {
	const ahead = 25000. // h, past what any lamp has burnt
	day := toy().AsOf
	cases := []struct {
		name string
		made func(*Input)
		of   func(*Joint) []Visit
	}{
		{"one recalibration", func(in *Input) {
			in.Groups[2].Recals = append(in.Groups[2].Recals, Recal{Day: day, AsFound: .97})
		}, func(j *Joint) []Visit {
			r, _ := j.Gain(2, 0)
			return []Visit{{Readings: []Reading{r}, Factors: []int{2}}}
		}},
		{"two sensors, one after the other", func(in *Input) {
			in.Groups[0].Recals = append(in.Groups[0].Recals, Recal{Day: day, AsFound: .99})
			in.Groups[3].Recals = append(in.Groups[3].Recals, Recal{Day: day, AsFound: .98})
		}, func(j *Joint) []Visit {
			a, _ := j.Gain(0, 0)
			b, _ := j.Gain(3, 0)
			return []Visit{{Readings: []Reading{a}, Factors: []int{0}}, {Readings: []Reading{b}, Factors: []int{3}}}
		}},
		{"three readings of a reference meter and a level", func(in *Input) {
			for range 3 {
				in.Groups[3].References = append(in.Groups[3].References, Reference{Day: day, Lamp: -1, Ln: -.02})
			}
			in.Groups[2].References = append(in.Groups[2].References, Reference{Day: day, Lamp: 6, Ln: -.04, SD: .02})
		}, func(j *Joint) []Visit {
			a, _ := j.Gain(3, .01)
			b, _ := j.Level(6, .02)
			return []Visit{{Readings: []Reading{a, a, a}, Checked: []int{3, 3, 3}}, {Readings: []Reading{b}, Checked: []int{2}}}
		}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			before := solved(t, toy())
			in := toy()
			c.made(in)
			want := solved(t, in).Posteriors()
			j := before.Joint()
			have := before.Posteriors()
			sights := make([]Sight, len(have))
			for i := range have {
				sights[i], _ = j.Sight(&have[i], ahead)
			}
			k := j.Known(sights)
			visits := c.of(j)
			for _, v := range visits[:len(visits)-1] {
				k = k.With(v)
			}
			foreseen := k.Foresee(visits[len(visits)-1])
			k = k.With(visits[len(visits)-1])
			for i := range want {
				got := k.Posterior(&have[i])
				nearPosterior(t, &got, &want[i])
				_, sd := want[i].Output(ahead)
				x := (ahead - Seasoning) / 1e4
				own := want[i].variance(x, math.Exp(-(ahead-want[i].Last)/(1e4*want[i].Memory)))
				if left := foreseen.Of(i).Var + own; math.Abs(left-sd*sd) > 1e-9 {
					t.Errorf("%s: foreseen variance %v, fitted again %v", want[i].Fixture, left, sd*sd)
				}
				if now, was := k.Now(i), foreseen.Of(i); math.Abs(now.Var-was.Var) > 1e-12 || math.Abs(now.Drift-was.Drift) > 1e-12 {
					t.Errorf("%s: foreseen %v, taken as made %v", want[i].Fixture, was, now)
				}
			}
		})
	}
}

func nearPosterior(t *testing.T, got, want *Posterior) {
	t.Helper()
	near := func(what string, a, b float64) {
		if math.Abs(a-b) > 1e-8*math.Max(1, math.Abs(b)) {
			t.Errorf("%s life %d, %s: %v, fitted again %v", want.Fixture, want.Life, what, a, b)
		}
	}
	for i := range want.Cov {
		near("covariance", got.Cov[i], want.Cov[i])
	}
	for i := range want.DirtPull {
		near("pull of dirt", got.DirtPull[i], want.DirtPull[i])
		near("site's drift", got.SiteShift[i], want.SiteShift[i])
		near("own drift", got.OwnShift[i], want.OwnShift[i])
	}
	for i := range want.Past {
		near("past", got.Past[i].SD, want.Past[i].SD)
		near("past by dirt", got.PastPull[i], want.PastPull[i])
		near("past by own drift", got.PastShift[0][i], want.PastShift[0][i])
		near("past by the site's drift", got.PastShift[1][i], want.PastShift[1][i])
	}
	near("spread of dirt", got.DirtSD, want.DirtSD)
	near("spread of drift", got.SensorDrift[1], want.SensorDrift[1])
	near("spread of the type's slope", got.ClassSlope[1], want.ClassSlope[1])
	if got.Sees != want.Sees {
		t.Errorf("%s: what ties the drift down %+v, fitted again %+v", want.Fixture, got.Sees, want.Sees)
	}
}
