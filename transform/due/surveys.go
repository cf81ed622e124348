package due

import (
	"fmt"
	"math"

	"wane/transform/calendar"
	"wane/transform/forecast"
	"wane/transform/lamp"
	"wane/transform/survey/surveys"
)

// Choices of this program, no source: how many days to either side of the first
// survey its level is read over, and how well that level is known.
const (
	surveyDays    = 7
	surveyStartSD = 0.003
)

// addSurveys turns canopy surveys into reference readings of their fixtures.
func (f *Fleet) addSurveys(book *surveys.Book, rules lamp.Rules) {
	if book == nil || !rules.SurveysRefer || book.Reference == "" {
		return
	}
	refs, notes := book.References()
	f.Notes = append(f.Notes, notes...)
	for _, r := range refs {
		f.addSurvey(r, rules)
	}
	f.Surveys = map[int]float64{}
	for _, r := range book.Begun() {
		f.addBegun(r, rules)
	}
}

// addBegun notes that a survey would tell a lamp's level: the first one was near the
// baseline of the lamp that hangs there still.
func (f *Fleet) addBegun(r surveys.Reference, rules lamp.Rules) {
	first := calendar.DayOf(r.First, rules.Location)
	for k, l := range f.Lives {
		if l.Fixture.ID != r.Fixture || first < l.FirstDay || first > l.LastDay || f.Input.Lamps[k].Ended {
			continue
		}
		if _, ok := l.LevelNear(first, surveyDays, rules.Baseline.LatestHours); ok {
			f.Surveys[k] = math.Hypot(r.SD, surveyStartSD)
		}
	}
}

// addSurvey ties a survey to its lamp. A survey tells a ratio to the first one;
// it is a level only where the level on that day is known, and that is so near
// the lamp's baseline: later on, the sensor's own drift would come in with it.
func (f *Fleet) addSurvey(r surveys.Reference, rules lamp.Rules) {
	loc := rules.Location
	first, day := calendar.DayOf(r.First, loc), calendar.DayOf(r.At, loc)
	for k, l := range f.Lives {
		if l.Fixture.ID != r.Fixture || first < l.FirstDay || day > l.LastDay || len(f.Input.Lamps[k].Bins) == 0 {
			continue // one that no logger reads is forecast from its surveys alone
		}
		start, ok := l.LevelNear(first, surveyDays, rules.Baseline.LatestHours)
		if !ok {
			f.Notes = append(f.Notes, fmt.Sprintf("survey %s: the first survey of %s under this lamp was not near its "+
				"baseline: not used as a reference", r.Survey, r.Fixture))
			return
		}
		g := &f.Input.Groups[f.Input.Lamps[k].Group]
		g.References = append(g.References, forecast.Reference{
			Day: int(day), Lamp: k, Ln: r.Ln + math.Log(start), SD: math.Hypot(r.SD, surveyStartSD),
		})
		return
	}
}
