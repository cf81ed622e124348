package derive

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"wane/ingest"
	"wane/ingest/archive"
	"wane/transform/estimate"
	"wane/transform/forecast"
	"wane/transform/survey"
	"wane/transform/survey/surveys"
)

// Kept is how much of its light one surveyed lamp keeps: at the run-hours that all
// compared have reached, and after years of burning on from there.
type Kept struct {
	Life        *Life
	Model       string
	First, Last survey.Numbers      // of its first survey and of its last
	Levels      []estimate.Estimate // at Ahead.Hours
}

// KeptPair is two of them, the first holding up better at the last age.
type KeptPair struct {
	A, B string
	At   []forecast.Holding // as Ahead.Hours
}

// Ahead is surveyed fixtures side by side over years.
type Ahead struct {
	Years []float64 // from now
	Hours []float64 // equal run-hours of all
	Lamps []Kept
	Pairs []KeptPair
	Left  []string // why others are not among them
}

// AheadYears are the years looked at.
var AheadYears = []float64{0, 1, 2, 3}

// SurveyedAhead sets the lamps in service that canopy surveys alone read side by
// side, all or those of the fixtures named.
func SurveyedAhead(ctx context.Context, a *archive.Archive, s Site, asOf int32, fixtures []string, interval float64) (out *Ahead, err error) {
	t, lives, done, err := known(ctx, a, s, Making{AsOf: asOf})
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, done()) }()
	if err := t.join(lives); err != nil {
		return nil, err
	}
	x, err := asking(ctx, a, t, lives, Question{AsOf: asOf, Interval: interval})
	if err != nil {
		return nil, err
	}
	all, err := ingest.Surveys(a)
	if err != nil {
		return nil, err
	}
	book := x.book(all, s)
	in, of := x.surveyInput(book, s)
	fit, err := forecast.FitSurveys(in)
	if err != nil {
		return nil, fmt.Errorf("forecast from surveys: %w", err)
	}
	out = &Ahead{Years: AheadYears, Left: x.fleet.Notes}
	posts := fit.Posteriors()
	var chosen []int // index in posts
	perDay, now := 0.0, math.Inf(1)
	for k := range posts {
		l := x.fleet.Lives[of[posts[k].Lamp]]
		if !l.InService() || len(fixtures) > 0 && !slices.Contains(fixtures, l.Fixture.ID) {
			continue
		}
		chosen = append(chosen, k)
		now = min(now, posts[k].HoursNow)
		perDay += posts[k].Burn.PerDay
	}
	if len(chosen) < 2 {
		return out, nil
	}
	perDay /= float64(len(chosen))
	for _, y := range out.Years {
		out.Hours = append(out.Hours, now+y*365.25*perDay)
	}
	for _, k := range chosen {
		kept, err := keptOf(&posts[k], x.fleet.Lives[of[posts[k].Lamp]], book, out.Hours, x.q.Interval)
		if err != nil {
			return nil, err
		}
		out.Lamps = append(out.Lamps, kept)
	}
	out.pairs(fit, posts, chosen, x.q.Interval)
	return out, nil
}

// keptOf gathers what is said of one lamp.
func keptOf(p *forecast.Posterior, l *Life, book *surveys.Book, hours []float64, interval float64) (Kept, error) {
	k := Kept{Life: l, Model: book.Model(l.Fixture.ID)}
	es := book.Of(l.Fixture.ID)
	var err error
	if k.First, err = book.Numbers(es[0]); err != nil {
		return k, err
	}
	if k.Last, err = book.Numbers(es[len(es)-1]); err != nil {
		return k, err
	}
	for _, b := range p.Band(hours, interval) {
		k.Levels = append(k.Levels, estimate.Estimate{Centre: b.Centre, Lo: b.Lo, Hi: b.Hi, Level: interval, N: p.Blocks, Method: forecast.SurveyMethod})
	}
	return k, nil
}

// pairs compares each two, the one ahead at the last age first.
func (a *Ahead) pairs(fit *forecast.SurveyFit, posts []forecast.Posterior, chosen []int, interval float64) {
	for i := range chosen {
		for j := range i {
			first, second := j, i
			at, _ := fit.Compare(posts[chosen[first]].Lamp, posts[chosen[second]].Lamp, a.Hours, interval)
			if at[len(at)-1].First < .5 {
				first, second = i, j
				at, _ = fit.Compare(posts[chosen[first]].Lamp, posts[chosen[second]].Lamp, a.Hours, interval)
			}
			a.Pairs = append(a.Pairs, KeptPair{A: a.Lamps[first].Life.Fixture.ID, B: a.Lamps[second].Life.Fixture.ID, At: at})
		}
	}
}
