package due

import (
	"math"
	"slices"

	"wane/transform/estimate"
	"wane/transform/fleet"
	"wane/transform/forecast"
	"wane/transform/lamp"
	"wane/transform/survey"
	"wane/transform/survey/surveys"
)

// Lab is the fixtures that canopy surveys alone read, fitted together.
type Lab struct {
	Book     *surveys.Book
	in       *forecast.SurveyInput
	fit      *forecast.SurveyFit
	posts    []forecast.Posterior // of the lamps in service
	lives    []*lamp.Life         // in order of in.Lamps
	of       []int                // their places in the fleet
	interval float64
	left     []string // why others are not among them
}

// Kept is how much of its light one surveyed lamp keeps: at the run-hours that all
// compared have reached, and after years of burning on from there.
type Kept struct {
	Life        *lamp.Life
	Model       string
	Now         float64             // its own run-hours
	First, Last survey.Numbers      // of its first survey and of its last
	Levels      []estimate.Estimate // share of the light after seasoning, at Ahead.Hours
	Light       []estimate.Estimate // average on the grid, umol/m2/s, at Ahead.Hours, the rig's drift out
	Points      []forecast.SurveyPoint
	posterior   *forecast.Posterior
}

// Band is the lamp's level with its interval at run-hours, for drawing.
func (k *Kept) Band(hours []float64, interval float64) []forecast.BandPoint {
	return k.posterior.Band(hours, interval)
}

// KeptPair is two of them, the first holding up better at the last age.
type KeptPair struct {
	A, B string
	At   []forecast.Holding // as Ahead.Hours
}

// Ahead is surveyed fixtures side by side over years.
type Ahead struct {
	Interval float64
	Years    []float64  // from now
	Hours    []float64  // equal run-hours of all
	Lamps    []Kept     // that which keeps most after the last of Years first
	Pairs    []KeptPair // in that order
	Left     []string   // why others are not among them
}

// Pair finds two of them, in either order: a over b. ok is false where they were
// not compared.
func (a *Ahead) Pair(first, second string) (p KeptPair, ok bool) {
	for _, p := range a.Pairs {
		if p.A == first && p.B == second || p.A == second && p.B == first {
			return p, true
		}
	}
	return p, false
}

// AheadYears are the years looked at.
var AheadYears = []float64{0, 1, 2, 3}

// SurveyedAhead sets the lamps in service that canopy surveys alone read side by
// side, all or those of the fixtures named.
func SurveyedAhead(lives []*lamp.Life, reg *fleet.Register, rules lamp.Rules, book *surveys.Book, q Question,
	fixtures []string) (out *Ahead, err error) {
	x := asking(lives, reg, rules, book, q)
	l, err := x.surveyed()
	if err != nil || l == nil {
		return &Ahead{Years: AheadYears, Left: x.fleet.Notes}, err
	}
	return l.Ahead(fixtures)
}

// Ahead sets the lamps side by side, all or those of the fixtures named; with
// fewer than two there is nothing to compare and Lamps is empty.
func (l *Lab) Ahead(fixtures []string) (*Ahead, error) {
	out := &Ahead{Interval: l.interval, Years: AheadYears, Left: l.left}
	var chosen []int // index in posts
	perDay, now := 0.0, math.Inf(1)
	for k := range l.posts {
		life := l.lives[l.posts[k].Lamp]
		if !life.InService() || len(fixtures) > 0 && !slices.Contains(fixtures, life.Fixture.ID) {
			continue
		}
		chosen = append(chosen, k)
		now = min(now, l.posts[k].HoursNow)
		perDay += l.posts[k].Burn.PerDay
	}
	if len(chosen) < 2 {
		return out, nil
	}
	perDay /= float64(len(chosen))
	for _, y := range out.Years {
		out.Hours = append(out.Hours, now+y*365.25*perDay)
	}
	end := out.Hours[len(out.Hours)-1]
	at := func(k int) float64 { m, _ := l.posts[k].Output(max(end, forecast.Seasoning)); return m }
	slices.SortStableFunc(chosen, func(a, b int) int { return compareDown(at(a), at(b)) })
	for _, k := range chosen {
		kept, err := l.kept(&l.posts[k], out.Hours)
		if err != nil {
			return nil, err
		}
		out.Lamps = append(out.Lamps, kept)
	}
	for i := range chosen {
		for j := i + 1; j < len(chosen); j++ {
			at, _ := l.fit.Compare(l.posts[chosen[i]].Lamp, l.posts[chosen[j]].Lamp, out.Hours, l.interval)
			out.Pairs = append(out.Pairs, KeptPair{A: out.Lamps[i].Life.Fixture.ID, B: out.Lamps[j].Life.Fixture.ID, At: at})
		}
	}
	return out, nil
}

func compareDown(a, b float64) int {
	switch {
	case a > b:
		return -1
	case a < b:
		return 1
	}
	return 0
}

// kept gathers what is said of one lamp.
func (l *Lab) kept(p *forecast.Posterior, hours []float64) (Kept, error) {
	life := l.lives[p.Lamp]
	k := Kept{Life: life, Model: l.Book.Model(life.Fixture.ID), Now: p.HoursNow, posterior: p,
		Points: l.fit.Points(p.Lamp, l.interval)}
	first, last := l.ends(p.Lamp)
	var err error
	if k.First, err = l.Book.Numbers(first); err != nil {
		return k, err
	}
	if k.Last, err = l.Book.Numbers(last); err != nil {
		return k, err
	}
	for _, b := range p.Band(hours, l.interval) {
		k.Levels = append(k.Levels, estimate.Estimate{Centre: b.Centre, Lo: b.Lo, Hi: b.Hi, Level: l.interval, N: p.Bins,
			Method: forecast.SurveyMethod})
	}
	// the fit speaks of the mean ln of the spots that all surveys read
	mean := k.First.Average.Centre / math.Exp(l.in.Lamps[p.Lamp].Surveys[0].Ln)
	for _, e := range l.fit.Light(p.Lamp, hours, l.interval) {
		k.Light = append(k.Light, e.Scale(mean))
	}
	return k, nil
}

// ends are the first and the last survey of a lamp that count.
func (l *Lab) ends(lamp int) (first, last *surveys.Entry) {
	ss := l.in.Lamps[lamp].Surveys
	return l.Book.Survey(ss[0].Survey), l.Book.Survey(ss[len(ss)-1].Survey)
}

// Points are the surveys of a lamp life as the fit reads them; nil where it is
// not known by surveys alone.
func (l *Lab) Points(life *lamp.Life) []forecast.SurveyPoint {
	if l == nil {
		return nil
	}
	for i, x := range l.lives {
		if x.Fixture.ID == life.Fixture.ID && x.N == life.N {
			return l.fit.Points(i, l.interval)
		}
	}
	return nil
}
