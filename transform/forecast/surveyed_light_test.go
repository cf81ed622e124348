package forecast

import (
	"math"
	"testing"
)

// The light on the grid is the lamp's scale times its level; a survey's point is
// what it read over both, wider than the survey alone; and points hold the truth
// about as often as their interval says.
func TestSurveyedLightAndPoints(t *testing.T) {
	hold, n := 0, 0
	for seed := range uint64(12) {
		l := inventLab(9100 + seed)
		f, err := FitSurveys(&l.in)
		if err != nil {
			t.Fatal(err)
		}
		for k, p := range f.Posteriors() {
			hours := []float64{Seasoning, p.Last / 2, p.Last, p.Last + 5000}
			light := f.Light(p.Lamp, hours, .8)
			for i, b := range p.Band(hours, .8) {
				if got := light[i].Centre / light[0].Centre; math.Abs(got/b.Centre-1) > 2e-3 {
					t.Fatalf("seed %d, lamp %d at %.0f h: the light falls to %.4f, the level to %.4f", seed, k, hours[i], got,
						b.Centre)
				}
				if !(light[i].Lo < light[i].Centre && light[i].Centre < light[i].Hi) {
					t.Fatalf("seed %d, lamp %d: %+v", seed, k, light[i])
				}
			}
			in := &l.in.Lamps[p.Lamp]
			points := f.Points(p.Lamp, .8)
			if len(points) != len(in.Surveys) {
				t.Fatalf("%d points of %d surveys", len(points), len(in.Surveys))
			}
			for i, x := range points {
				if own := math.Exp(2 * normalQuantile(.8) * in.Surveys[i].SD); x.Level.Hi/x.Level.Lo < own {
					t.Errorf("seed %d, lamp %d: a point is surer (%v) than its survey", seed, k, x.Level)
				}
				n++
				if truth := l.out[p.Lamp](x.Hours); x.Level.Lo <= truth && truth <= x.Level.Hi {
					hold++
				}
			}
		}
	}
	share := float64(hold) / float64(n)
	t.Logf("%d points, %.0f %% of 80 %% intervals hold", n, 100*share)
	if share < .75 || share > .97 {
		t.Errorf("of %d points' 80 %% intervals %.0f %% hold", n, 100*share)
	}
	if (&SurveyFit{in: &SurveyInput{}}).Points(0, .8) != nil {
		t.Error("a lamp without surveys has points")
	}
}
