package due

import (
	"math"
	"strings"
	"testing"
	"time"

	"wane/transform/calendar"
	"wane/transform/fleet"
	"wane/transform/forecast"
	"wane/transform/lamp"
	"wane/transform/level"
	"wane/transform/survey/surveys"
)

// A survey is a ratio to the first one; it becomes a level only where the lamp
// was near its baseline then.
func TestSurveyBecomesALevelNearTheBaselineOnly(t *testing.T) {
	rules := lamp.Rules{Location: time.UTC, Baseline: level.DefaultBaseline()}
	life := func(n int, first int32) *lamp.Life {
		l := &lamp.Life{Fixture: &fleet.Fixture{ID: "a"}, FirstDay: first, LastDay: first + 700}
		l.Life.N = n
		for d := int32(0); d <= 700; d++ {
			l.Levels = append(l.Levels, level.Level{Day: first + d, RunHours: 12 * float64(d), Level: .998})
		}
		return l
	}
	refs := []surveys.Reference{{Fixture: "a", Survey: "s", First: calendar.Start(1020, time.UTC),
		At: calendar.Start(1500, time.UTC), Ln: math.Log(.96), SD: .01}}
	for _, c := range []struct {
		what  string
		begun int32
		want  bool
	}{{"240 h at the first survey", 1000, true}, {"1,440 h at the first survey", 900, false}} {
		l := life(1, c.begun)
		f := &Fleet{Lives: []*lamp.Life{l}, Input: forecast.Input{Lamps: []forecast.Lamp{{Group: 0,
			Bins: make([]forecast.Bin, 1)}}, Groups: []forecast.Group{{}}}}
		f.addSurvey(refs[0], rules)
		got := f.Input.Groups[0].References
		if c.want != (len(got) == 1) || c.want == (len(f.Notes) == 1 &&
			strings.Contains(f.Notes[0], "not near its baseline")) {
			t.Errorf("%s: %+v %q", c.what, got, f.Notes)
			continue
		}
		f.Surveys = map[int]float64{}
		if f.addBegun(surveys.Reference{Fixture: "a", First: refs[0].First, SD: .01}, rules); c.want != (f.Surveys[0] > 0) {
			t.Errorf("%s: the next survey is offered with noise %v", c.what, f.Surveys[0])
		}
		if c.want && (got[0].Day != 1500 || got[0].Lamp != 0 || math.Abs(got[0].Ln-math.Log(.96*.998)) > 1e-12 ||
			math.Abs(got[0].SD-math.Hypot(.01, surveyStartSD)) > 1e-12) {
			t.Errorf("%s: %+v", c.what, got[0])
		}
	}
	// a lamp put in between the two surveys is none of theirs
	f := &Fleet{Lives: []*lamp.Life{life(2, 1200)}, Input: forecast.Input{Lamps: []forecast.Lamp{{}},
		Groups: []forecast.Group{{}}}}
	f.addSurvey(refs[0], rules)
	if len(f.Input.Groups[0].References) != 0 {
		t.Error("a survey was tied to a lamp that was not there at the first one")
	}
}

// A survey of a lamp that no logger reads is evidence of its output, so it is no
// reference reading of a gain too.
func TestSurveyOfAnUnloggedLampIsNoReference(t *testing.T) {
	l := &lamp.Life{Fixture: &fleet.Fixture{ID: "a"}, FirstDay: 1000, LastDay: 1700}
	for d := int32(0); d <= 700; d++ {
		l.Levels = append(l.Levels, level.Level{Day: 1000 + d, RunHours: 12 * float64(d), Level: .998})
	}
	r := surveys.Reference{Fixture: "a", Survey: "s", First: calendar.Start(1020, time.UTC),
		At: calendar.Start(1500, time.UTC), Ln: math.Log(.96), SD: .01}
	for bins, want := range []int{0, 1} {
		f := &Fleet{Lives: []*lamp.Life{l}, Input: forecast.Input{Lamps: []forecast.Lamp{{Group: 0,
			Bins: make([]forecast.Bin, bins)}}, Groups: []forecast.Group{{}}}}
		f.addSurvey(r, lamp.Rules{Location: time.UTC, Baseline: level.DefaultBaseline()})
		if got := len(f.Input.Groups[0].References); got != want {
			t.Errorf("%d bins of readings: %d references, want %d", bins, got, want)
		}
	}
}
